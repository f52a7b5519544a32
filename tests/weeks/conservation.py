"""What the warehouse holds against what the exports say by the contract, person by person."""

import csv
from collections import Counter
from collections.abc import Iterable
from math import isclose
from pathlib import Path
from typing import Any

from pipeline.catalogue import catalogue
from tests.weeks.decks import Odd
from tests.weeks.folders import Made, Taken
from tests.weeks.naive import Group, Standing, Told
from tests.weeks.naive_cells import key

TRIALS = """
    select athlete_id::varchar, tested_on::varchar, measure::varchar, side::varchar, trial, value,
        pain, note
    from raw_trials"""
SETS = """
    select athlete_id::varchar, trained_on::varchar, exercise, side::varchar, set_number, reps,
        load_kg, pain, note
    from raw_sets"""
ROSTER = (
    "athlete_id", "name", "squad", "sex", "birth_date", "height_cm", "body_mass_kg",
    "dominant_hand", "dominant_foot", "position", "availability", "known_difference", "known_side",
    "known_since", "left_limb_length_cm", "right_limb_length_cm",
)  # fmt: skip
Line = tuple[Any, ...]


def faults(told: Told, made: Made | Taken) -> list[str]:
    """Everything in which the warehouse and the list of files differ from what was told."""
    return [
        *_unlike("trial", _trials(told), _of_warehouse(made, TRIALS, 5)),
        *_unlike("set", _sets(told), _of_warehouse(made, SETS, 5)),
        *_silent(told, made),
        *_people(told, made),
        *_counts(told, made),
        *_lost(told, made),
    ]


def figure(value: Any) -> Any:
    """A number as told apart from others: five digits, as units are turned to and fro."""
    return float(f"{value:.5g}") if isinstance(value, float | int) else value


def is_alike(line: Line, other: Line) -> bool:
    """Whether two lines differ in nothing but the last digits of figures."""
    return len(line) == len(other) and all(
        a == b or (isinstance(a, float) and isinstance(b, float) and isclose(a, b, rel_tol=1e-6))
        for a, b in zip(line, other, strict=True)
    )


def _what(text: str) -> str:
    """A test or exercise by its id, another exercise by its letters."""
    known = catalogue()
    return text if text in known.measures or text in known.exercises else key(text)


def _of_warehouse(made: Made | Taken, query: str, value_at: int) -> Counter[Line]:
    """Rows with a value, each as often as it stands."""
    rows = made.fetch(query)
    return Counter(
        (who, day, _what(what), *map(figure, rest))
        for who, day, what, *rest in rows
        if rest[value_at - 3] is not None
    )


def _lines(groups: dict[Group, list[Standing]]) -> Counter[Line]:
    return Counter(
        (*group, one.number, *map(figure, one.said.values), one.said.pain, one.said.note)
        for group, standing in groups.items()
        for one in standing
    )


def _trials(told: Told) -> Counter[Line]:
    return _lines(told.trials)


def _sets(told: Told) -> Counter[Line]:
    return _lines(told.sets)


def _unlike(what: str, wanted: Counter[Line], found: Counter[Line]) -> list[str]:
    """Lines that are missing or too many; pain that can be read two ways is right either way."""
    missing, extra = wanted - found, found - wanted
    for line in list(missing):
        for other in list(extra):
            if is_alike(line, other):  # rounded apart
                both = min(missing[line], extra[other])
                missing[line] -= both
                extra[other] -= both
    for line in list(+missing):
        if Odd.EITHER in line:
            for reading in (4.0, None):
                read = tuple(reading if cell is Odd.EITHER else cell for cell in line)
                both = min(missing[line], extra[read])
                missing[line] -= both
                extra[read] -= both
    return [
        *(f"{what} missing: {line}" for line in sorted(map(str, (+missing).elements()))),
        *(f"{what} not told: {line}" for line in sorted(map(str, (+extra).elements()))),
    ]


def _silent(told: Told, made: Made | Taken) -> list[str]:
    """Pain and notes of sides that were not tested are heard, and are somebody's."""
    found = {
        (who, day, what, pain, note)
        for who, day, what, _, _, value, pain, note in made.fetch(TRIALS)
        if value is None and not (pain is None and note is None)
    }
    wanted = {
        (*group[:3], one.pain, one.note)
        for group, said in told.silent.items()
        for one in said
        if not (one.pain is None and one.note is None)
    }
    # A row of both sides says of the untested one what it says of the other.
    said = wanted | {
        (one.athlete, one.day, one.what, one.pain, one.note)
        for rows in told.rows.values()
        for row in rows
        for one in row.truth.said
    }
    return [
        *(f"not heard: {line}" for line in sorted(map(str, _without_either(wanted) - found))),
        *(f"heard of nobody: {line}" for line in sorted(map(str, found - _settled(said)))),
    ]


def _without_either(lines: Iterable[Line]) -> set[Line]:
    return {line for line in lines if Odd.EITHER not in line}


def _settled(lines: Iterable[Line]) -> set[Line]:
    """The lines, those that can be read two ways in both."""
    return {
        tuple(reading if cell is Odd.EITHER else cell for cell in line)
        for line in lines
        for reading in (4.0, None)
    }


def _people(told: Told, made: Made | Taken) -> list[str]:
    """Everybody is there, each with what the roster says of them and of nobody else."""
    if not told.roster.people:
        return []
    found = {row[0]: dict(zip(ROSTER, row, strict=True))
             for row in made.fetch(f"select {', '.join(ROSTER)} from raw_roster")}  # fmt: skip
    wrong = [f"not the people of the roster: {sorted(found)}"] * (
        found.keys() != told.roster.people.keys()
    )
    for who in sorted(found.keys() & told.roster.people.keys()):
        for column in ROSTER:
            means = told.roster.people[who].get(column)
            stands = found[who][column]
            if column == "availability" and stands not in ("full", "modified", "out"):
                stands = None  # however it is kept that nobody can tell
            stands = stands.isoformat() if hasattr(stands, "isoformat") else stands
            if means is not Odd.EITHER and figure(means) != figure(stands):
                wrong.append(f"{who}: {column} is {stands!r}, told {means!r}")
    return wrong


def _counts(told: Told, made: Made | Taken) -> list[str]:
    """Rows read, accepted, refused and repeated of each file; and none of any file is lost."""
    wrong = []
    for row in _table(made.reports / "intake.csv"):
        names = ("read", "accepted", "refused", "repeated")
        found = {name: int(row[f"rows_{name}"]) for name in names}
        if found["read"] != found["accepted"] + found["refused"] + found["repeated"]:
            wrong.append(f"{row['file']}: rows do not add up: {found}")
        count = told.counts.get(row["file"])
        if count is not None:
            wanted = {name: getattr(count, name) for name in names}
            if wanted != found:
                wrong.append(f"{row['file']}: {found}, told {wanted}")
    return wrong


def _lost(told: Told, made: Made | Taken) -> list[str]:
    """Cells that could not be read stand in the list of rows, by file and line."""
    rows = _table(made.reports / "refused_rows.csv")
    found = {(row["file"], int(row["line"])) for row in rows if row["row_kept"] == "yes"}
    loose = {(name, row.line) for name, those in told.rows.items() for row in those
             if any(one.pain is Odd.EITHER for one in row.truth.said)}  # fmt: skip
    loose |= told.roster.loose
    known = {place for place in found if place[0] in told.counts} - loose
    return [
        *(f"lost in silence: {place}" for place in sorted(told.lost - found - loose)),
        *(f"said to be lost: {place}" for place in sorted(known - told.lost)),
    ]


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
