"""Training of a week: sets as they were done, and the ways in which people log them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.catalogue import catalogue
from tests.weeks.decks import OUTSIDE, Cell, Dealer, Odd, outside
from tests.weeks.exports import BLANK, REFUSED, Export, Said, Truth
from tests.weeks.layouts import File
from tests.weeks.people import Person, called, headed

SESSIONS_BEFORE = (20, 15, 11, 6, 2)  # days of training before the newest test
WAYS = (
    "numbered",
    "always one",
    "done twice",
    "count of sets",
    "sets times reps",
    "both in a row",
    "each side",
)
FAULTS = (
    ("athlete_id", "Zed 9"), ("trained_on", "soon"), ("exercise", ""), ("set_number", "last"),
    ("side", "middle"), ("reps", "10,8"), ("reps", "ten"), ("reps", "7.5"), ("unit", "barns"),
    ("reps", "987"), ("athlete_id", ""), ("trained_on", ""), ("set_number", "0"),
)  # fmt: skip
FORMS = ("{}", "{}", "{}", "Set {}", "#{}", "{}.0")
POUND = 0.45359237


@dataclass(frozen=True)
class Work:
    """Sets of one exercise by one person on one day, one side, as they followed each other."""

    person: Person
    day: str
    exercise: Cell
    side: str
    reps: tuple[int, ...]
    load: float | None
    pain: Cell
    note: Cell


def work_of(
    people: Sequence[Person], stories: Sequence[str], days: Sequence[str], dealer: Dealer
) -> list[Work]:
    """Some exercises of everybody, on both sides; who is told of does less on the left."""
    found = []
    every = catalogue().exercises
    one_sided = [e.id for e in every.values() if e.laterality == "unilateral"]
    for person, story in zip(people, stories, strict=True):
        main = dealer.next("one-sided exercise", one_sided)
        picks = [Cell(main, main), dealer.cell("exercise", 1.0, 6)]
        if story == "uneven work" and dealer.one_in(3):
            picks = [outside(dealer.next("outside", OUTSIDE))]
        for day in days:
            for exercise in picks:
                found += _exercise(person, story, day, exercise, dealer)
    return found


def _exercise(person: Person, story: str, day: str, exercise: Cell, dealer: Dealer) -> list[Work]:
    known = catalogue().exercises.get(exercise.means)
    sides = ("both",) if known and known.laterality == "bilateral" else ("left", "right")
    load = (None, 8.0, 12.5, 20.0, 42.5)[int(dealer.chance.integers(5))]
    sets = 2 + int(dealer.chance.integers(2))
    reps = 6 + int(dealer.chance.integers(6))
    found = []
    for side in sides:
        count = 1 if story == "uneven work" and side == "left" else sets
        # Now and then a set is like the one before, now and then shorter.
        done = tuple(max(1, reps - (n if dealer.one_in(2) else 0)) for n in range(count))
        pain = dealer.cell("pain", 1.0, 3) if dealer.one_in(30) else Cell("")
        if story == "pain" and side != "right":
            pain = Cell("6", 6.0)
        note = dealer.cell("note", 1.0, 3) if dealer.one_in(25) else Cell("")
        found.append(Work(person, day, exercise, side, done, load, pain, note))
    return found


def log_file(
    name: str, work: Sequence[Work], dealer: Dealer, way: str
) -> tuple[Export, tuple[Truth, ...]]:
    """A training log in one of the WAYS."""
    extra = [c for c in ("order", "rir", "rpe", "tempo", "unit", "pain", "note")
             if not dealer.one_in(5)]  # fmt: skip
    if "rir" in extra and "rpe" in extra:
        extra.remove("rpe" if dealer.one_in(2) else "rir")
    middle = {
        "count of sets": ["sets", "side", "reps", "load"],
        "sets times reps": ["set_number", "side", "reps", "load"],
        "both in a row": ["set_number", "reps_left", "reps_right", "load_left", "load_right"],
    }.get(way, ["set_number", "side", "reps", "load"])
    columns = ["athlete_id", "trained_on", "exercise", *middle, *extra]
    dealer.chance.shuffle(columns)
    file = File(columns)
    if way == "both in a row":
        _both_in_a_row(file, work, dealer)
    elif way == "each side":
        _each_side(file, work, dealer)
    else:
        for one in work:
            _rows(file, one, dealer, way)
    if way not in ("both in a row", "count of sets", "sets times reps"):
        _faulty(file, dealer)
    spellings = catalogue().headers.kinds["training_log"].columns
    header = [
        headed(dealer, "log", column, spellings[column]) if column in spellings else column
        for column in columns
    ]
    return file.export(name, "log", header)


def _common(file: File, one: Work, dealer: Dealer) -> dict[str, str]:
    """The cells of a row that are the same whichever way sets are logged."""
    row = {
        "athlete_id": called(one.person, dealer), "trained_on": one.day,
        "exercise": one.exercise.text,
        "pain": one.pain.text, "note": one.note.text, "unit": "",
    }  # fmt: skip
    for column in ("order", "rir", "rpe", "tempo"):
        row[column] = dealer.cell(column, 0.4, 3).text if column in file.columns else ""
    return row


def _load(file: File, one: Work, dealer: Dealer) -> tuple[str, str, float | None]:
    """Load and unit as typed, and the load in kg."""
    if one.load is None:
        card = dealer.cell("load", 1.0, 3)
        return card.text, "", card.means
    if "unit" in file.columns and dealer.one_in(3):
        unit = dealer.next("unit of load", ("lb", "lbs", "kg", "KG", "pounds"))
        return f"{one.load:g}", unit, one.load * (1.0 if unit.lower() == "kg" else POUND)
    return f"{one.load:g}", "", one.load


def _each_side(file: File, work: Sequence[Work], dealer: Dealer) -> None:
    """What the left side did, logged once for both; two-sided exercises as they are."""
    for one in work:
        if one.side == "both":
            _rows(file, one, dealer, "each side")
        if one.side != "left":
            continue
        load, unit, kilos = _load(file, one, dealer)
        common = {**_common(file, one, dealer), "load": load, "unit": unit}
        word = dealer.next("each", catalogue().headers.sides["each"])
        for number, reps in enumerate(one.reps, start=1):
            said = tuple(
                _said(file, replace(one, side=side), number, reps, kilos)
                for side in ("left", "right")
            )
            row = {**common, "set_number": str(number), "side": word, "reps": str(reps)}
            file.add(row, Truth("read", said))


def _said(file: File, one: Work, number: int | None, reps: int, load: object) -> Said:
    pain = one.pain.means if "pain" in file.columns else None
    note = one.note.means if "note" in file.columns else None
    what = one.exercise.means
    load = None if isinstance(load, Odd) else load
    return Said(one.person.id, one.day, what, one.side, number, (float(reps), load), pain, note)


def _side_text(one: Work, dealer: Dealer) -> str:
    if one.side == "both":
        return str(dealer.next("log side both", [*catalogue().headers.sides["both"], ""]))
    return str(dealer.next(f"log side {one.side}", catalogue().headers.sides[one.side]))


def _rows(file: File, one: Work, dealer: Dealer, way: str) -> None:
    load, unit, kilos = _load(file, one, dealer)
    common = {**_common(file, one, dealer), "load": load, "unit": unit}
    side = _side_text(one, dealer)
    if way in ("count of sets", "sets times reps"):
        reps, count = one.reps[0], len(one.reps)
        cells = {"sets": str(count), "reps": str(reps), "set_number": "1", "side": side}
        if way == "sets times reps":
            cells["reps"] = dealer.next("sets x reps", ("{}x{}", "{} x {}", "{}X{}")).format(
                count, reps
            )
        said = tuple(_said(file, one, None, reps, kilos) for _ in one.reps)
        file.add({**common, **cells}, Truth("read", said))
        return
    numbers = [1] * len(one.reps) if way == "always one" else list(range(1, len(one.reps) + 1))
    rounds = 2 if way == "done twice" and dealer.one_in(2) else 1
    for _ in range(rounds):
        for number, reps in zip(numbers, one.reps, strict=True):
            typed = dealer.next("form of a set", FORMS).format(number)
            row = {**common, "set_number": typed, "side": side, "reps": str(reps)}
            file.add(row, Truth("read", (_said(file, one, number, reps, kilos),)))


def _both_in_a_row(file: File, work: Sequence[Work], dealer: Dealer) -> None:
    """Left and right of each set beside each other; who did one side alone leaves cells blank."""
    pairs: dict[tuple[str, str, str], list[Work]] = {}
    for one in work:
        if one.side != "both":
            key = one.person.id, one.day, one.exercise.text
            pairs.setdefault(key, []).append(one)
    for left_right in pairs.values():
        by_side = {one.side: one for one in left_right}
        first = by_side["left"]
        common = _common(file, first, dealer)
        for number in range(1, max(len(one.reps) for one in left_right) + 1):
            row, said = {**common, "set_number": str(number)}, []
            for side, one in by_side.items():
                if number > len(one.reps):
                    continue
                row[f"reps_{side}"] = str(one.reps[number - 1])
                row[f"load_{side}"] = "" if one.load is None else f"{one.load:g}"
                own = replace(one, pain=first.pain, note=first.note)
                said.append(_said(file, own, number, one.reps[number - 1], one.load))
            file.add(row, Truth("read", tuple(said)))
    if file.rows and dealer.one_in(3):
        file.add({**file.rows[0], **dict.fromkeys(
            ("reps_left", "reps_right", "load_left", "load_right", "pain", "note"), ""
        )}, BLANK)  # fmt: skip


def _faulty(file: File, dealer: Dealer) -> None:
    """One row with one fault in a cell that the row needs."""
    column, text = dealer.next("fault of a log", FAULTS)
    if text == "Zed 9" and not dealer.has_roster:  # where everybody named is somebody
        return
    if file.rows and column in file.columns and not dealer.one_in(3):
        file.add({**file.rows[0], column: text}, REFUSED)
