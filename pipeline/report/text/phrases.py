"""The texts of the reports in one language, read from a file under schemas/phrases/.

Python decides which sentence is said; the file says how. A process speaks one language at a time,
that of the page or sheet it is at.
"""

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Any

from babel import Locale, UnknownLocaleError
from babel.plural import PluralRule

from pipeline.errors import SquadsidesError
from pipeline.team_files import text_of

FOLDER = Path(__file__).parents[3] / "schemas" / "phrases"
ENGLISH = "english"
LOCALE = "locale"  # the key under which a file names its locale
# Forms of a counted phrase, by its `count`: what CLDR calls the plural categories of a language.
CATEGORIES = {"zero", "one", "two", "few", "many", "other"}


@dataclass(frozen=True)
class Phrase:
    """One entry of a language: a text, the forms of a counted one, or a row of titles."""

    forms: Mapping[str, str]
    names: frozenset[str]  # what its placeholders are called
    titles: tuple[str, ...] = ()
    plural: PluralRule | None = None  # of a counted one

    def said(self, key: str, values: Mapping[str, Any]) -> str:
        """The text with its placeholders filled; ValueError where their names do not agree."""
        if values.keys() != self.names:
            raise ValueError(f"{key} takes {sorted(self.names)}, got {sorted(values)}.")
        text = self.forms["text" if "text" in self.forms else self._form(values["count"])]
        return text.format_map(values) if values else text

    def _form(self, count: int) -> str:
        if count == 0 and "zero" in self.forms:  # said in words of its own, whatever the language
            return "zero"
        assert self.plural is not None
        return self.plural(count)

    @property
    def lacks(self) -> set[str]:
        """Forms of its language that a counted phrase does not have, and forms it has too many."""
        if self.plural is None:
            return set()
        return (self.forms.keys() ^ {*self.plural.tags, "other"}) - {"zero"}


@dataclass(frozen=True)
class Spoken:
    """What a language file holds."""

    phrases: Mapping[str, Phrase]  # by dotted key
    tables: Mapping[str, Mapping[str, Phrase]]  # by all but the last part of it, then by that
    locale: Locale


@dataclass(frozen=True)
class Language:
    """A language file, whole: it travels with a page, so that printing it needs no file."""

    text: str

    def speak(self) -> tuple[Callable[..., str], Callable[[str], tuple[str, ...]]]:
        """Speak this language from here on; gives a template its `say` and `titles`."""
        global _spoken
        _spoken = parsed(self.text)
        return say, titles

    @property
    def code(self) -> str:
        """The code of the language, for screen readers: `en`."""
        return str(parsed(self.text).locale.language)


def say(key: str, **values: object) -> str:
    """The text of `key` in the language spoken now, its placeholders filled by name."""
    return _spoken.phrases[key].said(key, values)


def say_of(key: str, word: str, **values: object) -> str:
    """The sentence of a word of a closed set, one of those that `said_sets` has under this key.

    A language is held against these sets when it loads; KeyError for any other word, which costs
    the page it would have stood on.
    """
    phrase = _spoken.tables[key].get(word)
    if phrase is None:
        raise KeyError(f"{key}.{word}")
    return phrase.said(key, values)


def titles(key: str) -> tuple[str, ...]:
    """A row of titles: the head of a table."""
    return _spoken.phrases[key].titles


def locale() -> Locale:
    """What CLDR knows of the language spoken now: months, marks, lists."""
    return _spoken.locale


@cache
def language(name: str) -> Language:
    """A language by its name under schemas/phrases/, or by the path of a TOML file.

    Raises SquadsidesError where the file is not there; naming the words of closed sets for which
    English lacks a sentence, or the phrases in which another language differs from English by more
    than its words.
    """
    path = Path(name) if name.endswith(".toml") else FOLDER / f"{name}.toml"
    try:
        found = Language(text_of(path))
        phrases = parsed(found.text).phrases
    except OSError:
        known = ", ".join(sorted(file.stem for file in FOLDER.glob("*.toml")))
        raise SquadsidesError(
            f"There is no language {name}; known: {known}, or the path of a TOML file."
        ) from None
    except ValueError as broken:
        raise SquadsidesError(f"The language file {path.name} cannot be read: {broken}") from None
    if name == ENGLISH:
        from pipeline.report.text.said_sets import faults  # whoever only prints needs no catalogue

        _refuse(path.name, faults(phrases))
    else:
        _refuse(path.name, _differences(phrases, parsed(language(ENGLISH).text).phrases))
    return found


@cache
def parsed(text: str) -> Spoken:
    """What a language file holds; ValueError where it cannot be read or names no locale."""
    table = tomllib.loads(text)
    name = table.pop(LOCALE, "")
    try:
        spoken = Locale.parse(name)
    except (UnknownLocaleError, ValueError, TypeError):
        raise ValueError(
            f"its locale should be one that CLDR knows, such as en_GB, found {name!r}"
        ) from None
    phrases: dict[str, Phrase] = {}
    tables: dict[str, dict[str, Phrase]] = {}
    for above, last, phrase in _entries("", table, spoken.plural_form):
        phrases[above + last] = phrase
        tables.setdefault(above.removesuffix("."), {})[last] = phrase
    return Spoken(phrases, tables, spoken)


def _entries(
    above: str, table: Mapping[str, Any], plural: PluralRule
) -> Iterator[tuple[str, str, Phrase]]:
    for name, entry in table.items():
        if isinstance(entry, str):
            yield above, name, Phrase({"text": entry}, _placeholders(entry))
        elif isinstance(entry, list):
            yield above, name, Phrase({}, frozenset(), tuple(entry))
        elif "other" in entry and entry.keys() <= CATEGORIES:
            named = frozenset({"count"}).union(*map(_placeholders, entry.values()))
            yield above, name, Phrase(entry, named, plural=plural)
        else:
            yield from _entries(f"{above}{name}.", entry, plural)


def _placeholders(text: str) -> frozenset[str]:
    return frozenset(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def _differences(found: Mapping[str, Phrase], english: Mapping[str, Phrase]) -> dict[str, set[str]]:
    shared = found.keys() & english.keys()
    return {
        "missing": english.keys() - found.keys(),
        "not known": found.keys() - english.keys(),
        "with other {placeholders} or another number of titles than in English": {
            key for key in shared if _shape(found[key]) != _shape(english[key])
        },
        "with too few or too many plural forms for its locale": {
            f"{key} ({', '.join(sorted(one.lacks))})" for key, one in found.items() if one.lacks
        },
    }


def _refuse(name: str, faults: Mapping[str, set[str]]) -> None:
    """Raise SquadsidesError where there are faults: what is wrong -> keys."""
    told = [f"{fault}: {', '.join(sorted(keys))}" for fault, keys in faults.items() if keys]
    if told:
        raise SquadsidesError(f"The language file {name} is not complete. {'; '.join(told)}.")


def _shape(phrase: Phrase) -> tuple[bool, frozenset[str], int]:
    return "text" in phrase.forms, phrase.names, len(phrase.titles)


_spoken = parsed(text_of(FOLDER / f"{ENGLISH}.toml"))
