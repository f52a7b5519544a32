"""Sessions of tests as files with both sides in a row: left beside right, or a column each."""

from collections.abc import Sequence

from pipeline.catalogue import catalogue
from tests.weeks.decks import Cell, Dealer, Odd
from tests.weeks.exports import BLANK, REFUSED, Export, Said, Truth
from tests.weeks.layouts import File, beside, is_needed, names_of, units_of, value_text
from tests.weeks.people import called, headed
from tests.weeks.sessions import Session

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


def wide_file(
    name: str, sessions: Sequence[Session], dealer: Dealer, delimiter: str = ","
) -> tuple[Export, tuple[Truth, ...]]:
    """Left beside right: one pair of columns, or one a trial; or sides that the roster knows."""
    pair = dealer.next("pair", PAIRS if dealer.has_roster else PAIRS[:1])
    most = max(len(values) for made in sessions for values in made.values.values())
    has_numbers = most > 1 and not dealer.one_in(3)
    numbers: list[int | None] = list(range(1, most + 1)) if has_numbers else [None]
    sides = [(side, number) for number in numbers for side in pair]
    optional = [
        c for c in ("unit", "pain", "note") if is_needed(c, sessions) or not dealer.one_in(4)
    ]
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
    pain, note = beside(file, made, first, at + 1, dealer)
    row = {
        "athlete_id": called(person, dealer), "tested_on": made.day, "unit": unit,
        "pain": pain.text,
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
    extra = [column for column in ("pain", "note") if dealer.one_in(2)]
    file = File(["athlete_id", "tested_on", *map(str, heads), *extra, ""])
    by_day: dict[tuple[str, str], list[Session]] = {}
    for made in sessions:
        by_day.setdefault((made.person.id, made.day), []).append(made)
    for (who, day), those in by_day.items():
        row, said = {"athlete_id": called(those[0].person, dealer), "tested_on": day, "": "Sam"}, []
        pain = dealer.cell("pain", 1.0, 3) if "pain" in extra and dealer.one_in(4) else Cell("")
        note = dealer.cell("note", 1.0, 3) if "note" in extra and dealer.one_in(4) else Cell("")
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
    header = ["athlete_id", "Date", *(head for head, _ in heads.values()), *extra, "Tester"]
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
