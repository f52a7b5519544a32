"""What later rows need of each person: nobody gets anybody else's."""

from datetime import date
from typing import Any

import polars as pl
import pytest

from pipeline.intake.account.ledger import Ledger
from pipeline.intake.rows.people import LEG_OF_HEIGHT, TYPES, People, make_people

ROSTER: list[dict[str, Any]] = [
    {"athlete_id": "A1", "name": "Ann Berg", "height_cm": 170.0, "left_limb_length_cm": 80.0,
     "right_limb_length_cm": 81.0, "body_mass_kg": 60.0, "dominant_hand": "left",
     "dominant_foot": "right", "known_side": "both"},
    {"athlete_id": "A2", "name": "Bea Holm", "height_cm": 180.0, "left_limb_length_cm": 85.0,
     "body_mass_kg": 72.0, "dominant_hand": "right"},
    {"athlete_id": "A3", "name": "Cid Vos", "height_cm": 190.0, "right_limb_length_cm": 95.0,
     "dominant_foot": "left", "known_side": "right"},
    {"athlete_id": "007", "name": "Cid Vos", "height_cm": 200.0, "body_mass_kg": 90.0},
    {"athlete_id": "a3x", "name": "a1"},
]  # fmt: skip
MASSES = [
    ("A2", date(2024, 3, 1), 70.0), ("A1", None, 55.0), ("A2", date(2024, 5, 1), 72.0),
    ("A1", date(2024, 4, 1), 60.0), ("A1", date(2024, 2, 1), 58.0),
]  # fmt: skip


@pytest.fixture(scope="module")
def people() -> People:
    roster = pl.DataFrame(ROSTER, schema=TYPES)
    schema = {"athlete_id": pl.String, "measured_on": pl.Date, "body_mass_kg": pl.Float64}
    refused = {"A9": "roster.csv, line 9"}
    return make_people(roster, refused, pl.DataFrame(MASSES, schema=schema, orient="row"))


def test_a_limb_length_is_the_own_one_the_other_one_of_the_height_or_usual(people: People) -> None:
    assert [limb.to_list() for limb in people.limbs] == [
        [80.0, 85.0, 95.0, 200 * LEG_OF_HEIGHT, 90.0],
        [81.0, 85.0, 95.0, 200 * LEG_OF_HEIGHT, 90.0],
    ]
    one = "reach scaled by one limb length for both sides, the roster has no other"
    assert people.limb_guess.to_list() == [
        None, one, one, "reach scaled by 0.505 of the height, limb lengths not in the roster",
        "reach scaled by a limb length of 90 cm, none in the roster",
    ]  # fmt: skip


def test_sides_are_of_the_hand_the_foot_and_the_known_difference(people: People) -> None:
    assert people.hand.to_list() == [0, 1, None, None, None]
    assert people.foot.to_list() == [1, None, 0, None, None]
    assert people.known_side.to_list() == [None, None, 1, None, None]


def test_body_mass_is_that_of_the_day_or_before_else_the_first_after(people: People) -> None:
    asked = [
        (1, date(2024, 6, 1), 72.0), (0, date(2024, 1, 31), 55.0), (3, date(2024, 3, 1), 90.0),
        (1, date(2024, 3, 1), 70.0), (0, date(2024, 2, 1), 58.0), (1, date(2024, 2, 1), 70.0),
        (0, date(2024, 3, 31), 58.0), (2, date(2024, 3, 1), None), (1, date(2024, 4, 30), 70.0),
        (0, date(2024, 4, 1), 60.0), (1, None, 72.0), (None, date(2024, 3, 1), None),
        (1, date(2024, 5, 1), 72.0), (0, date(2024, 9, 1), 60.0),
    ]  # fmt: skip
    who = pl.Series([one for one, _, _ in asked], dtype=pl.UInt32)
    day = pl.Series([one for _, one, _ in asked], dtype=pl.Date)
    assert people.mass_on(who, day).to_list() == [mass for _, _, mass in asked]


def test_somebody_is_found_by_their_id_before_anybody_by_their_name(people: People) -> None:
    written = ["A1", "a1", "A2", "bea  HOLM", "Holm, Bea", "7", "7.0", "007", "Cid Vos", "A3X",
               "A 1", None, "A9"]  # fmt: skip
    found = people.find(pl.Series(written, dtype=pl.String))
    assert found.to_list() == [0, 0, 1, 1, 1, 3, 3, 3, None, 4, None, None, None]
    assert people.why_unknown("cid vos") == (
        "is the name of 2 athletes; expected an id, one of 007, A3"
    )
    assert people.why_unknown("A9") == (
        "is in the roster, but its row was refused (roster.csv, line 9)"
    )
    assert people.why_unknown("Ann Burg") == "is not in the roster; nearest: Ann Berg"
    assert people.why_unknown("zzz") == "is not in the roster"


def test_a_row_keeps_the_file_sheet_line_and_text_it_came_from() -> None:
    ledger = Ledger()
    texts = ["ab", "cde", "f", "gh"]
    runs = []
    for n, text in enumerate(texts):
        entry = ledger.open(f"file {n // 2}", f"sheet {n % 2}" if n < 2 else "", "roster")
        lines = [10 * n + 2 + place for place in range(len(text))]
        cells = pl.DataFrame(
            {"line": lines, "c0": list(text)}, schema_overrides={"line": pl.UInt32}
        )
        runs.append(ledger.enter(entry, cells, ";"))
        ledger.entries[entry].read = len(text)
    # Faults come in any order of tables, rows and columns.
    found = [
        (3, 0, 0, "no g", False), (3, 1, 2, "odd h", True), (1, 2, 1, "no e", False),
        (1, 2, 0, "odd e", True), (1, 0, 3, "odd c", True), (0, 1, 0, "no b", False),
        (0, 1, 2, "no b 2", False), (1, 0, 1, "odd c 1", True),
    ]  # fmt: skip
    for run, row, place, reason, row_kept in found:
        fault = pl.DataFrame(
            {"row": row, "place": place, "column": f"column {place}", "value": f"cell of {reason}",
             "reason": reason, "about": "pain", "row_kept": row_kept}
        ).cast({"row": pl.UInt32, "place": pl.Int32})  # fmt: skip
        ledger.refuse(runs[run], fault)
    columns = ("file", "sheet", "line", "column", "value", "reason", "original", "row_kept")
    assert ledger.refused().select(columns).rows() == [
        ("file 0", "sheet 0", 3, "column 0", "cell of no b", "no b; column 2: no b 2", "b", False),
        ("file 0", "sheet 1", 12, "column 1", "cell of odd c 1", "odd c 1", "c", True),
        ("file 0", "sheet 1", 12, "column 3", "cell of odd c", "odd c", "c", True),
        ("file 0", "sheet 1", 14, "column 1", "cell of no e", "no e; column 0: odd e", "e", False),
        ("file 1", "", 32, "column 0", "cell of no g", "no g", "g", False),
        ("file 1", "", 33, "column 2", "cell of odd h", "odd h", "h", True),
    ]
    assert ledger.files(["x", "x", "y", "y"]).select(
        "file", "sheet", "rows_read", "rows_accepted", "rows_refused", "sha256"
    ).rows() == [
        ("file 0", "sheet 0", 2, 1, 1, "x"), ("file 0", "sheet 1", 3, 2, 1, "x"),
        ("file 1", "", 1, 1, 0, "y"), ("file 1", "", 2, 1, 1, "y"),
    ]  # fmt: skip
    rows = pl.Series([7, 0, 2, 4, 5, 6, 1, 3], dtype=pl.UInt32)
    assert ledger.entry_of(rows).to_list() == [3, 0, 1, 1, 2, 3, 0, 1]
    assert ledger.line_of(rows).to_list() == [33, 2, 12, 14, 22, 32, 3, 13]
