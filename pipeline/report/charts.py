"""Charts, drawn by one grammar: the balance line.

Zero ("even") in the middle, the sides named at the two ends. Diamond: estimate. Thick bar: 90 %
interval. Open circles: single test days. Grey band: what the test cannot tell apart, around the
expected lead. Short dashed marks: the review line. Trends use the same marks along time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

INK, DATA, CLOSER, SOFT, FAINT = "#1d1d1f", "#17495a", "#a8741a", "#6b6f73", "#e3e6e8"
TINT = "#dbe5e8"
FONT = "Source Sans Pro"
ROW_HEIGHT = 25.0
LABEL_WIDTH, PLOT_WIDTH, TEXT_WIDTH = 148, 262, 200


@dataclass(frozen=True)
class BalanceRow:
    """One line of a balance chart; numbers in the unit of its measure, positive = right higher."""

    label: str
    unit: str
    estimate: float
    low: float
    high: float
    days: tuple[float, ...]
    lead: float
    error: float  # half width of the band around the lead
    line: float | None
    sentence: str
    is_flagged: bool


@dataclass(frozen=True)
class TrendPoint:
    """One test day of one measure: what was measured, and the smoothed history around it."""

    on: date
    measured: float
    smooth: float
    low: float
    high: float


@dataclass(frozen=True)
class Trend:
    """The history of one measure of one athlete, in the measure's unit."""

    title: str
    unit: str
    points: tuple[TrendPoint, ...]
    line: float | None


def balance_chart(rows: Sequence[BalanceRow], row_height: float = ROW_HEIGHT) -> str:
    """SVG of one balance line per row, rows of one unit under a common axis."""
    import altair as alt

    units = list(dict.fromkeys(row.unit for row in rows))
    blocks = [
        _balance_block([row for row in rows if row.unit == unit], row_height, position == 0)
        for position, unit in enumerate(units)
    ]
    chart = alt.vconcat(*blocks, spacing=14) if len(blocks) > 1 else blocks[0]
    return _svg(chart)


def _balance_block(rows: Sequence[BalanceRow], row_height: float, has_heading: bool) -> Any:
    import altair as alt

    width = PLOT_WIDTH
    unit = rows[0].unit
    reach = _reach(rows)
    scale = alt.Scale(domain=[-reach, reach], nice=False, clamp=True)
    axis = alt.Axis(
        title=None,
        values=_ticks(reach),
        labelExpr=(
            f"datum.value == 0 ? '0' : format(abs(datum.value), '{_digits(reach)}') + ' {unit}'"
        ),
        gridColor=FAINT,
        domain=False,
        ticks=False,
        labelColor=SOFT,
        labelFontSize=9.5,
        labelPadding=4,
    )
    x = alt.X("x:Q", scale=scale, axis=axis)
    y = alt.Y(
        "row:O",
        axis=None,
        scale=alt.Scale(domain=list(range(len(rows))), paddingInner=0, paddingOuter=0),
    )

    def data(values: list[dict[str, Any]]) -> Any:
        return alt.Chart(alt.Data(values=values))

    bands = data(
        [
            {"row": n, "x": row.lead - row.error, "x2": row.lead + row.error}
            for n, row in enumerate(rows)
        ]
    )
    bars = data([{"row": n, "x": row.low, "x2": row.high} for n, row in enumerate(rows)])
    days = data([{"row": n, "x": value} for n, row in enumerate(rows) for value in row.days])
    estimates = data([{"row": n, "x": row.estimate} for n, row in enumerate(rows)])
    lines = data(
        [
            {"row": n, "x": row.lead + sign * row.line}
            for n, row in enumerate(rows)
            for sign in (-1, 1)
            if row.line is not None and abs(row.lead + sign * row.line) < reach
        ]
    )
    labels = data([{"row": n, "label": row.label} for n, row in enumerate(rows)])
    layers = [
        bands.mark_bar(height=0.64 * row_height, color=FAINT).encode(x=x, x2="x2:Q", y=y),
        data([{"x": 0}]).mark_rule(color=INK, strokeWidth=1.1).encode(x=x),
        lines.mark_tick(
            color=CLOSER, thickness=1.3, size=0.68 * row_height, strokeDash=[3, 2]
        ).encode(x=x, y=y),
        bars.mark_bar(height=4.5, color=DATA, cornerRadius=2).encode(x=x, x2="x2:Q", y=y),
        days.mark_point(size=26, stroke=SOFT, strokeWidth=1, fill="white", fillOpacity=0.8).encode(
            x=x, y=y
        ),
        estimates.mark_point(shape="diamond", filled=True, size=95, color=DATA, opacity=1).encode(
            x=x, y=y
        ),
        labels.mark_text(align="right", color=INK, fontSize=11).encode(
            x=alt.value(-12), y=y, text="label:N"
        ),
    ]
    layers += [
        data(
            [
                {"row": n, "text": row.sentence}
                for n, row in enumerate(rows)
                if row.is_flagged == flagged
            ]
        )
        .mark_text(align="left", color=INK, fontSize=11, fontWeight=600 if flagged else 400)
        .encode(x=alt.value(width + 14), y=y, text="text:N")
        for flagged in (True, False)
    ]
    # Unseen marks at the outer edges: every chart of a page comes out equally wide.
    layers.append(
        data([{"edge": -LABEL_WIDTH}, {"edge": width + TEXT_WIDTH}])
        .mark_point(opacity=0, size=1)
        .encode(x=alt.X("edge:Q", scale=None), y=alt.value(0))
    )
    if has_heading:
        ends = [
            {"x": 0, "text": "left side higher", "align": "left"},
            {"x": width / 2, "text": "even", "align": "center"},
            {"x": width, "text": "right side higher", "align": "right"},
        ]
        layers += [
            data([end])
            .mark_text(align=end["align"], color=SOFT, fontSize=10)
            .encode(x=alt.value(end["x"]), y=alt.value(-9), text="text:N")
            for end in ends
        ]
    return alt.layer(*layers).properties(width=width, height=row_height * len(rows))


def trend_chart(trends: Sequence[Trend], width: int = 240, height: int = 92) -> str:
    """SVG of small trends, two in a row, one axis of time and one of the difference each."""
    import altair as alt

    panels = [_trend_panel(trend, width, height) for trend in trends]
    chart = alt.concat(*panels, columns=2, spacing={"row": 22, "column": 40})
    return _svg(chart)


def _trend_panel(trend: Trend, width: int, height: int) -> Any:
    import altair as alt

    values = [
        {
            "on": point.on.isoformat(),
            "measured": point.measured,
            "smooth": point.smooth,
            "low": point.low,
            "high": point.high,
        }
        for point in trend.points
    ]
    ends = [v for p in trend.points for v in (p.measured, p.low, p.high)]
    line = trend.line or 0.0
    reach = 1.08 * max([*map(abs, ends), 1.05 * line, 1e-9])
    # The empty half is cut short, but never so far that zero and the other side disappear.
    bottom = -reach if min(ends) < -0.15 * reach else -0.3 * reach
    top = reach if max(ends) > 0.15 * reach or bottom > -reach else 0.3 * reach
    first, last = trend.points[0].on, trend.points[-1].on
    x = alt.X(
        "on:T",
        axis=alt.Axis(
            title=None,
            values=[day.isoformat() for day in _day_ticks(first, last)],
            format="%-d %b",
            grid=False,
            ticks=False,
            domain=False,
            labelColor=SOFT,
            labelFontSize=9.5,
            labelFlush=True,
        ),
    )

    def y(field: str) -> Any:
        return alt.Y(
            f"{field}:Q",
            scale=alt.Scale(domain=[bottom, top], nice=False),
            axis=alt.Axis(
                title=None,
                values=[tick for tick in _ticks(reach) if bottom <= tick <= top],
                labelExpr=(
                    "datum.value == 0 ? 'even' : (datum.value > 0 ? 'right ' : 'left ') + "
                    f"format(abs(datum.value), '{_digits(reach)}') + ' {trend.unit}'"
                ),
                gridColor=FAINT,
                ticks=False,
                domain=False,
                labelColor=SOFT,
                labelFontSize=9.5,
            ),
        )

    base = alt.Chart(alt.Data(values=values))
    layers = [
        base.mark_area(color=TINT, opacity=1).encode(x=x, y=y("low"), y2="high:Q"),
        alt.Chart(alt.Data(values=[{"zero": 0}]))
        .mark_rule(color=INK, strokeWidth=1)
        .encode(y=y("zero")),
        base.mark_line(color=DATA, strokeWidth=2.2).encode(x=x, y=y("smooth")),
        base.mark_point(size=24, stroke=SOFT, strokeWidth=1, fill="white", fillOpacity=1).encode(
            x=x, y=y("measured")
        ),
    ]
    if trend.line is not None:
        marks = [{"line": v} for v in (-line, line) if bottom <= v <= top]
        layers.insert(
            1,
            alt.Chart(alt.Data(values=marks))
            .mark_rule(color=CLOSER, strokeWidth=1.1, strokeDash=[4, 3])
            .encode(y=y("line")),
        )
    title = alt.TitleParams(
        trend.title, anchor="start", fontSize=11.5, fontWeight=600, color=INK, offset=6
    )
    return alt.layer(*layers).properties(width=width, height=height, title=title)


def _reach(rows: Sequence[BalanceRow]) -> float:
    """Half the width of the axis: room for every bar, band, line and test day."""
    wanted = [abs(v) for row in rows for v in (row.low, row.high, *row.days)]
    wanted += [abs(row.lead) + (row.line or 0.0) for row in rows]
    wanted += [abs(row.lead) + row.error for row in rows]
    return 1.06 * max([*wanted, 1e-9])


def _ticks(reach: float) -> list[float]:
    """At most two round steps on each side of zero."""
    for magnitude in (0.01, 0.1, 1.0, 10.0, 100.0):
        for step in (1, 2, 2.5, 5):
            size = step * magnitude
            if reach / size < 3:
                count = int(reach / size)
                return [round(n * size, 6) for n in range(-count, count + 1)]
    return [0.0]


def _digits(reach: float) -> str:
    if reach < 0.5:
        return ".2f"
    return ".1f" if reach < 4 else ".0f"


def _day_ticks(first: date, last: date) -> list[date]:
    middle = first + (last - first) / 2
    return list(dict.fromkeys([first, middle, last] if (last - first).days > 40 else [first, last]))


def _svg(chart: Any) -> str:
    import vl_convert as vlc

    finished = chart.configure(
        font=FONT,
        background="transparent",
        padding={"left": 2, "right": 2, "top": 4, "bottom": 2},
        view={"stroke": None},
    )
    svg: str = vlc.vegalite_to_svg(finished.to_dict())
    return svg
