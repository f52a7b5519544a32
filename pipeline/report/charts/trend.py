"""Trends: the differences of a few measures along time, with the marks of the balance line.

All of a report stand in one picture, two beside each other: a picture takes longer than its marks.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from pipeline.report.charts import drawing
from pipeline.report.charts.look import CLOSER, DATA, FAINT, INK, TINT, bare, circles, strokes
from pipeline.report.charts.rows import Trend
from pipeline.report.text.axis_labels import day_labels, trend_labels

# Pixels of CSS, as print.css has them: a plot, from its left to the next one's and from the top of
# its name to that of the one below, and how far below its name it begins.
WIDTH, HEIGHT = 244.0, 84.0
ACROSS, DOWN = 336.0, 135.0
BELOW_NAME = 20.0
NEAR_EDGE = 3.0  # room for a circle at the first and the last day


@dataclass(frozen=True)
class Panel:
    """What stands at the axes of one trend."""

    title: str
    ticks: tuple[str, ...]  # which side by how much, from the top down
    first: float  # where the first of them stands, and how far below it each next; in pixels
    apart: float
    days: tuple[str, ...]  # the first, one between where there is room, the last


@dataclass(frozen=True)
class Trends:
    """The trends of a report: the picture of all, and the words at each."""

    svg: str
    height: float
    described: str  # what the picture shows, for whoever cannot see it
    panels: tuple[Panel, ...]


@dataclass(frozen=True)
class _Plot:
    """A trend at its place in the picture."""

    trend: Trend
    left: float
    top: float
    lowest: float  # of the axis, in the measure's unit
    highest: float

    @property
    def labels(self) -> dict[float, str]:
        reach = max(-self.lowest, self.highest)
        found = trend_labels(reach, self.trend.unit)
        return {tick: text for tick, text in found.items() if self.shows(tick)}

    def shows(self, value: float) -> bool:
        return self.lowest <= value <= self.highest

    def y(self, value: float) -> float:
        share = (self.highest - value) / (self.highest - self.lowest)
        return round(self.top + HEIGHT * share, 2)

    def xs(self) -> list[float]:
        """Where each test day is; a single one is in the middle."""
        days = [point.on.toordinal() for point in self.trend.points]
        first, span = days[0], days[-1] - days[0]
        room = WIDTH - 2 * NEAR_EDGE
        shares = [(day - first) / span if span else 0.5 for day in days]
        return [round(self.left + NEAR_EDGE + room * share, 2) for share in shares]

    def across(self, values: Iterable[float]) -> Iterator[drawing.Stroke]:
        for value in values:
            yield self.left, self.y(value), self.left + WIDTH, self.y(value)


def trend_panels(shown: Sequence[Trend]) -> Trends:
    """The trends drawn."""
    plots = [_plot(trend, number) for number, trend in enumerate(shown)]
    height = DOWN * (len(plots) + 1) // 2 if plots else 0.0
    svg = drawing.drawn(trends, (ACROSS + WIDTH, height), _tables(plots))
    described = " ".join(trend.described for trend in shown)
    return Trends(svg, height, described, tuple(map(_panel, plots)))


def _panel(plot: _Plot) -> Panel:
    ticks = sorted(plot.labels, reverse=True)
    places = [plot.y(tick) - plot.top for tick in ticks]
    apart = (places[-1] - places[0]) / (len(ticks) - 1) if len(ticks) > 1 else HEIGHT
    days = day_labels(plot.trend.points[0].on, plot.trend.points[-1].on)
    return Panel(
        plot.trend.title, tuple(plot.labels[tick] for tick in ticks), round(places[0], 1),
        round(apart, 2), tuple(days.values()),
    )  # fmt: skip


def _plot(trend: Trend, number: int) -> _Plot:
    ends = [v for p in trend.points for v in (p.measured, p.low, p.high)]
    reach = 1.08 * max([*map(abs, ends), 1.05 * (trend.line or 0.0), 1e-9])
    # The empty half is cut short, but never so far that zero and the other side disappear.
    lowest = -reach if min(ends) < -0.15 * reach else -0.3 * reach
    highest = reach if max(ends) > 0.15 * reach or lowest > -reach else 0.3 * reach
    below, beside = divmod(number, 2)
    return _Plot(trend, beside * ACROSS, below * DOWN + BELOW_NAME, lowest, highest)


def _tables(plots: Sequence[_Plot]) -> dict[str, drawing.Rows]:
    days: list[dict[str, float | None]] = []
    for number, plot in enumerate(plots):
        days += [
            {
                "plot": number,
                "x": x,
                "low": plot.y(p.low),
                "high": plot.y(p.high),
                "smooth": plot.y(p.smooth),
            }
            for x, p in zip(plot.xs(), plot.trend.points, strict=True)
        ]
    lines = [(plot, plot.trend.line) for plot in plots if plot.trend.line is not None]
    return {
        "days": days,
        "ticks": drawing.stroke_rows(
            stroke for plot in plots for stroke in plot.across(filter(None, plot.labels))
        ),
        "lines": drawing.stroke_rows(
            stroke
            for plot, line in lines
            for stroke in plot.across(filter(plot.shows, (-line, line)))
        ),
        "even": drawing.stroke_rows(stroke for plot in plots for stroke in plot.across([0.0])),
        "tests": drawing.circle_rows(
            (x, plot.y(point.measured))
            for plot in plots
            for x, point in zip(plot.xs(), plot.trend.points, strict=True)
        ),
    }


def trends() -> Any:
    """The chart: its tables hold places, as every plot has axes of its own."""
    places = alt.Scale(domain=alt.ExprRef("[0,width]"), nice=False)  # without one no line has gaps
    x, y = alt.X("x:Q", scale=places, axis=None), alt.Y("y:Q", scale=None, axis=None)
    days = alt.Chart(alt.NamedData("days")).encode(x=x, detail="plot:N")
    marks = alt.layer(
        days.mark_area(color=TINT, opacity=1).encode(
            y=alt.Y("low:Q", scale=None, axis=None), y2="high:Q"
        ),
        strokes("ticks", x, y, color=FAINT, strokeWidth=1),
        strokes("lines", x, y, color=CLOSER, strokeWidth=1.1, strokeDash=[4, 3]),
        strokes("even", x, y, color=INK, strokeWidth=1),
        days.mark_line(color=DATA, strokeWidth=2.2).encode(
            y=alt.Y("smooth:Q", scale=None, axis=None)
        ),
        circles("tests", x, y, size=6.4),
    )
    return bare(marks)
