"""A team's own figures of the practice rules, held against the limits that stand beside each."""

from collections.abc import Collection, Mapping
from typing import Any

from pipeline.bounds import Bounds, nearest
from pipeline.catalogue import Catalogue
from pipeline.errors import SquadsidesError

DUMBBELLS = ("per hand", "pair")  # what a logged load of two dumbbells may mean
ALL_NEEDED = ("order",)  # of these words none may be left out


def check_plan(own: Mapping[str, Any], book: Catalogue, place: str) -> None:
    """Raise SquadsidesError for the first of a team's figures that a block cannot be made with."""
    words = _words(book)
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
            if name in words:
                _check_words(where, value, words[name], is_list=isinstance(standard, tuple))
                if name in ALL_NEEDED and len(value) < len(words[name]):
                    raise SquadsidesError(f"{where} should hold each of {_listed(words[name])}.")
            else:
                _check_figure(where, value, standard, known.limits, name)


def _words(book: Catalogue) -> dict[str, Collection[str]]:
    """The words each figure that is no number may hold."""
    return {
        "order": book.rules.plan["session_order"].values["order"],
        "dumbbells": DUMBBELLS,
    }


def _check_words(where: str, value: Any, known: Collection[str], *, is_list: bool) -> None:
    if not is_list and value not in known:
        raise SquadsidesError(f"{where} should be one of {_listed(known)}, found {value!r}.")
    if not is_list:
        return
    if not isinstance(value, list | tuple) or not value or len({*map(str, value)}) < len(value):
        raise SquadsidesError(f"{where} should be a list of names, each once, found {value!r}.")
    for one in value:
        if not isinstance(one, str) or one not in known:
            near = ", ".join(nearest(str(one), known))
            raise SquadsidesError(f"{where} holds {one!r}, which nobody knows; nearest: {near}.")


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
