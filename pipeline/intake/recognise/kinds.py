"""Which kind of export a header row announces, and which column means what."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from pipeline.catalogue import ExportKind, catalogue, header_key
from pipeline.intake.recognise.named_tests import COLUMNS, NamedTest, named_tests, why_unread
from schemas.vocabulary import Export

LONG, WIDE = Export.SIDE_TESTS_LONG, Export.SIDE_TESTS_WIDE
LONGEST_HEADER = 200  # characters; longer is a text, and no header
MANY_UNKNOWN = 20  # the nearest tests are looked up for the first headers that are not used
TEST_AND_SIDE = "test and its side"  # what a table of one column a test and side cannot lack
BRACKET = re.compile(r"(.*?)[\[(]([^\])]*)[\])]?\s*")


@dataclass(frozen=True)
class Column:
    """One column we use: our name, the trial number in its header, and how staff named it."""

    name: str
    place: int
    header: str
    trial: int | None = None
    unit: str | None = None  # unit id, where the header names one
    measure: str | None = None  # of a column for one test and side: its id; `name` is the side


@dataclass(frozen=True)
class Recognition:
    """A header row read as one kind of export."""

    kind: ExportKind
    columns: tuple[Column, ...]
    missing: tuple[str, ...]
    spare: tuple[str, ...]  # headers we have no use for

    @property
    def is_complete(self) -> bool:
        """Every required column is there."""
        return not self.missing

    @property
    def merit(self) -> tuple[bool, float, int]:
        """Order of preference among readings of the same row."""
        needed = len(self.kind.required) + len(self.kind.one_of) + (self.kind.name == COLUMNS)
        found = needed - len(self.missing)
        # The decision sheet shows squad and athlete as well; its flag ids tell it apart.
        is_decisions = self.kind.name == "decisions" and self.is_complete
        known = len(self.columns)
        if self.kind.name == COLUMNS and not self.is_complete:  # what its headers were meant for
            known += sum(bool(why_unread(header, with_nearest=False)) for header in self.spare)
        return self.is_complete, found + 10 * is_decisions, known

    def column(self, name: str) -> Column | None:
        """The column of this name without a trial number, if there is one."""
        return next((column for column in self.columns if column.name == name), None)


@dataclass(frozen=True)
class Heading:
    """One header cell taken apart."""

    text: str
    keys: tuple[str, ...]  # from the fullest reading to the barest
    unit: str | None


@cache
def spellings(kind: str) -> Mapping[str, str]:
    """Normalised header -> our column name, for one kind."""
    columns = catalogue().headers.kinds[kind].columns
    known = {key: name for name, keys in columns.items() for key in keys}
    return known | {header_key(name): name for name in columns}


@cache
def first_column_keys(*columns: str) -> frozenset[str]:
    """Headers of the column every table has: the ids of athletes or flags, or else names."""
    return frozenset(
        key
        for kind in catalogue().headers.kinds
        for key, name in spellings(kind).items()
        if name in (columns or ("athlete_id", "flag_id", "name"))
    )


@lru_cache(maxsize=4096)
def recognise(cells: tuple[str, ...]) -> Recognition | None:
    """The best reading of a header row; None where fewer than two columns are known."""
    headings = [_heading(cell) for cell in cells]
    if sum(_is_known(heading.keys) for heading in headings) < 2:  # as nearly every row of data
        return None
    readings = [_as_kind(kind, headings) for kind in catalogue().headers.kinds.values()]
    best = max(readings, key=lambda reading: reading.merit)
    return best if len(best.columns) >= 2 else None


def judge(rows: Sequence[Sequence[str]]) -> float:
    """How well the best header among these rows is known; for telling delimiters apart."""
    readings = [recognise(tuple(row)) for row in rows]
    merits = [reading.merit for reading in readings if reading is not None]
    if not merits:
        return 0.0
    is_complete, found, columns = max(merits)
    return 1000.0 * is_complete + 10 * found + columns


def explain(reading: Recognition) -> str:
    """What a table lacks to be read, in words."""
    found = ", ".join(column.header for column in reading.columns)
    lacks = " and ".join(f"the {_said(name)}" for name in reading.missing)
    spare = f"; not known: {', '.join(unused(reading))}" if reading.spare else ""
    return f"looks like {reading.kind.title}, but no column for {lacks}; found: {found}{spare}"


def unused(reading: Recognition) -> list[str]:
    """The headers we have no use for, those about a test or a side with what is wrong with them."""
    if reading.kind.name != COLUMNS:
        return list(reading.spare)
    said: list[str] = []
    for header in reading.spare:
        why = why_unread(header, with_nearest=len(said) < MANY_UNKNOWN)
        said.append(f"{header} ({why})" if why else header)
    return said


def _said(name: str) -> str:
    words = {"athlete_id": "athlete id", "tested_on": "test date", "trained_on": "training date"}
    words |= {"filmed_on": "film date", "set_number": "set number", "left": "left side"}
    words |= {"right": "right side", "flag_id": "flag id", "reps_left": "left repetitions"}
    words |= {"reps_right": "right repetitions", "reps": "repetitions"}
    return words.get(name, name)


def _heading(cell: str) -> Heading:
    text = " ".join(cell.split())
    if len(text) > LONGEST_HEADER:  # taking it apart would take long
        return Heading(f"{text[:20]} …", (), None)
    return _taken_apart(text)


@lru_cache(maxsize=4096)
def _taken_apart(text: str) -> Heading:
    bare, unit = text, None
    bracket = BRACKET.fullmatch(text)
    if bracket and bracket[1]:
        bare, unit = bracket[1], catalogue().find_unit(bracket[2])
    keys = [header_key(text), header_key(bare)]
    ending = re.fullmatch(r"(.+)[\s_,/]+([^\s_,/]+)", bare)
    if unit is None and ending:
        unit = catalogue().find_unit(ending[2])
        keys += [header_key(ending[1])] if unit else []
    return Heading(text, tuple(dict.fromkeys(key for key in keys if key)), unit)


@lru_cache(maxsize=4096)
def _is_known(keys: tuple[str, ...]) -> bool:
    """Whether a heading means something in any kind of export."""
    kinds = catalogue().headers.kinds.values()
    return any(_meaning(kind, keys) is not None for kind in kinds)


def is_header(cell: str) -> bool:
    """Whether a cell is a header by itself, of a column that is none of a side."""
    return not _own_headers().isdisjoint(_heading(cell).keys)


@cache
def _own_headers() -> frozenset[str]:
    return frozenset(
        key
        for kind in catalogue().headers.kinds.values()
        for key, name in spellings(kind.name).items()
        if name not in kind.numbered
    )


def _as_kind(kind: ExportKind, headings: Sequence[Heading]) -> Recognition:
    claims = [
        (place, heading, _meaning(kind, heading.keys)) for place, heading in enumerate(headings)
    ]
    taken: dict[tuple[str, int | None], Column] = {}
    # An exact name beats a synonym, and a fuller reading a barer one; then the left one wins.
    ranked = sorted(
        ((meaning[2], place, heading, meaning) for place, heading, meaning in claims if meaning),
        key=lambda claim: claim[:2],
    )
    for _, place, heading, (name, trial, rank) in ranked:
        unit = heading.unit if rank >= 2 else None  # a barer reading leaves the unit over
        taken.setdefault((name, trial), Column(name, place, heading.text, trial, unit))
    known = list(taken.values())
    if kind.name == COLUMNS:
        known += _test_columns(headings, {column.place for column in known})
    columns = _with_ids(kind, tuple(sorted(known, key=lambda column: column.place)))
    used = {column.place for column in columns}
    spare = tuple(
        heading.text
        for place, heading in enumerate(headings)
        if heading.text and place not in used and not set(heading.keys) & set(kind.shown)
    )
    return Recognition(kind, columns, _missing(kind, columns), spare)


def _with_ids(kind: ExportKind, columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """The columns; one of names stands in where a table that needs ids has none."""
    names = {column.name for column in columns}
    if "athlete_id" in names or "name" in kind.required:
        return columns
    return tuple(replace(c, name="athlete_id") if c.name == "name" else c for c in columns)


def _test_columns(headings: Sequence[Heading], used: set[int]) -> list[Column]:
    """Columns headed by a test and a side; of several for one trial none but the first is used."""
    read = {
        place: named_tests(heading.text)
        for place, heading in enumerate(headings)
        if heading.keys and place not in used
    }
    clear = {place: found[0] for place, found in read.items() if found}
    claims = Counter((one.measure, one.side) for one in clear.values())
    clear = {
        place: one for place, one in clear.items()
        if not any(claims[other.measure, other.side] for other in _rivals(read[place]))
    }  # fmt: skip
    counted = {(one.measure, one.side) for one in clear.values() if one.summary is None}
    taken: set[tuple[str, str, int | None]] = set()
    columns: list[Column] = []
    # A header without a number may stand several times, as trials from left to right.
    for place, one in sorted(clear.items(), key=lambda item: (item[1].summary or 0, item[0])):
        is_summary = one.summary is not None
        key = one.measure, one.side, one.trial
        if (key in taken and (one.trial or is_summary)) or (is_summary and key[:2] in counted):
            continue
        taken.add(key)
        header = headings[place].text
        columns.append(Column(one.side, place, header, one.trial, one.unit, one.measure))
    return columns


def _rivals(readings: Sequence[NamedTest]) -> list[NamedTest]:
    """Readings in which a number is the trial of another test: "L 3 hop", a triple hop or a hop."""
    first, *others = readings
    return [one for one in others if one.trial and not first.trial and one.measure != first.measure]


def _meaning(kind: ExportKind, keys: tuple[str, ...]) -> tuple[str, int | None, int] | None:
    """Our name, the trial number and how far-fetched the reading is (0: our own name)."""
    known = spellings(kind.name)
    for bareness, key in enumerate(keys):
        if key in known:
            name = known[key]
            return name, None, 2 * bareness + (key != header_key(name))
        numbered = _numbered(kind, key)
        if numbered:
            return (*numbered, 2 * bareness)
    return None


def _numbered(kind: ExportKind, key: str) -> tuple[str, int] | None:
    """left_1, r2, left_trial_3, trial_1_left: the side and the trial number."""
    if not kind.numbered:
        return None
    known = spellings(kind.name)
    words = ("", *sorted(kind.trial_words, key=len, reverse=True))
    behind, before = re.fullmatch(r"(\D+)(\d{1,2})", key), re.fullmatch(r"(\D*)(\d{1,2})(\D+)", key)
    for word in words:
        if behind and behind[1].endswith(word):
            name = known.get(behind[1].removesuffix(word))
            if name in kind.numbered and int(behind[2]):
                return name, int(behind[2])
        if before and before[1] == word and known.get(before[3]) in kind.numbered:
            return known[before[3]], int(before[2])
    return None


def _missing(kind: ExportKind, columns: Sequence[Column]) -> tuple[str, ...]:
    names = {column.name for column in columns}
    missing = [name for name in kind.required if name not in names]
    for ways in kind.one_of:
        if not any(set(way) <= names for way in ways):
            begun = next((way for way in ways if set(way) & names), ways[0])
            missing += [name for name in begun if name not in names]
    if kind.name == COLUMNS and not any(column.measure for column in columns):
        missing.append(TEST_AND_SIDE)
    return tuple(missing)
