"""Trends: the difference of one measure along time, with the marks of the balance line."""

from dataclasses import dataclass
from typing import Any

import altair as alt

from pipeline.report.charts import drawing
from pipeline.report.charts.axes import day_labels, trend_labels
from pipeline.report.charts.look import CLOSER, DATA, FAINT, INK, TINT, bare, circles
from pipeline.report.charts.rows import Trend

WIDTH, HEIGHT = 244.0, 84.0
NEAR_EDGE = 3.0  # room for a circle at the first and the last day


@dataclass(frozen=True)
class Panel:
    """One trend: its picture, and what stands at its axes."""

    title: str
    svg: str
    described: str
    ticks: tuple[tuple[float, str], ...]  # pixels from the top, and which side by how much
    days: tuple[str, ...]  # the first, one between where there is room, the last


def trend_panel(trend: Trend) -> Panel:
    """One trend drawn."""
    ends = [v for p in trend.points for v in (p.measured, p.low, p.high)]
    line = trend.line or 0.0
    reach = 1.08 * max([*map(abs, ends), 1.05 * line, 1e-9])
    # The empty half is cut short, but never so far that zero and the other side disappear.
    bottom = -reach if min(ends) < -0.15 * reach else -0.3 * reach
    top = reach if max(ends) > 0.15 * reach or bottom > -reach else 0.3 * reach
    first, last = trend.points[0].on, trend.points[-1].on
    labels = trend_labels(reach, trend.unit)
    ticks = {tick: text for tick, text in labels.items() if bottom <= tick <= top}
    # Days as numbers: the drawing library would show dates in the time zone of the machine.
    placed = [(float(point.on.toordinal()), point) for point in trend.points]
    svg = drawing.drawn(
        trends,
        (WIDTH, HEIGHT),
        {
            "days": [{"on": on, "low": p.low, "high": p.high, "smooth": p.smooth}
                     for on, p in placed],
            "lines": [{"y": v} for v in (-line, line) if trend.line is not None
                      and bottom <= v <= top],
            "ticks": [{"y": tick} for tick in ticks if tick],
            "even": [{"y": 0.0}],
            "tests": drawing.points((on, p.measured) for on, p in placed),
        },
        time=[first.toordinal(), last.toordinal()],
        side=[bottom, top],
    )  # fmt: skip
    days = tuple(day_labels(first, last).values())
    places = tuple(
        (round(HEIGHT * (top - tick) / (top - bottom), 1), text) for tick, text in ticks.items()
    )
    return Panel(trend.title, svg, trend.described, places, days)


def trends() -> Any:
    """The chart: `on` is a day as a number, `y` a difference, positive where right is ahead."""
    across = alt.Scale(
        domain=alt.ExprRef("time"), nice=False, zero=False,
        range=[alt.ExprRef(f"{NEAR_EDGE}"), alt.ExprRef(f"width - {NEAR_EDGE}")],
    )  # fmt: skip
    up = alt.Scale(domain=alt.ExprRef("side"), nice=False, zero=False)
    on = alt.X("on:Q", scale=across, axis=None)
    y = alt.Y("y:Q", scale=up, axis=None)
    days = alt.Chart(alt.NamedData("days")).encode(x=on)
    marks = alt.layer(
        days.mark_area(color=TINT, opacity=1).encode(
            y=alt.Y("low:Q", scale=up, axis=None), y2="high:Q"
        ),
        _across("ticks", y, color=FAINT),
        _across("lines", y, color=CLOSER, strokeWidth=1.1, strokeDash=[4, 3]),
        _across("even", y, color=INK, strokeWidth=1),
        days.mark_line(color=DATA, strokeWidth=2.2).encode(
            y=alt.Y("smooth:Q", scale=up, axis=None)
        ),
        circles("tests", alt.X("x:Q", scale=across, axis=None), y, size=6.4),
    )
    return bare(marks, time=[0, 1], side=[-1, 1])


def _across(table: str, y: alt.Y, **look: Any) -> alt.Chart:
    return alt.Chart(alt.NamedData(table)).mark_rule(**look).encode(y=y)
