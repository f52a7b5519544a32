"""Charts, drawn by one grammar: the balance line.

Zero ("even") in the middle, the sides named at the two ends. Diamond: estimate. Thick bar: 90 %
interval. Open circles: single test days. Grey band: what the test cannot tell apart, around the
expected lead. Short upright marks: the review line. Trends use the same marks along time.

Specifications are plain Vega-Lite dictionaries, which drawing.py draws: building them from Altair's
objects took most of a build. Tests hold each kind against Altair's schema and each mark against
what vl-convert draws of the same specification.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.report.axes import (
    FAINT,
    SOFT,
    Spec,
    balance_labels,
    day_labels,
    labelled_axis,
    trend_labels,
)
from pipeline.report.drawing import drawn
from pipeline.report.phrases import say
from pipeline.report.typeface import FAMILY

INK, DATA, CLOSER = "#1d1d1f", "#17495a", "#a8741a"
TINT = "#dbe5e8"
ROW_HEIGHT = 23.0
LABEL_WIDTH, PLOT_WIDTH, TEXT_WIDTH = 148, 262, 200
LABEL_LETTERS = 28  # what that width holds; a longer label would shrink the whole chart
OPEN_CIRCLE: Spec = {"type": "point", "stroke": SOFT, "strokeWidth": 1, "fill": "white"}


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
    is_size: bool = False  # of a girth or a length, where no side is ahead


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
    is_size: bool = False


def balance_chart(rows: Sequence[BalanceRow], row_height: float = ROW_HEIGHT) -> str:
    """SVG of one balance line per row, rows of one unit under a common axis."""
    return drawn(balance_spec(rows, row_height))


def trend_chart(trends: Sequence[Trend], width: int = 240, height: int = 80) -> str:
    """SVG of small trends, two in a row, one axis of time and one of the difference each."""
    return drawn(trend_spec(trends, width, height))


def balance_spec(rows: Sequence[BalanceRow], row_height: float = ROW_HEIGHT) -> Spec:
    """One balance line per row as a Vega-Lite specification."""
    units = list(dict.fromkeys(row.unit for row in rows))
    blocks = [
        _balance_block([row for row in rows if row.unit == unit], row_height, position == 0)
        for position, unit in enumerate(units)
    ]
    return _finished({"vconcat": blocks, "spacing": 10})


def _balance_block(rows: Sequence[BalanceRow], row_height: float, has_heading: bool) -> Spec:
    reach = _reach(rows)
    x = {
        "field": "x",
        "type": "quantitative",
        "scale": {"domain": [-reach, reach], "nice": False, "clamp": True},
        "axis": labelled_axis(balance_labels(reach, rows[0].unit)),
    }
    y = {
        "field": "row",
        "type": "ordinal",
        "axis": None,
        "scale": {"domain": list(range(len(rows))), "paddingInner": 0, "paddingOuter": 0},
    }
    span = {"x": x, "x2": {"field": "x2"}, "y": y}
    place = {"x": x, "y": y}
    numbered = list(enumerate(rows))
    layers = [
        _layer(
            {"type": "bar", "height": 0.64 * row_height, "color": FAINT},
            span,
            [
                {"row": n, "x": row.lead - row.error, "x2": row.lead + row.error}
                for n, row in numbered
            ],
        ),
        _layer({"type": "rule", "color": INK, "strokeWidth": 1.1}, {"x": x}, [{"x": 0}]),
        _layer(
            {
                "type": "tick", "color": CLOSER, "thickness": 1.3, "size": 0.68 * row_height,
                "opacity": 0.7,
            },
            place,
            [
                {"row": n, "x": row.lead + sign * row.line}
                for n, row in numbered
                for sign in (-1, 1)
                if row.line is not None and abs(row.lead + sign * row.line) < reach
            ],
        ),
        _layer(
            {"type": "bar", "height": 4.5, "color": DATA, "cornerRadius": 2},
            span,
            [{"row": n, "x": row.low, "x2": row.high} for n, row in numbered],
        ),
        _layer(
            {**OPEN_CIRCLE, "size": 26, "fillOpacity": 0.8},
            place,
            [{"row": n, "x": value} for n, row in numbered for value in row.days],
        ),
        _layer(
            {"type": "point", "shape": "diamond", "filled": True, "size": 95, "color": DATA,
             "opacity": 1},
            place,
            [{"row": n, "x": row.estimate} for n, row in numbered],
        ),
        _text(-12, "right", y, [{"row": n, "text": _fitted(row.label)} for n, row in numbered]),
        *(
            _text(
                PLOT_WIDTH + 14,
                "left",
                y,
                [
                    {"row": n, "text": row.sentence}
                    for n, row in numbered
                    if row.is_flagged == is_flagged
                ],
                weight=600 if is_flagged else 400,
            )
            for is_flagged in (True, False)
        ),
        _edges(),
        *(_headings(all(row.is_size for row in rows)) if has_heading else []),
    ]  # fmt: skip
    return {"layer": layers, "width": PLOT_WIDTH, "height": row_height * len(rows)}


def _fitted(label: str) -> str:
    if len(label) <= LABEL_LETTERS:
        return label
    return label[: LABEL_LETTERS - 1].rstrip() + "…"


def _edges() -> Spec:
    """Unseen marks at the outer edges: every chart of a page comes out equally wide."""
    edge = {"field": "edge", "type": "quantitative", "scale": None}
    return _layer(
        {"type": "point", "opacity": 0, "size": 1},
        {"x": edge, "y": {"value": 0}},
        [{"edge": -LABEL_WIDTH}, {"edge": PLOT_WIDTH + TEXT_WIDTH}],
    )


def _headings(is_size: bool) -> list[Spec]:
    ends = [
        (0.0, say("chart.left_larger" if is_size else "chart.left_end"), "left"),
        (PLOT_WIDTH / 2, say("chart.middle"), "center"),
        (float(PLOT_WIDTH), say("chart.right_larger" if is_size else "chart.right_end"), "right"),
    ]
    return [
        _text(place, align, {"value": -9}, [{"text": text}], color=SOFT, size=10)
        for place, text, align in ends
    ]


def trend_spec(trends: Sequence[Trend], width: int = 240, height: int = 80) -> Spec:
    """Small trends, two in a row, as a Vega-Lite specification."""
    panels = [_trend_panel(trend, width, height) for trend in trends]
    return _finished({"concat": panels, "columns": 2, "spacing": {"row": 20, "column": 46}})


def _trend_panel(trend: Trend, width: int, height: int) -> Spec:
    ends = [v for p in trend.points for v in (p.measured, p.low, p.high)]
    line = trend.line or 0.0
    reach = 1.08 * max([*map(abs, ends), 1.05 * line, 1e-9])
    # The empty half is cut short, but never so far that zero and the other side disappear.
    bottom = -reach if min(ends) < -0.15 * reach else -0.3 * reach
    top = reach if max(ends) > 0.15 * reach or bottom > -reach else 0.3 * reach
    first, last = trend.points[0].on, trend.points[-1].on
    # Days as numbers: the drawing library would show dates in the time zone of the machine.
    x = {
        "field": "on",
        "type": "quantitative",
        "scale": {"domain": [first.toordinal(), last.toordinal()], "nice": False, "zero": False},
        "axis": {
            **labelled_axis(day_labels(first, last)),
            "grid": False,
            "labelFlush": True,
        },
    }
    labels = trend_labels(reach, trend.unit)
    axis = labelled_axis({tick: text for tick, text in labels.items() if bottom <= tick <= top})

    def y(field: str) -> Spec:
        return {
            "field": field,
            "type": "quantitative",
            "scale": {"domain": [bottom, top], "nice": False},
            "axis": axis,
        }

    values = [
        {
            "on": point.on.toordinal(),
            "measured": point.measured,
            "smooth": point.smooth,
            "low": point.low,
            "high": point.high,
        }
        for point in trend.points
    ]
    shade = {"x": x, "y": y("low"), "y2": {"field": "high"}}
    lines = [{"line": v} for v in (-line, line) if trend.line is not None and bottom <= v <= top]
    dashed = {"type": "rule", "color": CLOSER, "strokeWidth": 1.1, "strokeDash": [4, 3]}
    smooth = {"type": "line", "color": DATA, "strokeWidth": 2.2}
    layers = [
        _layer({"type": "area", "color": TINT, "opacity": 1}, shade, values),
        _layer(dashed, {"y": y("line")}, lines),
        _layer({"type": "rule", "color": INK, "strokeWidth": 1}, {"y": y("zero")}, [{"zero": 0}]),
        _layer(smooth, {"x": x, "y": y("smooth")}, values),
        _layer({**OPEN_CIRCLE, "size": 24, "fillOpacity": 1}, {"x": x, "y": y("measured")}, values),
    ]
    title = {
        "text": trend.title, "anchor": "start", "fontSize": 11.5, "fontWeight": 600, "color": INK,
        "offset": 6,
    }  # fmt: skip
    return {"layer": layers, "width": width, "height": height, "title": title}


def _layer(mark: Spec, encoding: Spec, values: Sequence[Mapping[str, Any]]) -> Spec:
    return {"mark": mark, "encoding": encoding, "data": {"values": list(values)}}


def _text(
    place: float,
    align: str,
    y: Spec,
    values: Sequence[Mapping[str, Any]],
    *,
    color: str = INK,
    size: float = 11,
    weight: int = 400,
) -> Spec:
    mark = {"type": "text", "align": align, "color": color, "fontSize": size, "fontWeight": weight}
    text = {"field": "text", "type": "nominal"}
    return _layer(mark, {"x": {"value": place}, "y": y, "text": text}, values)


def _reach(rows: Sequence[BalanceRow]) -> float:
    """Half the width of the axis: room for every bar, band, line and test day."""
    wanted = [abs(v) for row in rows for v in (row.low, row.high, *row.days)]
    wanted += [abs(row.lead) + (row.line or 0.0) for row in rows]
    wanted += [abs(row.lead) + row.error for row in rows]
    return 1.06 * max([*wanted, 1e-9])


def _finished(chart: Spec) -> Spec:
    return {
        **chart,
        "config": {
            "font": FAMILY,
            "background": "transparent",
            "padding": {"left": 2, "right": 2, "top": 4, "bottom": 2},
            "view": {"stroke": None},
        },
    }
