"""Sessions of tests as files: one row a trial, left beside right, or one column a test and side."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache

from pipeline.catalogue import Measure, catalogue
from tests.weeks.decks import TRIALS_JUNK, Cell, Dealer, spelled
from tests.weeks.exports import BLANK, REFUSED, Export, Row, Said, Truth
from tests.weeks.people import called, headed
from tests.weeks.sessions import THOUSANDS, Session, digits

FROM_ROSTER = ("involved", "uninvolved", "dominant", "nondominant")
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
    optional = [
        c for c in ("unit", "pain", "note") if is_needed(c, sessions) or not dealer.one_in(4)
    ]
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


def is_needed(column: str, sessions: Iterable[Session]) -> bool:
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
    pain, note = beside(file, made, side, number, dealer)
    is_given = numbering == "given" or (numbering == "mixed" and number == 1)
    typed = dealer.next("form of a trial", FORMS).format(number)
    if not is_given:
        typed = dealer.next("trial junk", TRIALS_JUNK).text if dealer.one_in(9) else ""
    row = {
        "athlete_id": called(person, dealer), "tested_on": made.day,
        "side": side_cell(made, side, dealer),
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


def beside(file: File, made: Session, side: str, number: int, dealer: Dealer) -> tuple[Cell, Cell]:
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
