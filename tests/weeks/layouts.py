"""Sessions of tests as files: one row a trial, left beside right, or one column a test and side."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache

from pipeline.catalogue import Measure, catalogue
from tests.weeks.decks import TRIALS_JUNK, Cell, Dealer, Odd, spelled
from tests.weeks.exports import BLANK, REFUSED, Export, Row, Said, Truth
from tests.weeks.people import headed
from tests.weeks.sessions import THOUSANDS, Session, digits

FROM_ROSTER = ("involved", "uninvolved", "dominant", "nondominant")
PAIRS = (("left", "right"), ("left", "right"), ("dominant", "nondominant"),
         ("involved", "uninvolved"))  # fmt: skip
NUMBERED = ("{side}_{n}", "{side} {n}", "{side} trial {n}", "trial_{n}_{side}", "{side}{n}")
# How people name a test and a side in one header, with and without the trial.
HEADS = (
    "{test} {side}", "{test} {letter}", "{side} {test}", "{letter} {test}", "{test}_{side}",
    "{test} - {side}", "{test} {letter} ({unit})", "{side} {test} ({unit})",
    "{letter} {test} ({unit})",
)  # fmt: skip
NUMBERED_HEADS = (
    "{test} {side} {n}", "{test} {letter} {n}", "{side} {test} {n}", "{test}_{side}_{n}",
    "{test} {letter}{n}", "{test} {side} {n} ({unit})",
)  # fmt: skip
FORMS = ("{}", "{}", "{}", "Trial {}", "#{}", "{}.0")
SLIP = "2062-03-09"  # a slip in the year, where it is that of few in its file
FAULTS = (
    ("athlete_id", "Zed 9"), ("athlete_id", ""), ("tested_on", "2026-02-31"), ("tested_on", "soon"),
    ("tested_on", ""), ("test", "moon jump"), ("test", ""), ("side", "middle"), ("side", ""),
    ("side", "both"), ("value", "14o"), ("value", "140-145"), ("value", "#DIV/0!"),
    ("value", "987654"), ("tested_on", SLIP), ("unit", "furlong"), ("unit", "barns"),
)  # fmt: skip


@dataclass
class File:
    """A file in the making: rows and what becomes of each."""

    columns: list[str]
    rows: list[dict[str, str]] = field(default_factory=list)
    truths: list[Truth] = field(default_factory=list)

    def add(self, row: dict[str, str], truth: Truth) -> None:
        """One more row, by our column names."""
        self.rows.append(row)
        self.truths.append(truth)

    def export(
        self, name: str, kind: str, header: Sequence[str], delimiter: str = ","
    ) -> tuple[Export, tuple[Truth, ...]]:
        """The finished file."""
        rows: tuple[Row, ...] = tuple(
            tuple(row.get(column, "") for column in self.columns) for row in self.rows
        )
        export = Export(name, kind, tuple(self.columns), tuple(header), rows, delimiter)
        return export, tuple(self.truths)


@cache
def names_of(measure: str) -> list[str]:
    """Everything a test may be called."""
    known = catalogue().measures[measure]
    return list(dict.fromkeys((known.id, known.name, known.short, *known.synonyms)))


@cache
def units_of(unit: str) -> list[tuple[str, float]]:
    """Spellings of a unit and of those that convert into it by a factor, and blank."""
    known = catalogue()
    same = [one for one in known.units.values() if one.quantity == known.units[unit].quantity]
    found = [
        (spelling, known.factor(one.id, unit) or 1.0)
        for one in same
        for spelling in (one.id, *one.spellings)
    ]
    return [("", 1.0), *found]


@cache
def side_cards(side: str) -> list[Cell]:
    """Spellings of one side, those that need the roster among them."""
    words = catalogue().headers.sides
    return [
        *spelled({side: words[side]}),
        *(cell for name in FROM_ROSTER for cell in spelled({name: words[name]})),
    ]


@cache
def blanks_of(limits: tuple[float, float]) -> list[str]:
    """What stands in the cell of a side that was not tested, in a test of these hard limits."""
    headers = catalogue().headers
    low, high = limits
    codes = [code for code in headers.missing_if_impossible if not low <= float(code) <= high]
    return [*headers.missing, *codes]


def value_text(value: float, measure: Measure, factor: float, comma: bool) -> tuple[str, float]:
    """A value typed in a unit of this factor, and the value that says in the catalogue's unit."""
    places = digits(measure)
    text = f"{value:.{places}f}" if factor == 1.0 else f"{value / factor:.6g}"
    if "e" in text:
        text = f"{value / factor:.9f}".rstrip("0")
    if comma and THOUSANDS.fullmatch(text):  # 1,025 could be a thousand and more
        text += "0"
    return (text.replace(".", ",") if comma else text), float(text) * factor


def side_cell(made: Session, side: str, dealer: Dealer) -> str:
    """A word for a side, of the roster's where the roster has it."""
    if side == "both":
        return str(dealer.next("side both", [*catalogue().headers.sides["both"], ""]))
    while True:
        card: Cell = dealer.next(f"side {side}", side_cards(side), 12)
        if card.means == side or made.person.turned(card.means, made.measure) == side:
            return card.text


def long_file(
    name: str, sessions: Sequence[Session], dealer: Dealer, numbering: str, delimiter: str = ","
) -> tuple[Export, tuple[Truth, ...]]:
    """One row a trial. `numbering`: given, blank, mixed (given first, then blank) or none."""
    optional = [c for c in ("unit", "pain", "note") if _needs(c, sessions) or not dealer.one_in(4)]
    columns = ["athlete_id", "tested_on", "test", "side", "value", *optional]
    columns += [] if numbering == "none" else ["trial"]
    dealer.chance.shuffle(columns)
    file = File(columns)
    for made in sessions:
        for side, values in made.values.items():
            for number, value in enumerate(values or [None], start=1):
                _trial(file, made, side, number, value, numbering, dealer, delimiter == ";")
    _faulty(file, dealer)
    spellings = catalogue().headers.kinds["side_tests_long"].columns
    header = [headed(dealer, "long", column, spellings[column]) for column in columns]
    return file.export(name, "long", header, delimiter)


def _needs(column: str, sessions: Iterable[Session]) -> bool:
    return any(getattr(made, column, None) for made in sessions)


def _trial(
    file: File, made: Session, side: str, number: int, value: float | None, numbering: str,
    dealer: Dealer, comma: bool,
) -> None:  # fmt: skip
    """One row of a long file, and sometimes the same row again."""
    measure, person = made.measure, made.person
    unit, factor = ("", 1.0)
    if "unit" in file.columns and dealer.one_in(3):
        unit, factor = dealer.next(f"unit {measure.unit}", units_of(measure.unit))
    said: float | None = None
    if value is None:
        text = dealer.next(f"blank {measure.hard}", blanks_of(measure.hard))
    else:
        text, said = value_text(value, measure, factor, comma)
        if not unit and dealer.one_in(12):
            text, said = _with_unit(value, measure, dealer, comma)
    pain, note = _beside(file, made, side, number, dealer)
    is_given = numbering == "given" or (numbering == "mixed" and number == 1)
    typed = dealer.next("form of a trial", FORMS).format(number)
    if not is_given:
        typed = dealer.next("trial junk", TRIALS_JUNK).text if dealer.one_in(9) else ""
    row = {
        "athlete_id": person.id, "tested_on": made.day, "side": side_cell(made, side, dealer),
        "test": dealer.next(f"name {measure.id}", names_of(measure.id)), "value": text,
        "unit": unit, "trial": typed, "pain": pain.text, "note": note.text,
    }  # fmt: skip
    truth = Truth("read", (
        Said(person.id, made.day, measure.id, side, number if is_given else None, (said,),
             pain.means, note.means),
    ))  # fmt: skip
    if said is None and pain.means is None and note.means is None:
        truth = BLANK
    file.add(row, truth)
    if said is not None and numbering != "mixed" and dealer.one_in(10):
        file.add(row, truth)


def _with_unit(value: float, measure: Measure, dealer: Dealer, comma: bool) -> tuple[str, float]:
    """A value with a unit typed behind it."""
    unit, factor = dealer.next(f"unit behind {measure.unit}", units_of(measure.unit)[1:])
    text, said = value_text(value, measure, factor, comma)
    return f"{text} {unit}", said


def _beside(file: File, made: Session, side: str, number: int, dealer: Dealer) -> tuple[Cell, Cell]:
    """Pain and note of a row: those of the story on the first trial, else now and then some."""
    pain = note = Cell("")
    if "pain" in file.columns:
        pain = made.pain.get(side, pain) if number == 1 else pain
        if not pain.text and dealer.one_in(25):
            pain = dealer.cell("pain", 1.0, 3)
    if "note" in file.columns:
        note = made.note.get(side, note) if number == 1 else note
        if not note.text and dealer.one_in(20):
            note = dealer.cell("note", 1.0, 3)
    return pain, note


def _faulty(file: File, dealer: Dealer) -> None:
    """One row with one fault in a cell that the row needs."""
    good = next((n for n, t in enumerate(file.truths) if t.verdict == "read"), None)
    if good is None or dealer.one_in(2):
        return
    column, text = dealer.next("fault of a test", FAULTS)
    (said,) = file.truths[good].said
    is_whole = catalogue().measures[said.what].kind == "whole_body"
    if column not in file.columns or said.values[0] is None or (column == "side" and is_whole):
        return
    if text == "Zed 9" and not dealer.has_roster:  # where everybody named is somebody
        return
    if text == SLIP and len({one.athlete for t in file.truths for one in t.said}) < 3:
        return
    file.add({**file.rows[good], column: text}, REFUSED)


def wide_file(
    name: str, sessions: Sequence[Session], dealer: Dealer, delimiter: str = ","
) -> tuple[Export, tuple[Truth, ...]]:
    """Left beside right: one pair of columns, or one a trial; or sides that the roster knows."""
    pair = dealer.next("pair", PAIRS if dealer.has_roster else PAIRS[:1])
    most = max(len(values) for made in sessions for values in made.values.values())
    has_numbers = most > 1 and not dealer.one_in(3)
    numbers: list[int | None] = list(range(1, most + 1)) if has_numbers else [None]
    sides = [(side, number) for number in numbers for side in pair]
    optional = [c for c in ("unit", "pain", "note") if _needs(c, sessions) or not dealer.one_in(4)]
    keys = [f"{side} {number}" for side, number in sides]
    file = File(["athlete_id", "tested_on", "test", *keys, *optional])
    for made in sessions:
        for at in range(1 if has_numbers else most):
            _wide_row(file, made, sides, at, dealer, delimiter == ";")
    spellings = catalogue().headers.kinds["side_tests_wide"].columns
    way = dealer.next("numbered header", NUMBERED)
    header = [
        headed(dealer, "wide", column, spellings[column]) if column in spellings
        else column.split()[0] if column.endswith("None")
        else way.format(side=column.split()[0], n=column.split()[1])
        for column in file.columns
    ]  # fmt: skip
    return file.export(name, "wide", header, delimiter)


def _wide_row(
    file: File, made: Session, sides: Sequence[tuple[str, int | None]], at: int, dealer: Dealer,
    comma: bool,
) -> None:  # fmt: skip
    measure, person = made.measure, made.person
    unit, factor = ("", 1.0)
    if "unit" in file.columns and dealer.one_in(2):
        unit, factor = dealer.next(f"unit {measure.unit}", units_of(measure.unit))
    first = next(iter(made.values))
    pain, note = _beside(file, made, first, at + 1, dealer)
    row = {
        "athlete_id": person.id, "tested_on": made.day, "unit": unit, "pain": pain.text,
        "test": dealer.next(f"name {measure.id}", names_of(measure.id)), "note": note.text,
    }  # fmt: skip
    said = []
    is_refused = False
    for word, number in sides:
        side = word if word in ("left", "right") else person.turned(word, measure)
        # Of a side nobody knows the cell holds the value of either.
        values = made.values[side or "left"]
        place = at if number is None else number - 1
        value = values[place] if place < len(values) else None
        if value is None:
            row[f"{word} {number}"] = ""
            continue
        text, means = value_text(value, measure, factor, comma)
        row[f"{word} {number}"] = text
        is_refused |= side is None
        said.append(Said(person.id, made.day, measure.id, side or "", number, (means,),
                         pain.means, note.means))  # fmt: skip
    truth = REFUSED if is_refused else Truth("read", tuple(said))
    if not said:
        silent = Said(person.id, made.day, measure.id, "", None, (None,), pain.means, note.means)
        truth = Truth("read", (silent,)) if pain.means or note.means else BLANK
        if pain.means == 0.0 or isinstance(pain.means, Odd):
            return  # too little to write a row for
    file.add(row, truth)


def columns_file(
    name: str, sessions: Sequence[Session], dealer: Dealer, delimiter: str = ","
) -> tuple[Export, tuple[Truth, ...]]:
    """One row a person and day, one column a test, side and trial; and one nobody knows."""
    most: dict[tuple[str, str], int] = {}
    for made in sessions:
        for side, values in made.values.items():
            place = made.measure.id, side
            most[place] = max(most.get(place, 0), len(values))
    heads: dict[tuple[str, str, int], tuple[str, float]] = {
        (measure, side, number): _head(measure, side, number if count > 1 else None, dealer)
        for (measure, side), count in most.items()
        for number in range(1, count + 1)
    }
    beside = [column for column in ("pain", "note") if dealer.one_in(2)]
    file = File(["athlete_id", "tested_on", *map(str, heads), *beside, ""])
    by_day: dict[tuple[str, str], list[Session]] = {}
    for made in sessions:
        by_day.setdefault((made.person.id, made.day), []).append(made)
    for (who, day), those in by_day.items():
        row, said = {"athlete_id": who, "tested_on": day, "": "Sam"}, []
        pain = dealer.cell("pain", 1.0, 3) if "pain" in beside and dealer.one_in(4) else Cell("")
        note = dealer.cell("note", 1.0, 3) if "note" in beside and dealer.one_in(4) else Cell("")
        row |= {"pain": pain.text, "note": note.text}
        for made in those:
            for side, values in made.values.items():
                for number, value in enumerate(values, start=1):
                    key = (made.measure.id, side, number)
                    if value is None:
                        continue
                    text, means = value_text(value, made.measure, heads[key][1], delimiter == ";")
                    row[str(key)] = text
                    given = number if most[key[:2]] > 1 else None
                    said.append(Said(who, day, made.measure.id, side, given, (means,),
                                     pain.means, note.means))  # fmt: skip
        if not said:
            row |= {"pain": "", "note": ""}
        file.add(row, Truth("read", tuple(said)) if said else BLANK)
    header = ["athlete_id", "Date", *(head for head, _ in heads.values()), *beside, "Tester"]
    return file.export(name, "columns", header, delimiter)


def _head(measure: str, side: str, number: int | None, dealer: Dealer) -> tuple[str, float]:
    """A header for one test, side and trial, and the factor of the unit it names."""
    ways = HEADS if number is None else NUMBERED_HEADS
    way = dealer.next(f"head {number is None}", ways)
    wanted = catalogue().measures[measure].unit
    unit, factor = dealer.next(f"head unit {wanted}", units_of(wanted)[1:])
    head = way.format(
        test=dealer.next(f"head name {measure}", names_of(measure)), side=side,
        letter=side[0].upper(), n=number, unit=unit,
    )  # fmt: skip
    return head, factor if "{unit}" in way else 1.0
