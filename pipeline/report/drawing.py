"""Charts drawn: a specification of charts.py as SVG.

The specifications are Vega-Lite, of which they use a small part; this module draws that part and
stops at anything else. A general drawing library took a fifth of a build's work; the tests hold
every mark against what it draws. A page's time goes by the number of elements in its charts, so
the marks of a layer are one path.
"""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from math import isfinite, sqrt
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from pipeline.report.axes import Spec
from pipeline.report.typeface import text_width

TITLE, HEADINGS = 17.5, 14.0  # what stands above a plot
BELOW = 14.7  # the labels of the axis of x
RIM = 3.0  # of a circle at the end of an axis
AXIS = 66.0  # the least room for the labels of an axis of y, so that most charts are equally wide
MIDDLE = 0.28  # from the middle of small letters down to the line they stand on, to their height
CURVE = 0.448  # of a radius: where the handle of a quarter of a circle stands from its corner

Row = Mapping[str, Any]
Place = Callable[[Row], float]


def drawn(spec: Spec) -> str:
    """A chart as SVG text, blocks below each other or panels in columns.

    Raises ValueError where the specification asks for more than this module draws.
    """
    config = _only(spec["config"], "background", "font", "padding", "view")
    space = config["padding"]
    if "vconcat" in spec:
        _only(spec, "vconcat", "spacing", "config")
        panels, columns = spec["vconcat"], 1
        gaps = {"row": spec["spacing"], "column": 0}
    else:
        _only(spec, "concat", "columns", "spacing", "config")
        panels, columns, gaps = spec["concat"], spec["columns"], spec["spacing"]
    before = max(map(_room_before, panels))
    wide = before + max(map(_width_from_plot, panels))
    pieces: list[str] = []
    top = float(space["top"])
    for start in range(0, len(panels), columns):
        row = panels[start : start + columns]
        above = max(map(_room_above, row))
        for place, panel in enumerate(row):
            left = space["left"] + place * (wide + gaps["column"])
            pieces += _panel(panel, left, before, top + above, config["font"])
        top += above + max(panel["height"] for panel in row) + BELOW + gaps["row"]
    count = min(columns, len(panels))
    width = space["left"] + count * wide + (count - 1) * gaps["column"] + space["right"]
    height = top - gaps["row"] + space["bottom"]
    size = f'width="{_short(width)}" height="{_short(height)}"'
    box = f'viewBox="0 0 {_short(width)} {_short(height)}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}>'
        f'<g fill="none" stroke-miterlimit="10">{"".join(pieces)}</g></svg>'
    )


def _edges(panel: Spec) -> list[float]:
    """Where the unseen marks stand that keep a panel's room at its sides."""
    return [row["edge"] for layer in panel["layer"] for row in layer["data"]["values"]
            if "edge" in row]  # fmt: skip


def _room_before(panel: Spec) -> float:
    """What stands left of the plot: the texts of the rows, or the labels of the axis of y."""
    labels = [
        max(text_width(text, axis["labelFontSize"]) + axis["labelPadding"], AXIS)
        for axis in _axes(panel, "y")
        for text in _labels(axis).values()
    ]
    texts = [wide - place for place, wide in _texts(panel, "right")]
    return max([*labels, *texts, *(-edge for edge in _edges(panel)), 0.0])


def _width_from_plot(panel: Spec) -> float:
    texts = [place + wide for place, wide in _texts(panel, "left")]
    return float(max([panel["width"] + RIM, *texts, *_edges(panel)]))


def _texts(panel: Spec, align: str) -> list[tuple[float, float]]:
    """Where the texts of a panel stand that go out to one side, and how wide they are."""
    return [
        (
            layer["encoding"]["x"]["value"],
            text_width(row["text"], layer["mark"]["fontSize"], layer["mark"]["fontWeight"]),
        )
        for layer in panel["layer"]
        if layer["mark"]["type"] == "text" and layer["mark"]["align"] == align
        for row in layer["data"]["values"]
    ]


def _room_above(panel: Spec) -> float:
    if "title" in panel:
        return TITLE
    texts = (layer for layer in panel["layer"] if layer["mark"]["type"] == "text")
    has_headings = any(layer["encoding"]["y"].get("value", 0) < 0 for layer in texts)
    return HEADINGS if has_headings else 0.0


def _panel(panel: Spec, left: float, before: float, top: float, font: str) -> Iterator[str]:
    """Grid, labels and marks of one panel whose plot begins at `left + before` and `top`."""
    _only(panel, "layer", "width", "height", "title")
    width, height = panel["width"], panel["height"]
    x0 = left + before
    for channel, extent in (("x", (0.0, width)), ("y", (height, 0.0))):
        for axis in _axes(panel, channel):
            yield from _axis(axis, channel, extent, (x0, top, width, height), font)
    for layer in panel["layer"]:
        yield from _layer(layer, x0, top, width, height, font)
    if title := panel.get("title"):
        _only(title, "text", "anchor", "fontSize", "fontWeight", "color", "offset")
        look = _look(fill=title["color"], font_family=font, font_size=title["fontSize"],
                     font_weight=title["fontWeight"])  # fmt: skip
        yield _text(left, top - title["offset"] - 2.5, title["anchor"], look, title["text"])


def _axes(panel: Spec, channel: str) -> list[Spec]:
    """The one axis of a channel, with its scale; none where no layer draws one."""
    for layer in panel["layer"]:
        found = layer["encoding"].get(channel, {})
        if found.get("axis"):
            return [{**found["axis"], "scale": found["scale"]}]
    return []


def _labels(axis: Spec) -> dict[float, str]:
    """The text at each tick, out of the expression that `labelled_axis` makes of them."""
    texts = json.loads(axis["labelExpr"].removesuffix("[datum.value]"))
    return {tick: texts[f"{tick:.10g}"] for tick in axis["values"]}


def _axis(
    axis: Spec,
    channel: str,
    extent: tuple[float, float],
    plot: tuple[float, float, float, float],
    font: str,
) -> Iterator[str]:
    _only(axis, "title", "values", "gridColor", "domain", "ticks", "labelColor", "labelFontSize",
          "labelPadding", "labelExpr", "grid", "labelFlush", "scale")  # fmt: skip
    x0, top, width, height = plot
    at = _linear(axis["scale"], extent)
    places = {tick: at(tick) for tick in axis["values"]}
    if axis.get("grid", True):
        lines = (
            _line(x0 + place, top, x0 + place, top + height)
            if channel == "x"
            else _line(x0, top + place, x0 + width, top + place)
            for place in places.values()
        )
        yield _path("".join(lines), _look(stroke=axis["gridColor"], stroke_width=1))
    size, padding = axis["labelFontSize"], axis["labelPadding"]
    look = _look(fill=axis["labelColor"], font_family=font, font_size=size)
    labels = _labels(axis)
    for tick, place in places.items():
        text = labels[tick]
        if channel == "y":
            yield _text(x0 - padding, top + place + MIDDLE * size, "end", look, text)
            continue
        is_flush = axis.get("labelFlush", False)
        anchor = {0.0: "start", width: "end"}.get(place, "middle") if is_flush else "middle"
        yield _text(x0 + place, top + height + padding + 0.85 * size, anchor, look, text)


def _linear(scale: Spec, extent: tuple[float, float]) -> Callable[[float], float]:
    """From values to places; what has no extent of its own stands in the middle."""
    _only(scale, "domain", "nice", "clamp", "zero")
    (low, high), (start, end) = scale["domain"], extent
    if low == high:
        return lambda _: (start + end) / 2

    def place(value: float) -> float:
        if scale.get("clamp"):
            value = min(max(value, low), high)
        return float(start + (value - low) / (high - low) * (end - start))

    return place


def _channel(encoding: Spec, name: str, extent: tuple[float, float]) -> Place | None:
    """How a row of a layer finds its place on one channel; None where the layer has none."""
    if (found := encoding.get(name)) is None:
        return None
    if "value" in found:
        fixed = float(found["value"])
        return lambda row: fixed
    field, scale = found["field"], found.get("scale")
    if found.get("type") == "ordinal":
        _only(scale, "domain", "paddingInner", "paddingOuter")
        step = abs(extent[1] - extent[0]) / len(scale["domain"])
        return lambda row: (row[field] + 0.5) * step
    at = _linear(scale, extent) if scale else float
    return lambda row: at(row[field])


def _layer(
    layer: Spec, x0: float, top: float, width: float, height: float, font: str
) -> Iterator[str]:
    """One path of all marks of a layer, or its texts."""
    _only(layer, "mark", "encoding", "data")
    mark, encoding, rows = layer["mark"], layer["encoding"], layer["data"]["values"]
    _only(encoding, "x", "x2", "y", "y2", "text")
    if mark.get("opacity") == 0 or not rows:
        return
    # A second end is on the axis of the first and names its field alone.
    ends = {axis: {**encoding[axis], **encoding[f"{axis}2"]} for axis in "xy"
            if f"{axis}2" in encoding}  # fmt: skip
    across, down = (0.0, width), (height, 0.0)
    x, y = _channel(encoding, "x", across), _channel(encoding, "y", down)
    x2, y2 = _channel(ends, "x", across), _channel(ends, "y", down)

    def points(by_x: Place, by_y: Place) -> list[tuple[float, float]]:
        return [(x0 + by_x(row), top + by_y(row)) for row in rows]

    kind = mark["type"]
    if kind == "text" and x and y:
        _only(mark, "type", "align", "color", "fontSize", "fontWeight")
        anchor = {"left": "start", "center": "middle", "right": "end"}[mark["align"]]
        look = _look(fill=mark["color"], font_family=font, font_size=mark["fontSize"],
                     font_weight=mark["fontWeight"])  # fmt: skip
        for row, (px, py) in zip(rows, points(x, y), strict=True):
            yield _text(px, py + MIDDLE * mark["fontSize"], anchor, look, row["text"])
    elif kind == "rule" and (x is None) != (y is None):
        _only(mark, "type", "color", "strokeWidth", "strokeDash")
        if y is None and x is not None:
            lines = [_line(px, top, px, top + height) for px, _ in points(x, lambda row: 0.0)]
        elif y is not None:
            lines = [_line(x0, py, x0 + width, py) for _, py in points(lambda row: 0.0, y)]
        dash = ",".join(map(_short, mark.get("strokeDash", ()))) or None
        yield _path("".join(lines), _look(stroke=mark["color"], stroke_width=mark["strokeWidth"],
                                          stroke_dasharray=dash))  # fmt: skip
    elif kind == "line" and x and y:
        _only(mark, "type", "color", "strokeWidth")
        look = _look(stroke=mark["color"], stroke_width=mark["strokeWidth"])
        yield _path(_joined(points(x, y)), look)
    elif kind == "area" and x and y and y2:
        _only(mark, "type", "color", "opacity")
        outline = points(x, y) + points(x, y2)[::-1]
        yield _path(_joined(outline) + "Z", _look(fill=mark["color"], fill_opacity=mark["opacity"]))
    elif kind == "bar" and x and x2 and y:
        _only(mark, "type", "height", "color", "cornerRadius")
        bars = zip(points(x, y), points(x2, y), strict=True)
        yield _path("".join(_bar(ax, bx, py, mark["height"], mark.get("cornerRadius", 0.0))
                            for (ax, py), (bx, _) in bars), _look(fill=mark["color"]))  # fmt: skip
    elif kind == "tick" and x and y:
        _only(mark, "type", "color", "thickness", "size", "opacity")
        half = mark["thickness"] / 2
        ticks = (_bar(px - half, px + half, py, mark["size"], 0.0) for px, py in points(x, y))
        yield _path("".join(ticks), _look(fill=mark["color"], fill_opacity=mark["opacity"]))
    elif kind == "point" and x and y:
        yield _points(mark, points(x, y))
    else:
        raise ValueError(f"A chart holds {kind} marks with {', '.join(encoding)}.")


def _points(mark: Spec, places: Sequence[tuple[float, float]]) -> str:
    _only(mark, "type", "stroke", "strokeWidth", "fill", "size", "fillOpacity", "shape", "filled",
          "color", "opacity")  # fmt: skip
    radius = sqrt(mark["size"]) / 2
    shape = mark.get("shape", "circle")
    if shape == "diamond":
        marks = "".join(
            _joined([(x - radius, y), (x, y - radius), (x + radius, y), (x, y + radius)]) + "Z"
            for x, y in places
        )
        return _path(marks, _look(fill=mark["color"], fill_opacity=mark["opacity"]))
    if shape != "circle":
        raise ValueError(f"A chart holds points drawn as {shape}.")
    marks = "".join(_bar(x - radius, x + radius, y, 2 * radius, radius) for x, y in places)
    return _path(marks, _look(fill=mark["fill"], fill_opacity=mark["fillOpacity"],
                              stroke=mark["stroke"], stroke_width=mark["strokeWidth"]))  # fmt: skip


def _bar(x: float, x2: float, middle: float, height: float, radius: float) -> str:
    """A lying bar, its corners rounded where it is long enough."""
    x, x2 = min(x, x2), max(x, x2)
    top, bottom = middle - height / 2, middle + height / 2
    r = min(radius, (x2 - x) / 2, height / 2)
    if r <= 0:
        return _joined([(x, top), (x2, top), (x2, bottom), (x, bottom)]) + "Z"
    c = CURVE * r
    corners = (
        ((x2 - r, top), (x2 - c, top), (x2, top + c), (x2, top + r)),
        ((x2, bottom - r), (x2, bottom - c), (x2 - c, bottom), (x2 - r, bottom)),
        ((x + r, bottom), (x + c, bottom), (x, bottom - c), (x, bottom - r)),
        ((x, top + r), (x, top + c), (x + c, top), (x + r, top)),
    )
    sides = (f"L{_at(*start)}C{_at(*first)},{_at(*second)},{_at(*end)}"
             for start, first, second, end in corners)  # fmt: skip
    return f"M{_at(x + r, top)}{''.join(sides)}Z"


def _line(x: float, y: float, x2: float, y2: float) -> str:
    return f"M{_at(x, y)}L{_at(x2, y2)}"


def _joined(places: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(_at(*place) for place in places)


def _at(x: float, y: float) -> str:
    return f"{_short(x)},{_short(y)}"


def _path(data: str, look: str) -> str:
    return f'<path d="{data}"{look}/>'


def _text(x: float, y: float, anchor: str, look: str, text: str) -> str:
    place = f'x="{_short(x)}" y="{_short(y)}" anchor="{anchor}"'
    return f"<text {place}{look}>{escape(text)}</text>"


def _look(**attributes: object) -> str:
    return "".join(
        f" {name.replace('_', '-')}={quoteattr(str(value))}"
        for name, value in attributes.items()
        if value is not None
    )


def _only(spec: Spec, *known: str) -> Spec:
    """The same specification; what this module would leave out is an error instead."""
    if unknown := set(spec) - set(known):
        raise ValueError(f"A chart holds {', '.join(sorted(unknown))}, which nothing draws.")
    return spec


def _short(number: float) -> str:
    if not isfinite(number):
        raise ValueError(f"A chart holds a mark at {number}.")
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
