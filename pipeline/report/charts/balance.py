"""Balance lines: a row for each test or athlete, rows of one unit under a common axis."""

from collections.abc import Sequence
from functools import partial
from itertools import groupby
from typing import Any

import altair as alt

from pipeline.report.charts import drawing
from pipeline.report.charts.lined import PLOT_WIDTH, REPORT, Block, Picture, Spacing, in_blocks
from pipeline.report.charts.lines import middles
from pipeline.report.charts.look import CLOSER, DATA, FAINT, INK, bare, circles, strokes
from pipeline.report.charts.rows import BalanceRow
from pipeline.report.text import words
from pipeline.report.text.axis_labels import balance_labels
from pipeline.report.text.phrases import say


def balance_blocks(rows: Sequence[BalanceRow], spacing: Spacing = REPORT) -> list[Block]:
    """The blocks of a chart, none higher than fits on a page; rows of one unit stand together."""
    made = []
    for _, part in groupby(rows, lambda row: row.unit):
        alike = list(part)
        made += in_blocks(alike, spacing, partial(_picture, _reach(alike), spacing))
    return made


def _picture(
    reach: float, spacing: Spacing, rows: Sequence[BalanceRow], heights: Sequence[float]
) -> Picture:
    labels = balance_labels(reach, rows[0].unit)
    tables = _tables(rows, heights, spacing) | {"ticks": [{"x": tick} for tick in labels if tick]}
    is_size = all(row.is_size for row in rows)  # larger and smaller, not ahead and behind
    size = (PLOT_WIDTH, round(sum(heights), 2))
    return Picture(
        svg=drawing.drawn(balance, size, tables, reach=reach, row=spacing.row),
        ticks=tuple(
            (round(PLOT_WIDTH / 2 * (1 + tick / reach), 1), text) for tick, text in labels.items()
        ),
        described=_described(rows),
        left=say("chart.left_larger" if is_size else "chart.left_end"),
        middle=say("chart.middle"),
        right=say("chart.right_larger" if is_size else "chart.right_end"),
    )


def balance() -> Any:
    """The chart: `x` is a difference, positive where the right side is ahead; `y` a place."""
    scale = alt.Scale(domain=alt.ExprRef("[-reach,reach]"), nice=False, clamp=True)
    x = alt.X("x:Q", scale=scale, axis=None)
    y = alt.Y("y:Q", scale=None, axis=None)

    def uprights(table: str, **look: Any) -> alt.Chart:
        return alt.Chart(alt.NamedData(table)).mark_rule(**look).encode(x=x)

    marks = alt.layer(
        strokes("bands", x, y, color=FAINT, strokeWidth=alt.ExprRef("0.64 * row")),
        uprights("ticks", color=FAINT),
        uprights("even", color=INK, strokeWidth=1.1),
        strokes("lines", x, y, color=CLOSER, strokeWidth=1.3),
        strokes("intervals", x, y, color=DATA, strokeWidth=4.5, strokeCap="round"),
        circles("days", x, y, size=6.6),
        alt.Chart(alt.NamedData("estimates"))
        .mark_point(shape="diamond", filled=True, size=95, color=DATA, opacity=1)
        .encode(x=x, y=y),
    )
    return bare(marks, reach=1.0, row=25.0)


def _tables(
    rows: Sequence[BalanceRow], heights: Sequence[float], spacing: Spacing
) -> dict[str, drawing.Rows]:
    placed = list(zip(rows, middles(heights), strict=True))
    half = 0.34 * spacing.row
    return {
        "bands": drawing.stroke_rows(
            (row.lead - row.error, y, row.lead + row.error, y) for row, y in placed
        ),
        "even": [{"x": 0.0}],
        "lines": drawing.stroke_rows(
            (row.lead + sign * row.line, y - half, row.lead + sign * row.line, y + half)
            for row, y in placed
            for sign in (-1, 1)
            if row.line is not None
        ),
        "intervals": drawing.stroke_rows((row.low, y, row.high, y) for row, y in placed),
        "days": drawing.circle_rows((day, y) for row, y in placed for day in row.days),
        "estimates": [{"x": row.estimate, "y": y} for row, y in placed],
    }


def _reach(rows: Sequence[BalanceRow]) -> float:
    """Half the width of the axis: room for every bar, band, line and test day."""
    wanted = [abs(v) for row in rows for v in (row.low, row.high, *row.days)]
    wanted += [abs(row.lead) + (row.line or 0.0) for row in rows]
    wanted += [abs(row.lead) + row.error for row in rows]
    return 1.06 * max([*wanted, 1e-9])


def _described(rows: Sequence[BalanceRow]) -> str:
    lines = (
        say(
            "balance.row",
            label=row.label,
            estimate=_pointed(row.estimate, row.unit),
            low=_pointed(row.low, row.unit),
            high=_pointed(row.high, row.unit),
        )
        for row in rows
    )
    return say("balance.described", lines="; ".join(lines))


def _pointed(value: float, unit: str) -> str:
    """Which side and by how much, as the words beside the marks say it."""
    if words.is_zero(value, unit):
        return say("chart.middle")
    amount = words.amount(abs(value), unit)
    return say("chart.right" if value > 0 else "chart.left", amount=amount)
