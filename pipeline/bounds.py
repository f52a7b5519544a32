"""What a team may write: values within bounds that stand beside each, and names that exist."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, Field, field, fields, is_dataclass
from difflib import SequenceMatcher
from typing import Any, NamedTuple

from pipeline.errors import SquadsidesError


class Bounds(NamedTuple):
    """The least and the most that a number, or the length of a text, may be."""

    least: float
    most: float

    def check(self, where: str, value: object, *, is_whole: bool) -> None:
        """Raise SquadsidesError, naming the place and what was found, for all but such a number."""
        kinds = int if is_whole else int | float
        is_number = isinstance(value, kinds) and not isinstance(value, bool)
        if not (is_number and self.least <= value <= self.most):  # type: ignore[operator]
            kind = "whole number" if is_whole else "number"
            raise SquadsidesError(
                f"{where} should be a {kind} from {self.least:g} to {self.most:g}, found {value!r}."
            )


LINE_ENDS_AND_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")
ANY_LENGTH = Bounds(0, 1000)  # of a text nobody prints
ANY_COUNT = Bounds(1, 8)  # of the numbers of a list


def within(default: Any, least: float, most: float) -> Any:
    """A field and its bounds: those of a number, of each number of a list, of a text's length."""
    return field(default=default, metadata={"bounds": Bounds(least, most)})


def filled(kind: type, table: Mapping[str, Any], place: str) -> Any:
    """A frozen object from a table of a TOML file; what the table does not name keeps its default.

    Raises SquadsidesError naming the first key that is unknown, or whose value is of another type
    or out of its bounds.
    """
    known = {entry.name: entry for entry in fields(kind)}
    values: dict[str, Any] = {}
    for name, value in table.items():
        if name not in known:
            near = ", ".join(nearest(name, known))
            raise SquadsidesError(f"{place}: {name} is not a setting here; nearest: {near}.")
        values[name] = _fitted(known[name], value, f"{place}: {name}")
    return kind(**values)


def standard_of(entry: Field[Any]) -> Any:
    """What a field holds unless something else is said."""
    factory: Any = entry.default_factory
    return factory() if entry.default is MISSING else entry.default


def _fitted(entry: Field[Any], value: Any, where: str) -> Any:
    standard = standard_of(entry)
    bounds: Bounds = entry.metadata.get("bounds", ANY_LENGTH)
    if is_dataclass(standard) or isinstance(standard, dict):
        if not isinstance(value, dict):
            raise SquadsidesError(f"{where} should be a section of its own, found {value!r}.")
        return value if isinstance(standard, dict) else filled(type(standard), value, where)
    if not isinstance(standard, tuple):
        return _one(standard, value, bounds, where)
    if not isinstance(value, list):
        raise SquadsidesError(f"{where} should be a list in [ ], found {value!r}.")
    one = standard[0] if standard else ""
    if not isinstance(one, str):
        ANY_COUNT.check(f"{where}: how many there are", len(value), is_whole=True)
    return tuple(_one(one, each, bounds, where) for each in value)


def _one(standard: Any, value: Any, bounds: Bounds, where: str) -> Any:
    if not isinstance(standard, str):
        bounds.check(where, value, is_whole=isinstance(standard, int))
        return type(standard)(value)
    is_line = isinstance(value, str) and not LINE_ENDS_AND_CONTROLS.search(value)
    if not (is_line and len(value) <= bounds.most):
        raise SquadsidesError(
            f"{where} should be one line of text of at most {bounds.most:g} characters, found "
            f"{value!r}."
        )
    return value


def nearest(wanted: str, known: Iterable[str], n: int = 2) -> list[str]:
    """The n names most alike to what was written, best first."""
    text = wanted.casefold()

    def unlike(name: str) -> tuple[float, str]:
        return -SequenceMatcher(None, text, name.casefold()).ratio(), name

    return sorted(known, key=unlike)[:n]
