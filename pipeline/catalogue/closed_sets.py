"""Entries of TOML as frozen objects, their words held to the closed sets of the vocabulary."""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Any, TypeVar, get_args, get_type_hints

from pipeline.errors import SquadsidesError

Entry = TypeVar("Entry")
Word = TypeVar("Word", bound=StrEnum)


def entry(kind: type[Entry], place: str, values: Mapping[str, Any]) -> Entry:
    """An entry of this kind; lists become tuples, words of closed sets their members.

    `place` says where it stands. Raises SquadsidesError for the first word its set does not hold,
    TypeError for a key that is missing or misspelt.
    """
    sets = _sets(kind)
    made: dict[str, Any] = {}
    for name, value in values.items():
        if name in sets and isinstance(value, list | tuple):
            made[name] = words(sets[name], f"{place}: {name}", value)
        elif name in sets:
            made[name] = word(sets[name], f"{place}: {name}", value)
        else:
            made[name] = tuple(value) if isinstance(value, list) else value
    return kind(**made)


def word(known: type[Word], place: str, given: str) -> Word:
    """The member a word stands for; SquadsidesError with place and known words where none does."""
    try:
        return known(given)
    except ValueError:
        raise SquadsidesError(
            f"{place}: {given!r} is not one of {', '.join(filter(None, known))}."
        ) from None


def words(known: type[Word], place: str, given: Iterable[str]) -> tuple[Word, ...]:
    """The same for a row of words."""
    return tuple(word(known, place, one) for one in given)


def _sets(kind: type) -> dict[str, type[StrEnum]]:
    """Field -> closed set, of the fields that are a member of one or a tuple of members."""
    return {
        name: one
        for name, hint in get_type_hints(kind).items()
        for one in (hint, *get_args(hint))
        if isinstance(one, type) and issubclass(one, StrEnum)
    }
