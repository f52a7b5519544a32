"""A header that names a test, such as "Single hop L 2 (cm)", taken apart."""

import re
from collections.abc import Iterator, Sequence
from functools import cache, lru_cache
from itertools import islice
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import ExportKind, catalogue, header_key
from pipeline.intake.parse.units import conversion, measures
from schemas.catalogue_words import WrittenSide
from schemas.vocabulary import Export, WorkedSide

COLUMNS = Export.SIDE_TESTS_COLUMNS
SIDE_COLUMNS = (
    WrittenSide.LEFT,
    WrittenSide.RIGHT,
    WrittenSide.BOTH,
    WrittenSide.INVOLVED,
    WrittenSide.UNINVOLVED,
    WrittenSide.DOMINANT,
    WrittenSide.NONDOMINANT,
)
MOST_WORDS = 24  # in a header; of more, no test is looked for
MOST_READINGS = 400  # a header that can be read in more ways says nothing
# Letters that follow a number belong to it (6m, 10rm); a number that follows letters does not (L2).
WORD = re.compile(r"[0-9]+[^\W\d_]+[^\W_]*|[^\W\d_]+|[0-9]+")
NUMBERED_SIDE = re.compile(r"([0-9]{1,2})([^\W\d_]+)")  # 2L
CHUNK = re.compile(r"[^\s_,;()\[\]]+")
BRACKET = re.compile(r"[(\[]([^)\]]*)[)\]]")
HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")  # singleHopLeft
RUN_ON = re.compile(r"(?i)(left|right)")  # singlehopleft
Found = tuple[str | None, int, int]  # a unit id, and where it stands in the header
SIDE_WORDS = 3  # "non dominant leg" is the longest name of a side


class NamedTest(NamedTuple):
    """One reading of a header; `side` is left, right, both …, blank where it names none."""

    measure: str
    side: str
    trial: int | None = None
    unit: str | None = None  # unit id, where the header names one
    summary: int | None = None  # place among the words for "mean"; a numbered trial sums up none

    @property
    def why_not(self) -> str:
        """Why no column can be read this way; blank where one can."""
        place = measures().place_of[self.measure]
        has_no_sides = measures().is_whole[place]
        if has_no_sides and self.side not in ("", "both"):
            return f"{self.measure} has no sides"
        if not has_no_sides and self.side in ("", WorkedSide.BOTH):
            return "names no side" if not self.side else "names no one side"
        if self.unit and np.isnan(conversion(place, self.unit).factor):
            return f"{self.unit} does not fit {self.measure}"
        return ""


class Word(NamedTuple):
    """One word of a header and where it stands."""

    text: str
    start: int
    end: int


@lru_cache(maxsize=4096)
def named_tests(header: str) -> tuple[NamedTest, ...]:
    """Readings of a header as a test and a side, the fullest name of a test first."""
    sound = [reading for reading in _readings(header) if not reading.why_not]
    return tuple(dict.fromkeys(_with_all_said(reading, sound) for reading in sound))


def _with_all_said(reading: NamedTest, sound: Sequence[NamedTest]) -> NamedTest:
    """The reading with the unit and the "max" that are part of the test's name as well."""
    alike = [other for other in sound if other[:3] == reading[:3]]
    unit = next((other.unit for other in alike if other.unit), None)
    sums = [other.summary for other in alike if other.summary is not None and not other.trial]
    summary = min(sums, default=None)
    return reading._replace(side=reading.side or WorkedSide.BOTH, unit=unit, summary=summary)


def why_unread(header: str, with_nearest: bool) -> str:
    """What is wrong with a header about a test, a side, pain or notes; blank where about none.

    `with_nearest`: of an unknown test the nearest ones are looked up, which takes a while.
    """
    known = _readings(header)
    readable = named_tests(header)
    if readable:  # so it gave way to others of its table
        said = dict.fromkeys(one.measure + f" trial {one.trial}" * bool(one.trial)
                             for one in readable if one.summary is None)  # fmt: skip
        if len({one.measure for one in readable}) > 1:
            return "can mean " + " or ".join(said)
        is_summary = readable[0].summary is not None
        return "sums up other columns" if is_summary else "another column has this trial"
    if known:
        return known[0].why_not
    words = [word.text for word in _words(header.casefold())]
    if _other_words() & set(words):
        return "pain and notes are read from columns headed pain and note"
    if len(words) > MOST_WORDS:
        return ""
    named = list(_without_side(words))
    if not named[0][0] or not all(rest for _, rest, _ in named):
        return ""
    near = catalogue().nearest_measures(" ".join(named[0][1])) if with_nearest else []
    return "no known test" + (f"; nearest: {', '.join(near)}" if near else "")


@lru_cache(maxsize=4096)
def _readings(header: str) -> tuple[NamedTest, ...]:
    for parted in (header, HUMP.sub(" ", header), RUN_ON.sub(r" \1 ", header)):
        text = parted.casefold()  # before anything is counted: it may change the length
        words = _words(text)
        found = list(_of_words(text, words)) if 0 < len(words) <= MOST_WORDS else []
        if found:
            found.sort(key=lambda reading: reading[0])  # words left over beside the test's name
            return tuple(dict.fromkeys(reading for _, reading in found))
    return ()


def _words(text: str) -> list[Word]:
    words: list[Word] = []
    for match in WORD.finditer(text):
        numbered = NUMBERED_SIDE.fullmatch(match[0])
        if numbered and _sides().get(numbered[2]) in ("left", "right"):
            middle = match.start() + len(numbered[1])
            words.append(Word(numbered[1], match.start(), middle))
            words.append(Word(numbered[2], middle, match.end()))
        else:
            words.append(Word(match[0], *match.span()))
    return words


def _of_words(text: str, words: Sequence[Word]) -> Iterator[tuple[int, NamedTest]]:
    """Every way in which the words are a test with more beside it, and how many words are."""
    for name, beside in islice(_parted(text, words), MOST_READINGS):
        measure = catalogue().find_measure(" ".join(name))
        if measure:
            yield len(words) - len(name), beside._replace(measure=measure)


def _parted(text: str, words: Sequence[Word]) -> Iterator[tuple[list[str], NamedTest]]:
    """Words that may name a test, and what stands beside them."""
    for unit, start, end in _units(text, words):
        rest = [word.text for word in words if not start <= word.start < end]
        for side, sideless, at in _without_side(rest):
            for trial, numberless in _without_trial(sideless, at if side else len(sideless)):
                for summary, name in _without_extras(numberless):
                    if name:
                        yield name, NamedTest("", side, trial, unit, summary)


def _units(text: str, words: Sequence[Word]) -> list[Found]:
    """Units a header may name and where they stand, first that it names none."""
    find = catalogue().find_unit
    spans = {match.span(): match[1] for match in BRACKET.finditer(text)}
    spans |= {match.span(): match[0] for match in CHUNK.finditer(text)}
    spans |= {(word.start, word.end): text[word.start : word.end] for word in words}
    found = [(find(unit), *span) for span, unit in spans.items() if find(unit)]
    found = [one for one in found if not any(_is_inside(one, other) for other in found)]
    # Of a sign that is no word, such as % or °, nothing would be left to see.
    signs = [one for one in found if not WORD.search(text[one[1] : one[2]])]
    return signs or [(None, 0, 0), *found]


def _is_inside(unit: Found, other: Found) -> bool:
    """Whether a unit is a part of another: the W of W/kg."""
    _, start, end = unit
    return other[1] <= start and end <= other[2] and other[1:] != (start, end)


def _without_side(words: Sequence[str]) -> Iterator[tuple[str, list[str], int]]:
    """Side, the words without it, and the place it stood at; a blank side where none is named."""
    found = False
    for start in range(len(words)):
        for end in range(start + 1, min(start + SIDE_WORDS, len(words)) + 1):
            side = _sides().get("".join(words[start:end]))
            if side:
                found = True
                yield side, [*words[:start], *words[end:]], start
    if not found:
        yield "", list(words), len(words)


def _without_trial(words: list[str], side_at: int) -> Iterator[tuple[int | None, list[str]]]:
    """Trial number and the words without it; it stands beside the side, last or after "trial"."""
    yield None, words
    for place, word in enumerate(words):
        if not word.isdecimal() or len(word) > 2 or not int(word):
            continue
        if place and words[place - 1] in _kind().trial_words:
            yield int(word), [*words[: place - 1], *words[place + 1 :]]
        if place in (side_at - 1, side_at, len(words) - 1):
            yield int(word), [*words[:place], *words[place + 1 :]]


def _without_extras(words: list[str]) -> Iterator[tuple[int | None, list[str]]]:
    """Words without one that says nothing or "mean"; which of those it was."""
    yield None, words
    summaries = _kind().summary_words
    for place, word in enumerate(words):
        rest = [*words[:place], *words[place + 1 :]]
        if word in _kind().value_words:
            yield None, rest
        elif word in summaries:
            yield summaries.index(word), rest


def _kind() -> ExportKind:
    return catalogue().headers.kinds[COLUMNS]


@cache
def _sides() -> dict[str, str]:
    """Word for a side -> our name of it; of single letters only l and r are clear in a header."""
    words = catalogue().headers.sides
    return {
        word: name
        for name in SIDE_COLUMNS
        for word in map(header_key, (name, *words[name]))
        if len(word) > 1 or name in ("left", "right")
    }


@cache
def _other_words() -> frozenset[str]:
    """Words that make a header one of pain or notes, whatever test it names."""
    columns = _kind().columns
    return frozenset(word for name in ("pain", "note") for word in columns[name])
