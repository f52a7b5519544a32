"""A team's own figures of the practice rules, held against the limits that stand beside each."""

from collections.abc import Collection, Mapping
from typing import Any

from pipeline.bounds import Bounds, nearest
from pipeline.catalogue import Catalogue
from pipeline.errors import SquadsidesError

# The words each figure that is no number may hold: what a logged load of two dumbbells means.
WORDS = {"dumbbells": ("per hand", "pair")}


def check_plan(own: Mapping[str, Any], book: Catalogue, place: str) -> None:
    """Raise SquadsidesError for the first of a team's figures that a block cannot be made with."""
    for rule, figures in own.items():
        if rule not in book.rules.plan or not isinstance(figures, Mapping):
            near = ", ".join(nearest(rule, book.rules.plan))
            raise SquadsidesError(
                f"{place}: plan: {rule} is not a practice rule with figures below it; nearest: "
                f"{near}."
            )
        known = book.rules.plan[rule]
        for name, value in figures.items():
            where = f"{place}: plan: {rule}: {name}"
            if name not in known.values:
                near = ", ".join(nearest(name, known.values))
                hint = f"; nearest: {near}" if near else ", which has none"
                raise SquadsidesError(f"{where} is not a figure of this rule{hint}.")
            standard = known.values[name]
            if name in WORDS:
                _check_word(where, value, WORDS[name])
            else:
                _check_figure(where, value, standard, known.limits, name)


def _check_word(where: str, value: Any, known: Collection[str]) -> None:
    if value not in known:
        raise SquadsidesError(f"{where} should be one of {_listed(known)}, found {value!r}.")


def _check_figure(
    where: str, value: Any, standard: Any, limits: Mapping[str, Bounds], name: str
) -> None:
    if isinstance(standard, Mapping):
        if not isinstance(value, Mapping) or value.keys() != standard.keys():
            raise SquadsidesError(f"{where} should be like {standard!r}, found {value!r}.")
        for part, one in standard.items():
            _check_figure(f"{where}: {part}", value[part], one, limits, part)
    elif isinstance(standard, tuple):
        if not isinstance(value, list | tuple) or len(value) != len(standard):
            raise SquadsidesError(
                f"{where} should be a pair like {list(standard)!r}, found {value!r}."
            )
        for one in value:
            _check_figure(where, one, standard[0], limits, name)
        if list(value) != sorted(value):
            raise SquadsidesError(f"{where} should go from low to high, found {value!r}.")
    else:
        limits[name].check(where, value, is_whole=isinstance(standard, int))


def _listed(words: Collection[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)
