"""What each row of a table says by the contract."""

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from pipeline.catalogue import Measure, catalogue
from tests.weeks import naive_cells as cells
from tests.weeks.decks import Odd
from tests.weeks.exports import BLANK, REFUSED, Said, Truth
from tests.weeks.naive_cells import Unreadable
from tests.weeks.naive_tables import SIDED, Table

ARMS = {"push", "pull", "grip", "carry", "shoulder", "elbow"}  # patterns that the hand decides


@dataclass
class Row:
    """One row: what it says, and whether some cell of it cost itself."""

    line: int
    truth: Truth
    has_lost: bool = False
    has_lost_pain: bool = False
    # Whom and what day pain or a note is about that nobody can read: an id and a day, where told.
    hole: tuple[str | None, str | None] | None = None


@dataclass(frozen=True)
class Known:
    """The people of the roster, or nobody where there is none."""

    ids: dict[str, str] = field(default_factory=dict)  # as written, loosened or by name -> id
    sides: dict[str, dict[str, str | None]] = field(default_factory=dict)  # id -> column -> side
    is_open: bool = True  # everyone named is a person

    def athlete(self, text: str) -> str:
        """The person an id or a name is."""
        if self.is_open:
            if cells.is_blank(text):
                raise Unreadable(text)
            return text.strip()
        found = self.ids.get(text.strip(), self.ids.get(loosened(text)))
        if found is None:
            raise Unreadable(text)
        return found

    def side(self, word: str, athlete: str, by_hand: bool) -> str:
        """left, right or both for a word in a column of sides."""
        if word in ("left", "right", "both", "each", "alternating"):
            return word
        if word not in SIDED:
            raise Unreadable(word)
        column = "dominant_hand" if by_hand else "dominant_foot"
        own = self.sides.get(athlete, {}).get(
            "known_side" if word in ("involved", "uninvolved") else column
        )
        if own not in ("left", "right"):
            raise Unreadable(word)
        is_other = word in ("uninvolved", "nondominant")
        return {"left": "right", "right": "left"}[own] if is_other else own


def loosened(text: str) -> str:
    """An id without case, leading zeros and decimal zeros."""
    plain = re.sub(r"^([0-9]+)\.0+$", r"\1", text.strip().lower())
    return re.sub(r"^0+([0-9]+)$", r"\1", plain)


def _get(table: Table, row: Sequence[str], name: str) -> str:
    return row[table.columns.index(name)] if name in table.columns else ""


def rows_of(table: Table, known: Known) -> list[Row]:
    """What each row of a table of tests or training says."""
    read = {"side_tests_long": _long, "side_tests_wide": _wide, "columns": _columns}.get(
        table.kind, _log
    )
    found = []
    for line, row in table.rows:
        made = Row(line, BLANK)
        try:
            made.truth = read(table, row, known, made)
        except Unreadable:
            made.truth = REFUSED
        if made.has_lost_pain or (made.truth is REFUSED and _says_something(table, row)):
            made.hole = _about(table, row, known)
        found.append(made)
    return found


def _says_something(table: Table, row: Sequence[str]) -> bool:
    """Whether a row says that something hurts, or has a note."""
    try:
        hurts = cells.pain(_get(table, row, "pain")) not in (None, 0.0)
    except Unreadable:
        hurts = True
    return hurts or cells.note(_get(table, row, "note")) is not None


def _about(table: Table, row: Sequence[str], known: Known) -> tuple[str | None, str | None]:
    """Whom and what day a row is about, each None where that cannot be read."""
    who: str | None = None
    day: str | None = None
    with suppress(Unreadable):
        who = known.athlete(_get(table, row, "athlete_id"))
    with suppress(Unreadable):
        day = cells.day(_get(table, row, "tested_on") or _get(table, row, "trained_on"))
    return who, day


def _beside(table: Table, row: Sequence[str], made: Row) -> tuple[float | Odd | None, str | None]:
    """Pain and note of a row; pain that cannot be read costs itself."""
    try:
        pain = cells.pain(_get(table, row, "pain"))
    except Unreadable:
        pain, made.has_lost, made.has_lost_pain = None, True, True
    return pain, cells.note(_get(table, row, "note"))


def by_hand(test: Measure) -> bool:
    """Whether the hand decides which side of a test is the dominant one."""
    return test.lead.by == "hand" or (test.lead.by == "none" and test.region != "lower")


def _long(table: Table, row: Sequence[str], known: Known, made: Row) -> Truth:
    pain, note = _beside(table, row, made)
    text = _get(table, row, "value")
    if cells.is_blank(text) and pain is None and note is None and not made.has_lost:
        return BLANK
    test = cells.measure(_get(table, row, "test"))
    figure = cells.value(text, test, _unit(table, row))
    if figure is None and pain is None and note is None and not made.has_lost:
        return BLANK
    who, on = (
        known.athlete(_get(table, row, "athlete_id")),
        cells.day(_get(table, row, "tested_on")),
    )
    written = _get(table, row, "side")
    if test.kind == "whole_body":
        side = "both" if cells.is_blank(written) else cells.word(written, catalogue().headers.sides)
        if side != "both":
            raise Unreadable(written)
    else:
        side = known.side(cells.word(written, catalogue().headers.sides), who, by_hand(test))
        if side not in ("left", "right"):
            raise Unreadable(written)
    trial = _get(table, row, "trial")
    number = None
    if not cells.is_blank(trial):
        try:
            number = cells.whole(trial)
        except Unreadable:
            made.has_lost = True
    return Truth("read", (Said(who, on, test.id, side, number, (figure,), pain, note),))


def _unit(table: Table, row: Sequence[str]) -> str:
    text = _get(table, row, "unit")
    return "" if cells.is_blank(text) else text


def _wide(table: Table, row: Sequence[str], known: Known, made: Row) -> Truth:
    pain, note = _beside(table, row, made)
    filled = [
        (*name.split(), text)
        for name, text in zip(table.columns, row, strict=True)
        if name and name.split()[0] in SIDED and not cells.is_blank(text)
    ]
    if not filled and pain is None and note is None and not made.has_lost:
        return BLANK
    who, on = (
        known.athlete(_get(table, row, "athlete_id")),
        cells.day(_get(table, row, "tested_on")),
    )
    test = cells.measure(_get(table, row, "test"))
    said = []
    for word, *number, text in filled:
        side = known.side(word, who, by_hand(test))
        trial = int(number[0]) if number else None
        figure = cells.value(text, test, _unit(table, row))
        if figure is not None:
            said.append(Said(who, on, test.id, side, trial, (figure,), pain, note))
    if not said:
        if pain is None and note is None:
            return BLANK
        said.append(Said(who, on, test.id, "", None, (None,), pain, note))
    return Truth("read", tuple(said))


def _columns(table: Table, row: Sequence[str], known: Known, made: Row) -> Truth:
    pain, note = _beside(table, row, made)
    filled = [
        (*named, text)
        for header, text in zip(table.header, row, strict=True)
        if (named := cells.test_and_side(header)) and not cells.is_blank(text)
    ]
    if not filled:
        if pain is None and note is None and not made.has_lost:
            return BLANK
        raise NotImplementedError("pain beside no test at all: no week holds such a row")
    who, on = (
        known.athlete(_get(table, row, "athlete_id")),
        cells.day(_get(table, row, "tested_on")),
    )
    said = tuple(
        Said(who, on, test.id, side, trial, (cells.value(text, test, unit),), pain, note)
        for test, side, trial, unit, text in filled
    )
    return Truth("read", said)


def _log(table: Table, row: Sequence[str], known: Known, made: Row) -> Truth:
    pain, note = _beside(table, row, made)
    sides = ("_left", "_right") if "reps_left" in table.columns else ("",)
    work = {end: (_get(table, row, f"reps{end}"), _get(table, row, f"load{end}")) for end in sides}
    if all(cells.is_blank(text) for pair in work.values() for text in pair):
        return BLANK
    who, on = (
        known.athlete(_get(table, row, "athlete_id")),
        cells.day(_get(table, row, "trained_on")),
    )
    written = _get(table, row, "exercise")
    if cells.is_blank(written):
        raise Unreadable(written)
    what, entry = cells.exercise(written)
    count, given = 1, None
    if "set_number" in table.columns:
        given = cells.whole(_get(table, row, "set_number"))
    if "sets" in table.columns:
        count = cells.whole(_get(table, row, "sets"))
    said = []
    for end, (reps, load) in work.items():
        if cells.is_blank(reps) and end:
            continue
        times = re.fullmatch(r"\s*([0-9]+)\s*[xX×]\s*([0-9]+)\s*", reps)
        if times:
            count, given, reps = int(times[1]), None, times[2]
        done, behind = cells.number(reps)
        if behind or done != int(done) or done > 500:
            raise Unreadable(reps)
        kilos = None
        try:
            kilos = cells.load(load, "")
            kilos = cells.load(load, _unit(table, row))
        except Unreadable:
            if kilos is not None:  # the unit is what cannot be read
                raise
            made.has_lost = True
        if _unit(table, row):
            cells.factor(_unit(table, row), "kg")
        for side in _sides(end, _get(table, row, "side"), entry, known, who):
            number = None if "sets" in table.columns or times else given
            one = Said(who, on, what, side, number, (done, kilos), pain, note)
            said += [one] * count
    made.has_lost |= _has_lost(table, row)
    return Truth("read", tuple(said))


def _sides(end: str, written: str, entry: object, known: Known, who: str) -> tuple[str, ...]:
    """The sides that a row of a log is about."""
    if end:
        return (end[1:],)
    if cells.is_blank(written):
        if getattr(entry, "laterality", "") != "bilateral":
            raise Unreadable(written)
        return ("both",)
    hand = bool(ARMS & set(getattr(entry, "pattern", "").split("_")))
    side = known.side(cells.word(written, catalogue().headers.sides), who, hand)
    return ("left", "right") if side == "each" else (side,)


def _has_lost(table: Table, row: Sequence[str]) -> bool:
    """Whether some cell beside the work of a log cannot be read."""
    tempo = r"(?i)[0-9x]{1,2}(?:[-/.: ][0-9x]{1,2}){2,3}|[0-9x]{3,4}"
    for name in ("order", "rir", "rpe", "tempo"):
        text = _get(table, row, name).strip()
        if cells.is_blank(text):
            continue
        try:
            if name == "tempo" and not re.fullmatch(tempo, text):
                return True
            if name == "order":
                cells.whole(text)
            if name in ("rir", "rpe"):
                figure, behind = cells.number(text)
                if behind or not 0 <= figure <= 10:
                    return True
        except Unreadable:
            return True
    return False
