"""What a drawing library draws, as a flat list of marks that can be compared with ours.

The library nests groups and describes every mark for screens; here groups are resolved and marks
that nobody sees are left out.
"""

import re
from collections.abc import Iterator
from xml.etree import ElementTree
from xml.sax.saxutils import escape, quoteattr

SHAPE_LOOK = ("fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray")
TEXT_LOOK = ("fill", "font-family", "font-size", "font-weight")
PIECE = re.compile(r"([A-Za-z])([^A-Za-z]*)")
NUMBER = re.compile(r"-?\d*\.?\d+(?:e[-+]?\d+)?")
TRANSLATED = re.compile(rf"translate\(({NUMBER.pattern}),({NUMBER.pattern})\)")
# Which numbers of one step of an upper-case command are across and which are down.
ACROSS_AND_DOWN = {
    "M": (2, (0,), (1,)),
    "L": (2, (0,), (1,)),
    "H": (1, (0,), ()),
    "V": (1, (), (0,)),
    "C": (6, (0, 2, 4), (1, 3, 5)),
    "A": (7, (5,), (6,)),
}
Look = tuple[tuple[str, str], ...]
Mark = tuple[str, Look, str]  # "path" or "text", its attributes, its path data or whole element


def flattened(svg: str) -> list[Mark]:
    """The marks in the order they are painted, at their places on the whole picture.

    Raises ValueError for a mark this module does not know, so that nothing is ever left out.
    """
    return list(_marks(ElementTree.fromstring(svg), 0.0, 0.0))


def _marks(node: ElementTree.Element, x: float, y: float) -> Iterator[Mark]:
    """The marks below a node in the order they are painted; x and y are where the node stands."""
    kind = node.tag.rpartition("}")[2]
    if node.get("display") == "none" or node.get("opacity") == "0":
        return
    if transform := node.get("transform"):
        moved = TRANSLATED.fullmatch(transform)
        if moved is None:
            raise ValueError(f"A chart holds the transform {transform}.")
        x, y = x + float(moved[1]), y + float(moved[2])
    if kind in ("svg", "g"):
        for child in node:
            yield from _marks(child, x, y)
    elif kind == "text":
        written = _written(_look(node, TEXT_LOOK))
        anchor = node.get("text-anchor") or node.get("anchor", "start")
        x, y = x + float(node.get("x", 0)), y + float(node.get("y", 0))
        place = f'x="{_short(x)}" y="{_short(y)}" anchor="{anchor}"'
        yield "text", (), f"<text {place}{written}>{escape(node.text or '')}</text>"
    elif kind in ("path", "line"):
        look = _look(node, SHAPE_LOOK)
        if any(name in ("fill", "stroke") for name, _ in look):
            yield "path", look, _line(node, x, y) if kind == "line" else _path(node, x, y)
    else:
        raise ValueError(f"A chart holds the element {kind}.")


def _look(node: ElementTree.Element, names: tuple[str, ...]) -> Look:
    look = {name: value for name in names if (value := node.get(name)) is not None}
    opacity = node.get("opacity", "1")
    if opacity != "1" and "fill" in look and "stroke" not in look:
        look["fill-opacity"] = opacity
    if "stroke" not in look:
        look.pop("stroke-dasharray", None)
        look.pop("stroke-width", None)
    return tuple(look.items())


def _written(look: Look) -> str:
    return "".join(f" {name}={quoteattr(value.removesuffix('px'))}" for name, value in look)


def _line(node: ElementTree.Element, x: float, y: float) -> str:
    end = f"{_short(x + float(node.get('x2', 0)))},{_short(y + float(node.get('y2', 0)))}"
    return f"M{_short(x)},{_short(y)}L{end}"


def _path(node: ElementTree.Element, x: float, y: float) -> str:
    return "".join(
        command + ",".join(map(_short, _moved(command, numbers, x, y)))
        for command, numbers in PIECE.findall(node.get("d", ""))
    )


def _moved(command: str, text: str, x: float, y: float) -> list[float]:
    numbers = [float(number) for number in NUMBER.findall(text)]
    if command in "hvlcaZz":  # counted from the point before, which has moved already
        return numbers
    if command not in ACROSS_AND_DOWN:
        raise ValueError(f"A chart holds the path command {command}.")
    step, across, down = ACROSS_AND_DOWN[command]
    return [
        number + (x if place % step in across else y if place % step in down else 0.0)
        for place, number in enumerate(numbers)
    ]


def _short(number: float) -> str:
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
