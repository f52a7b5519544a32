"""Single cells and headers by the contract, one at a time; what cannot be read raises."""

import re
from collections.abc import Mapping, Sequence
from datetime import date

from pipeline.catalogue import Exercise, Measure, catalogue
from tests.weeks.decks import Odd

NUMBER = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?|[+-]?[.,][0-9]+)\s*(.*)")
COUNT = re.compile(
    r"(?:trial|attempt|try|test|set|rep|no\.?|nr\.?|t|#)?\s*#?([0-9]{1,4})(?:[.,]0*)?", re.I
)
THERE_IS = ("yes", "y", "painful", "sore", "hurts")
THERE_IS_NONE = ("no", "none", "nopain", "painfree", "nil")
LETTERS = {"left": "left", "l": "left", "right": "right", "r": "right"}
SIDE_FIRST = re.compile(r"(left|right|l|r)[\s_-]+(.+)", re.I)
SIDE_LAST = re.compile(r"(.+?)[\s_-]+(left|right|l|r)(?:[\s_]*([0-9]{1,2}))?", re.I)
UNIT_LAST = re.compile(r"(.+?)\s*\(([^()]*)\)")


class Unreadable(Exception):
    """A cell that the contract does not let anybody read."""


def key(text: str) -> str:
    """A word or header without case, spaces and punctuation."""
    return re.sub(r"[\W_]+", "", text.casefold())


def is_blank(text: str) -> bool:
    """Whether a cell holds nothing, or one of the words for it."""
    return text.strip().lower() in catalogue().headers.missing


def word(text: str, spellings: Mapping[str, Sequence[str]]) -> str:
    """Which of a few words this is."""
    for name, written in spellings.items():
        if key(text) in {key(name), *map(key, written)}:
            return name
    raise Unreadable(text)


def number(text: str) -> tuple[float, str]:
    """A number and what stands behind it."""
    found = NUMBER.fullmatch(text.strip())
    if not found:
        raise Unreadable(text)
    return float(found[1].replace(",", ".")), found[2]


def whole(text: str) -> int:
    """A whole number from 1, with or without a word before it."""
    found = COUNT.fullmatch(text.strip())
    if not found or int(found[1]) < 1:
        raise Unreadable(text)
    return int(found[1])


def day(text: str) -> str:
    """A day as ISO writes it."""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise Unreadable(text) from None


def pain(text: str) -> float | Odd | None:
    """Pain of ten: a number anywhere, of a range the upper end, or a word."""
    if is_blank(text) and key(text) not in THERE_IS_NONE:
        return None
    numbers = re.findall(r"[0-9]+(?:[.,][0-9]+)?", re.sub(r"(?:/|of)\s*10\b", "", text))
    if numbers:
        most = max(float(one.replace(",", ".")) for one in numbers)
        if most > 10:
            raise Unreadable(text)
        return most
    if key(text) in THERE_IS:
        return 4.0
    if key(text) in THERE_IS_NONE:
        return 0.0
    if key(text) == "ouch":
        return Odd.EITHER
    raise Unreadable(text)


def note(text: str) -> str | None:
    """The words of a note."""
    return None if is_blank(text) else text.strip()


def measure(text: str) -> Measure:
    """The test of this name."""
    found = catalogue().find_measure(text)
    if found is None:
        raise Unreadable(text)
    return catalogue().measures[found]


def exercise(text: str) -> tuple[str, Exercise | None]:
    """Id of an exercise, or its name without punctuation where the dictionary lacks it."""
    found = catalogue().find_exercise(text)
    return (found, catalogue().exercises[found]) if found else (key(text), None)


def factor(text: str, wanted: str) -> float:
    """What one of the unit written here is in the wanted one."""
    given = catalogue().find_unit(text)
    found = None if given is None else catalogue().factor(given, wanted)
    if found is None:
        raise Unreadable(text)
    return found


def value(text: str, test: Measure, unit: str) -> float | None:
    """A trial in the catalogue's unit; None where the side was not tested."""
    if is_blank(text):
        return None
    figure, behind = number(text)
    written = behind or unit
    figure *= factor(written, test.unit) if written else 1.0
    low, high = test.hard
    if low <= figure <= high:
        return figure
    if text.strip() in catalogue().headers.missing_if_impossible:
        return None
    raise Unreadable(text)


def load(text: str, unit: str) -> float | None:
    """A load in kg; None where it is the own body or cannot be told."""
    if is_blank(text) or key(text) in ("bw", "bodyweight"):
        return None
    figure, behind = number(text)
    written = behind or unit
    return figure * (factor(written, "kg") if written else 1.0)


def test_and_side(header: str) -> tuple[Measure, str, int | None, str] | None:
    """Test, side, trial and unit of a header that names a test and a side."""
    unit = ""
    bracket = UNIT_LAST.fullmatch(header.strip())
    if bracket and catalogue().find_unit(bracket[2]):
        header, unit = bracket[1], bracket[2]
    found = SIDE_FIRST.fullmatch(header.strip())
    if found:
        side, rest = LETTERS[found[1].lower()], found[2]
        behind = re.fullmatch(r"(.+?)[\s_]+([0-9]{1,2})", rest)
        for name, trial in ((rest, None), (behind and behind[1], behind and int(behind[2]))):
            known = name and catalogue().find_measure(name)
            if known:
                return catalogue().measures[known], side, trial, unit
    found = SIDE_LAST.fullmatch(header.strip())
    known = found and catalogue().find_measure(found[1])
    if found and known:
        trial = int(found[3]) if found[3] else None
        return catalogue().measures[known], LETTERS[found[2].lower()], trial, unit
    return None
