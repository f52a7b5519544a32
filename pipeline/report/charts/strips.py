"""The squad on one page: a strip for each measure with everybody as a dot."""

from collections.abc import Sequence
from itertools import groupby

from pipeline.report.charts import drawing, places
from pipeline.report.charts.lined import PACK, PLOT_WIDTH, Block, Picture, in_blocks
from pipeline.report.charts.lines import middles
from pipeline.report.charts.rows import StripRow
from pipeline.report.text.phrases import say

REACH = 2.5  # review lines on each side; who is further out stands at the edge
EDGE = 4.0  # room for a mark there


def strip_blocks(rows: Sequence[StripRow]) -> list[Block]:
    """Strips of tests stand together, and so do those of sizes, where no side is ahead."""
    return [
        block
        for _, part in groupby(rows, lambda row: row.is_size)
        for block in in_blocks(list(part), PACK, _picture)
    ]


def _x(value: float) -> float:
    share = max(-1.0, min(1.0, value / REACH))
    return round(PLOT_WIDTH / 2 + share * (PLOT_WIDTH / 2 - EDGE), 2)


def _picture(rows: Sequence[StripRow], heights: Sequence[float]) -> Picture:
    height = round(sum(heights), 2)
    placed = list(zip(rows, middles(heights), strict=True))
    half = 0.36 * PACK.row
    svg = places.svg(
        (PLOT_WIDTH, height),
        band=0.64 * PACK.row,
        bands=drawing.stroke_rows(
            (_x(row.lead - row.error), y, _x(row.lead + row.error), y) for row, y in placed
        ),
        even=drawing.stroke_rows([(_x(0), 0, _x(0), height)]),
        lines=drawing.stroke_rows(
            (_x(row.lead + side), y - half, _x(row.lead + side), y + half)
            for row, y in placed
            for side in (-1, 1)
        ),
        rings=drawing.circle_rows((_x(value), y) for row, y in placed for value in row.others),
        diamonds=[{"x": _x(value), "y": y} for row, y in placed for value in row.listed],
    )
    is_size = rows[0].is_size
    told = map(_told, rows)
    return Picture(
        svg=svg,
        ticks=(),
        described=say("strips.described", lines="; ".join(told)),
        left=say("chart.left_larger" if is_size else "chart.left_end"),
        middle=say("chart.middle"),
        right=say("chart.right_larger" if is_size else "chart.right_end"),
    )


def _told(row: StripRow) -> str:
    count = len(row.others) + len(row.listed)
    if not row.listed:
        return say("strips.row_nobody", label=row.label, count=count)
    return say("strips.row", label=row.label, count=count, said=row.sentence)
