"""A chart declared with Altair, drawn by vl-convert: compiled once per process, data put in.

What a chart shows goes into its compiled Vega specification: the rows of its named tables, the
values of its parameters and its size. vl-convert runs an engine with threads of its own, which no
fork survives: it is imported where it draws, in a worker, never in the process workers come from.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from math import isfinite
from typing import Any

Rows = list[dict[str, float | None]]
Stroke = tuple[float, float, float, float]  # x and y of its beginning, x and y of its end


def drawn(
    declared: Callable[[], Any],
    size: tuple[float, float],
    tables: Mapping[str, Rows],
    **values: float | Sequence[float],
) -> str:
    """SVG of a chart as wide and high as `size`, in pixels of CSS.

    `declared` makes the chart; `tables` and `values` are all the data and parameters it names.
    Raises ValueError where one is missing or unknown, or a number has no place.
    """
    import vl_convert

    spec = compiled(declared)
    named = {table["name"] for table in spec["data"] if "source" not in table}
    params = {signal["name"] for signal in spec["signals"]}
    if unlike := (named ^ tables.keys()) | (params ^ values.keys()):
        raise ValueError(f"A chart has no or needs {', '.join(sorted(unlike))}.")
    for row in (row for rows in tables.values() for row in rows):
        for number in row.values():
            if number is not None and not isfinite(number):
                raise ValueError(f"A chart holds a mark at {number}.")
    width, height = size
    filled = {
        **spec,
        "width": width,
        "height": height,
        "data": [{**one, "values": tables[one["name"]]} if one["name"] in named else one
                 for one in spec["data"]],
        "signals": [{**one, "value": values[one["name"]]} for one in spec["signals"]],
    }  # fmt: skip
    svg: str = vl_convert.vega_to_svg(filled, allowed_base_urls=[])
    return svg


@cache
def compiled(declared: Callable[[], Any]) -> dict[str, Any]:
    """The Vega specification of a chart without its data."""
    import vl_convert

    spec: dict[str, Any] = vl_convert.vegalite_to_vega(declared().to_dict())
    return {"signals": [], **spec}


def stroke_rows(ends: Iterable[Stroke]) -> Rows:
    """The rows of a table of strokes: both ends of each, then a gap."""
    places: list[tuple[float | None, float | None]] = []
    for x, y, x2, y2 in ends:
        places += [(x, y), (x2, y2), (None, None)]
    return [{"x": x, "y": y, "n": n} for n, (x, y) in enumerate(places)]


def circle_rows(places: Iterable[tuple[float, float]]) -> Rows:
    """The rows of a table of circles: strokes that end where they begin."""
    return stroke_rows((x, y, x, y) for x, y in places)
