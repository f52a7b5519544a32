"""The inks of the charts, and how Altair's charts become bare marks."""

from typing import Any

import altair as alt

INK, DATA, CLOSER = "#1d1d1f", "#17495a", "#a8741a"
SOFT, FAINT, TINT = "#6b6f73", "#e3e6e8", "#dbe5e8"


def bare(chart: Any, **values: float | list[float]) -> Any:
    """A chart without axes, title and margin; `values` are the parameters each drawing sets."""
    params = [alt.param(name=name, value=value) for name, value in values.items()]
    return (
        chart.add_params(*params)
        .properties(width=100, height=100)
        .configure(
            background="transparent", padding=0, aria=False,
            autosize=alt.AutoSizeParams(type="none"),
        )
        .configure_view(stroke=None)
    )  # fmt: skip


def strokes(table: str, x: alt.X, y: alt.Y, **look: Any) -> alt.Chart:
    """All straight strokes of a table (see `drawing.stroke_rows`) as one line with gaps.

    A page takes as long as its pictures have elements; a bar each would be hundreds.
    """
    marks = alt.Chart(alt.NamedData(table)).mark_line(**look)
    return marks.encode(x=x, y=y, order="n:Q")


def circles(table: str, x: alt.X, y: alt.Y, size: float) -> alt.LayerChart | alt.FacetChart:
    """Open circles at the points of a table: round ends of strokes without length."""
    return alt.layer(
        strokes(table, x, y, strokeCap="round", color=SOFT, strokeWidth=size),
        strokes(table, x, y, strokeCap="round", color="white", strokeWidth=size - 2),
    )
