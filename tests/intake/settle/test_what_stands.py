"""What makes two rows of a kind two, and what makes one a version of the other, column by column.

Each column is changed in the row of another person: nothing of one may reach another.
"""

from collections.abc import Sequence
from pathlib import Path

import polars as pl
import pytest

from pipeline.intake import Intake
from tests.intake.exports import counts, intake_of

Cells = dict[str, str]
# Of each kind a row, and another cell for each of its columns.
ROWS: dict[str, Cells] = {
    "trials": {"athlete_id": "A1", "tested_on": "2024-03-05", "test": "single_hop", "side": "left",
               "trial": "1", "value": "145", "pain": "3", "note": "wet"},
    "sets": {"athlete_id": "A1", "trained_on": "2024-03-05", "exercise": "split squat",
             "side": "left", "set_number": "1", "reps": "8", "load": "20", "rir": "2",
             "tempo": "3-1-1", "order": "4", "pain": "3", "note": "slow"},
    "film": {"athlete_id": "A1", "filmed_on": "2024-03-05", "exercise": "lunge", "side": "left",
             "checkpoint": "knee", "finding": "ok", "note": "from the front"},
    "decisions": {"flag_id": "A1.single_hop.difference", "listed_on": "2024-03-05",
                  "decision": "train", "owner": "Jo", "review_on": "2024-05-01", "note": "later",
                  "decided_on": "2024-03-06"},
    "roster": {"athlete_id": "A1", "name": "Ann Berg", "squad": "Club", "measured_on": "2024-03-05",
               "sex": "female", "birth_date": "1998-12-31", "height_cm": "170",
               "body_mass_kg": "64", "dominant_hand": "left", "dominant_foot": "right",
               "position": "wing", "availability": "full", "known_difference": "leg length",
               "known_side": "left", "known_since": "2020-01-01", "left_limb_length_cm": "90",
               "right_limb_length_cm": "91"},
}  # fmt: skip
OTHERS: dict[str, Cells] = {
    "trials": {"athlete_id": "A3", "tested_on": "2024-03-06", "test": "triple_hop",
               "side": "right", "trial": "2", "value": "146", "pain": "4", "note": "dry"},
    "sets": {"athlete_id": "A3", "trained_on": "2024-03-06", "exercise": "step-up",
             "side": "right", "set_number": "2", "reps": "9", "load": "21", "rir": "1",
             "tempo": "2-1-1", "order": "5", "pain": "4", "note": "fast"},
    "film": {"athlete_id": "A3", "filmed_on": "2024-03-06", "exercise": "squat", "side": "right",
             "checkpoint": "trunk", "finding": "adjust", "note": "from behind"},
    "decisions": {"flag_id": "A3.single_hop.difference", "listed_on": "2024-03-12",
                  "decision": "wait", "owner": "Kim", "review_on": "2024-06-01", "note": "sooner",
                  "decided_on": "2024-03-07"},
    "roster": {"athlete_id": "A3", "name": "Ann B. Berg", "squad": "Gym",
               "measured_on": "2024-03-06", "sex": "male", "birth_date": "1999-12-31",
               "height_cm": "171", "body_mass_kg": "65", "dominant_hand": "right",
               "dominant_foot": "left", "position": "back", "availability": "out",
               "known_difference": "scoliosis", "known_side": "right",
               "known_since": "2021-01-01", "left_limb_length_cm": "92",
               "right_limb_length_cm": "93"},
}  # fmt: skip
KEYS = {
    "trials": ("athlete_id", "tested_on", "test", "side", "trial"),
    "sets": ("athlete_id", "trained_on", "exercise", "side", "set_number"),
    "film": ("athlete_id", "filmed_on", "exercise", "side", "checkpoint"),
    "decisions": ("flag_id", "listed_on", "decision"),
}
MAY_LACK = {
    "trials": ("pain", "note"),
    "sets": ("load", "rir", "tempo", "order", "pain", "note"),
    "roster": [name for name in ROWS["roster"] if name not in ("athlete_id", "name", "squad",
                                                             "measured_on")],
}  # fmt: skip


PEOPLE = [f"{letter}{n}" for letter in "AO" for n in range(20)]


def row(kind: str, who: int, **cells: str) -> Cells:
    """The row of the kind, as somebody's."""
    named = {"athlete_id": f"A{who}", "flag_id": f"A{who}.single_hop.difference"}
    return ROWS[kind] | {name: cell for name, cell in named.items() if name in ROWS[kind]} | cells


def other(kind: str, who: int, *names: str) -> Cells:
    """The row of the same person, other in these columns alone, of which one may say who."""
    cells = {name: OTHERS[kind][name] for name in names}
    named = {"athlete_id": f"O{who}", "flag_id": f"O{who}.single_hop.difference"}
    return row(kind, who) | {name: named.get(name, cell) for name, cell in cells.items()}


def text(rows: Sequence[Cells]) -> str:
    return "\n".join([",".join(rows[0]), *(",".join(one.values()) for one in rows)]) + "\n"


def read(folder: Path, kind: str, *files: Sequence[Cells]) -> Intake:
    """The intake of these files, in a folder of their own."""
    place = folder / str(len(list(folder.iterdir())))
    place.mkdir()
    name = "roster" if kind == "roster" else "f"
    named: dict[str, str] = {f"{name} {n}.csv": text(rows) for n, rows in enumerate(files)}
    if kind != "roster":
        people = [f"{who},{who} of the squad,Club" for who in PEOPLE]
        named["roster.csv"] = "\n".join(["athlete_id,name,squad", *people])
    return intake_of(place, named)


def rows_of(intake: Intake, kind: str) -> list[str]:
    """What stands, without where it was read."""
    frame: pl.DataFrame = getattr(intake, kind)
    sources = [name for name in frame.columns if name.startswith(("source_", "order_f", "order_l"))]
    return sorted(map(repr, frame.drop(sources).to_dicts()))


@pytest.mark.parametrize("kind", KEYS)
def test_rows_that_differ_in_one_column_of_their_key_both_stand(kind: str, tmp_path: Path) -> None:
    value = {"trials": "value", "sets": "reps", "film": "finding", "decisions": "note"}[kind]
    first = [row(kind, n) for n, _ in enumerate(KEYS[kind])]
    second = [other(kind, n, name, value) for n, name in enumerate(KEYS[kind])]
    found = read(tmp_path, kind, first, second)
    apart = [rows_of(read(tmp_path, kind, rows), kind) for rows in (first, second)]
    assert rows_of(found, kind) == sorted(apart[0] + apart[1])
    assert counts(found, "f 1.csv") == (len(second), len(second), 0, 0)


@pytest.mark.parametrize("kind", ROWS)
def test_a_later_row_with_another_cell_is_the_version_that_stands(
    kind: str, tmp_path: Path
) -> None:
    keys = (*KEYS.get(kind, ()), "athlete_id", "measured_on")
    names = [name for name in ROWS[kind] if name not in keys]
    first = [row(kind, n) for n in range(len(names) + 1)]
    second = [*(other(kind, n, name) for n, name in enumerate(names)), first[-1]]
    found = read(tmp_path, kind, first, second)
    assert rows_of(found, kind) == rows_of(read(tmp_path, kind, second), kind)
    file = "roster 1.csv" if kind == "roster" else "f 1.csv"
    assert counts(found, file) == (len(second), len(names), 0, 1)


@pytest.mark.parametrize("kind", MAY_LACK)
def test_what_a_later_file_has_no_column_for_stays_and_a_blank_cell_goes(
    kind: str, tmp_path: Path
) -> None:
    names = MAY_LACK[kind]
    changed = {"trials": "value", "sets": "reps", "roster": "squad"}[kind]
    first = [row(kind, n) for n, _ in enumerate(names)]
    second = [other(kind, n, changed) for n, _ in enumerate(names)]
    lacking = [{key: cell for key, cell in one.items() if key != name}
               for name, one in zip(names, second, strict=True)]  # fmt: skip
    found = read(tmp_path, kind, first, *([one] for one in lacking))
    assert rows_of(found, kind) == rows_of(read(tmp_path, kind, second), kind)
    blank = [one | {name: ""} for name, one in zip(names, second, strict=True)]
    found = read(tmp_path, kind, first, blank)
    assert rows_of(found, kind) == rows_of(read(tmp_path, kind, blank), kind)


@pytest.mark.parametrize(
    ("kind", "column"), [("trials", "pain"), ("sets", "pain"), ("roster", "availability")]
)
def test_a_cell_nobody_can_read_is_asked_about_until_a_row_of_the_same_key_says_it(
    kind: str, column: str, tmp_path: Path
) -> None:
    keys = KEYS.get(kind, ("athlete_id",))
    unread = [row(kind, n, **{column: "tbc"}) for n in range(len(keys) + 2)]
    # The last but one is said by a later row of the same key, the last by nobody.
    later = [*(other(kind, n, name) for n, name in enumerate(keys)), row(kind, len(keys))]
    refused = read(tmp_path, kind, unread, later).refused.filter(about=column)
    assert refused.select("line", "who", "bears_on").rows() == [
        (n + 2, f"A{n}", None if n == len(keys) else column) for n in range(len(unread))
    ]


def test_rows_that_only_say_what_hurt_are_numbered_after_those_that_hold_a_value(
    tmp_path: Path,
) -> None:
    bare = [row("trials", 0, trial="", value="", pain="2")]
    bare += [row("trials", 3, trial="7", value="", pain="5")]
    bare += [row("trials", 1, trial="1", value="", pain=pain) for pain in ("3", "4")]
    tested = [row("trials", 0, trial="3"), row("trials", 2, trial="")]
    tested += [row("trials", 1, trial=str(n), value=str(140 + n)) for n in (1, 2)]
    found = read(tmp_path, "trials", [*bare, *tested]).trials
    held = found.select(pl.col("athlete_id").cast(str), "trial", "value", "pain").rows()
    assert sorted(held) == [
        ("A0", 3, 145.0, 3.0), ("A0", 4, None, 2.0), ("A1", 1, 141.0, 3.0), ("A1", 2, 142.0, 3.0),
        ("A1", 3, None, 3.0), ("A1", 4, None, 4.0), ("A2", 1, 145.0, 3.0), ("A3", 1, None, 5.0),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("former", "later", "stored"),
    [
        ({"rir": "2"}, {"rpe": "9"}, [("A0", "left", 10.0 - 9), ("A1", "left", 2.0)]),
        (
            {"load": "20"},
            {"load_left": "22", "load_right": "23"},
            [("A0", "left", 22.0), ("A0", "right", 23.0), ("A1", "left", 20.0)],
        ),
    ],
)
def test_a_later_log_may_say_it_in_another_column(
    former: Cells, later: Cells, stored: list[tuple[str, str, float]], tmp_path: Path
) -> None:
    kept = {"athlete_id", "trained_on", "exercise", "side", "set_number", "reps"}
    base = {name: cell for name, cell in ROWS["sets"].items() if name in kept}
    first = [base | {"athlete_id": who} | former for who in ("A0", "A1")]
    second = base | {"athlete_id": "A0"} | later
    if "load_left" in later:
        del second["reps"], second["side"]
        second |= {"reps_left": "8", "reps_right": "8"}
    sets = read(tmp_path, "sets", first, [second]).sets
    column = "rir" if "rir" in former else "load_kg"
    found = sets.select(pl.col("athlete_id", "side").cast(str), column)
    assert sorted(found.rows()) == stored


SETS = [
    ("A1", "left", 1), ("A1", "right", 1), ("A1", "left", 2), ("A1", "right", 2),
    ("A2", "right", 1), ("A2", "left", 1), ("A2", "right", 2), ("A2", "left", 2),
]  # fmt: skip


def log(place: Path, *files: Sequence[int]) -> pl.DataFrame:
    """The sets that files with these of the sets above give, in the order of the sets above."""
    rows = [
        ROWS["sets"] | {"athlete_id": who, "side": side, "set_number": str(number)}
        for who, side, number in SETS
    ]
    found = read(place, "sets", *([rows[n] for n in file] for file in files)).sets
    by_set = {(who, side, number): n for n, (who, side, number) in enumerate(SETS)}
    keys = found.select("athlete_id", "side", "set_number").rows()
    return found[sorted(range(len(keys)), key=lambda n: by_set[keys[n]])]


@pytest.mark.parametrize(
    ("files", "shown"),
    [
        # An export that ends, and one that begins, in the midst of the second person's exercise.
        ([[0, 1, 2, 3, 4], range(8)], [("f 1.csv", line) for line in range(2, 10)]),
        ([range(8), [5, 6, 7]], [("f 0.csv", line) for line in range(2, 10)]),
        # The whole of one person in one file, most of the other in the next.
        (
            [[0, 1, 2, 3, 4], [5, 6, 7]],
            [("f 0.csv", n) for n in (2, 3, 4, 5)]
            + [(None, None)]
            + [("f 1.csv", n) for n in (2, 3, 4)],
        ),
        ([[7, 6, 5, 4, 3, 2, 1, 0]], [("f 0.csv", line) for line in range(9, 1, -1)]),
    ],
    ids=["ends amid", "begins amid", "cut", "turned"],
)
def test_the_file_with_most_sets_of_an_exercise_shows_their_order(
    files: Sequence[Sequence[int]], shown: list[tuple[str | None, int | None]], tmp_path: Path
) -> None:
    assert log(tmp_path, *files).select("order_file", "order_line").rows() == shown


def test_a_later_availability_that_nobody_can_read_is_not_the_earlier_one(tmp_path: Path) -> None:
    """Where somebody was available, "tbc" since leaves it open; who is named anew stays so."""
    first = [row("roster", n, availability=said) for n, said in enumerate(("full", "out", "full"))]
    later = [row("roster", 0, availability="tbc"), row("roster", 1), row("roster", 2)]
    found = read(tmp_path, "roster", first, later).roster.sort("athlete_id")
    assert found["availability"].to_list()[:3] == ["unclear", "full", "full"]
