"""Values between 0 and 1 as dots with their intervals."""

from collections.abc import Sequence

from pipeline.report.charts import drawing, places
from pipeline.report.charts.lined import PACK, PLOT_WIDTH, Block, Picture, in_blocks
from pipeline.report.charts.lines import middles
from pipeline.report.charts.rows import DotRow
from pipeline.report.text import words
from pipeline.report.text.phrases import say

EDGE = 6.0
TICKS = (0.0, 0.5, 1.0)


def dot_blocks(rows: Sequence[DotRow]) -> list[Block]:
    """A row for each value; what lies below 0 stands at the left edge."""
    return in_blocks(rows, PACK, _picture)


def _x(value: float) -> float:
    return round(EDGE + max(0.0, min(1.0, value)) * (PLOT_WIDTH - 2 * EDGE), 2)


def _figure(value: float) -> str:
    return words.figure(value, "ratio")


def _picture(rows: Sequence[DotRow], heights: Sequence[float]) -> Picture:
    height = round(sum(heights), 2)
    placed = [
        (row, row.value, y)
        for row, y in zip(rows, middles(heights), strict=True)
        if row.value is not None
    ]
    svg = places.svg(
        (PLOT_WIDTH, height),
        band=1.0,
        ticks=drawing.stroke_rows((_x(tick), 0, _x(tick), height) for tick in TICKS),
        intervals=drawing.stroke_rows((_x(row.low), y, _x(row.high), y) for row, _, y in placed),
        diamonds=[{"x": _x(value), "y": y} for _, value, y in placed],
    )
    told = "; ".join(
        say("dots.row", label=row.label, value=_figure(value), low=_figure(row.low),
            high=_figure(row.high))
        for row, value, _ in placed
    )  # fmt: skip
    return Picture(
        svg=svg,
        ticks=tuple((_x(tick), words.marked(f"{tick:g}")) for tick in TICKS),
        described=say("dots.described", lines=told),
        left=say("dots.low"),
        middle="",
        right=say("dots.high"),
    )
