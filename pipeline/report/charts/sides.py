"""Two amounts as bars from the middle: the left filled, the right open."""

from collections.abc import Sequence
from functools import partial

from pipeline.report.charts import drawing, places
from pipeline.report.charts.lined import PACK, PLOT_WIDTH, Block, Picture, in_blocks
from pipeline.report.charts.lines import middles
from pipeline.report.charts.places import BAR
from pipeline.report.charts.rows import SidesRow
from pipeline.report.text.phrases import say

GAP = 1.0  # between the middle and a bar


def work_blocks(rows: Sequence[SidesRow]) -> list[Block]:
    """What each side did, an athlete and part of the body a row."""
    return _bars(rows, (say("sides.end.left"), say("sides.end.right")))


def month_blocks(rows: Sequence[SidesRow]) -> list[Block]:
    """What left a list and what came onto it, a month a row."""
    return _bars(rows, (say("sides.end.closed"), say("sides.end.opened")))


def _bars(rows: Sequence[SidesRow], ends: tuple[str, str]) -> list[Block]:
    most = max((amount for row in rows for amount in (row.left, row.right)), default=0.0)
    return in_blocks(rows, PACK, partial(_picture, max(most, 1e-9), ends))


def _picture(
    most: float, ends: tuple[str, str], rows: Sequence[SidesRow], heights: Sequence[float]
) -> Picture:
    height = round(sum(heights), 2)
    placed = list(zip(rows, middles(heights), strict=True))
    middle = PLOT_WIDTH / 2
    room = middle - GAP - 2.0

    def length(amount: float) -> float:
        return round(room * amount / most, 2)

    svg = places.svg(
        (PLOT_WIDTH, height),
        band=1.0,
        bars=drawing.stroke_rows(
            (middle - GAP - length(row.left), y, middle - GAP, y) for row, y in placed if row.left
        ),
        boxes=places.boxes(
            (middle + GAP, y - BAR / 2 + 0.6, middle + GAP + length(row.right), y + BAR / 2 - 0.6)
            for row, y in placed
            if row.right
        ),
        even=drawing.stroke_rows([(middle, 0, middle, height)]),
    )
    told = "; ".join(say("sides.row", label=row.label, said=row.sentence) for row in rows)
    return Picture(svg, (), say("sides.described", lines=told), ends[0], "", ends[1])
