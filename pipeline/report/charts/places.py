"""Marks at places: one chart for every picture whose plots have axes of their own.

What makes such a picture works out where each mark is, in pixels; the chart says how marks look.
Left is filled and drawn through, right is open and dashed, in one ink.
"""

from collections.abc import Iterable
from typing import Any

import altair as alt

from pipeline.report.charts import drawing
from pipeline.report.charts.look import CLOSER, DATA, FAINT, INK, bare, circles, strokes

BAR = 9.0  # how high a filled bar is; an open one is a box as high
TABLES = (
    "bands", "ticks", "even", "lines", "bars", "boxes", "intervals", "left", "right", "rings",
    "dots", "diamonds",
)  # fmt: skip


def places() -> Any:
    """The chart: its tables hold places, in pixels of CSS from the top left."""
    inside = alt.Scale(domain=alt.ExprRef("[0,width]"), nice=False)  # without one no line has gaps
    x, y = alt.X("x:Q", scale=inside, axis=None), alt.Y("y:Q", scale=None, axis=None)
    marks = alt.layer(
        strokes("bands", x, y, color=FAINT, strokeWidth=alt.ExprRef("band")),
        strokes("ticks", x, y, color=FAINT, strokeWidth=1),
        strokes("even", x, y, color=INK, strokeWidth=1.1),
        strokes("lines", x, y, color=CLOSER, strokeWidth=1.3),
        strokes("bars", x, y, color=DATA, strokeWidth=BAR),
        strokes("boxes", x, y, color=DATA, strokeWidth=1.2),
        strokes("intervals", x, y, color=DATA, strokeWidth=3.2, strokeCap="round"),
        strokes("left", x, y, color=DATA, strokeWidth=1.6),
        strokes("right", x, y, color=DATA, strokeWidth=1.4, strokeDash=[4, 2.5]),
        circles("rings", x, y, size=6.0),
        strokes("dots", x, y, strokeCap="round", color=DATA, strokeWidth=6.0),
        alt.Chart(alt.NamedData("diamonds"))
        .mark_point(shape="diamond", filled=True, size=75, color=DATA, opacity=1)
        .encode(x=x, y=y),
    )
    return bare(marks, band=10.0)


def svg(size: tuple[float, float], band: float, **tables: drawing.Rows) -> str:
    """SVG of such a picture; a table that is not given is empty."""
    return drawing.drawn(places, size, {name: tables.get(name, []) for name in TABLES}, band=band)


def boxes(sizes: Iterable[drawing.Stroke]) -> drawing.Rows:
    """The outline of each box from its left, top, right and lower edge."""
    rows: drawing.Rows = []
    for x, y, x2, y2 in sizes:
        ends: list[tuple[float | None, float | None]] = [
            (x, y), (x2, y), (x2, y2), (x, y2), (x, y), (None, None),
        ]  # fmt: skip
        rows += [{"x": a, "y": b, "n": len(rows) + n} for n, (a, b) in enumerate(ends)]
    return rows


def path(points: Iterable[tuple[float, float]]) -> drawing.Rows:
    """One line through all points."""
    return [{"x": x, "y": y, "n": n} for n, (x, y) in enumerate(points)]
