"""Trials and sets that nothing numbers: alike from file to file, new from sheet to sheet."""

from pathlib import Path
from typing import Any

from tests.intake.exports import LONG, counts, intake_of

DAY = "2024-03-05"
LOG = "athlete_id,trained_on,exercise,set_number,side,reps,load"


def trials(intake: Any) -> list[tuple[Any, ...]]:
    columns = ["athlete_id", "side", "trial", "value", "pain"]
    return intake.trials.select(columns).sort(columns[:3]).rows()


def sheet(*values: tuple[str, float]) -> list[list[Any]]:
    return [LONG.split(","), *([who, DAY, "single_hop", "left", value] for who, value in values)]


def test_a_sheet_repeats_another_of_its_file_but_never_corrects_it(tmp_path: Path) -> None:
    first, second = sheet(("A1", 145), ("A2", 135)), sheet(("A1", 145), ("A2", 137))
    intake = intake_of(tmp_path, {"t.xlsx": {"One": first, "Two": second}})
    assert trials(intake) == [
        ("A1", "left", 1, 145.0, None), ("A2", "left", 1, 135.0, None),
        ("A2", "left", 2, 137.0, None),
    ]  # fmt: skip
    assert counts(intake, "t.xlsx", "Two") == (2, 1, 0, 1)


def test_rows_without_numbers_find_those_that_another_export_numbers(tmp_path: Path) -> None:
    given = f"{LONG},trial\nA1,{DAY},single_hop,left,145,3\nA1,{DAY},single_hop,left,146,4\n"
    given += f"A2,{DAY},single_hop,left,135,1\n"
    blank = f"{LONG}\nA1,{DAY},single_hop,left,146\nA1,{DAY},single_hop,left,150\n"
    blank += f"A2,{DAY},single_hop,left,135\n"
    intake = intake_of(tmp_path, {"a.csv": given, "b.csv": blank})
    # 146 is there already; 150 takes the place of what is left, as its correction.
    assert trials(intake) == [
        ("A1", "left", 3, 150.0, None), ("A1", "left", 4, 146.0, None),
        ("A2", "left", 1, 135.0, None),
    ]  # fmt: skip
    assert counts(intake, "b.csv") == (3, 1, 0, 2)


def test_what_a_side_says_without_a_value_takes_no_trials_place(tmp_path: Path) -> None:
    text = f"{LONG},pain\nA1,{DAY},single_hop,left,,7\nA1,{DAY},single_hop,left,145,2\n"
    text += f"A2,{DAY},single_hop,left,135,1\nA2,{DAY},single_hop,left,,3\n"
    intake = intake_of(tmp_path, {"a.csv": text, "b.csv": text})
    assert trials(intake) == [
        ("A1", "left", 1, 145.0, 2.0), ("A1", "left", 2, None, 7.0),
        ("A2", "left", 1, 135.0, 1.0), ("A2", "left", 2, None, 3.0),
    ]  # fmt: skip
    assert [counts(intake, f"{name}.csv")[1::2] for name in "ab"] == [(4, 0), (0, 4)]


def test_sets_under_one_number_are_sets_and_the_next_export_repeats_them(tmp_path: Path) -> None:
    rows = [("A1", "left", 8), ("A1", "left", 8), ("A1", "left", 6), ("A2", "right", 5)]
    first = f"{LOG}\n" + "".join(f"{w},{DAY},step-up,1,{s},{r},20\n" for w, s, r in rows)
    second = first + f"A1,{DAY},step-up,1,left,4,20\nA2,{DAY},step-up,1,right,5,20\n"
    intake = intake_of(tmp_path, {"a.csv": first, "b.csv": second})
    columns = ["athlete_id", "set_number", "side", "reps"]
    assert intake.sets.select(columns).sort(columns[:2]).rows() == [
        ("A1", 1, "left", 8.0), ("A1", 2, "left", 8.0), ("A1", 3, "left", 6.0),
        ("A1", 4, "left", 4.0), ("A2", 1, "right", 5.0), ("A2", 2, "right", 5.0),
    ]  # fmt: skip
    assert counts(intake, "b.csv") == (6, 2, 0, 4)


def test_an_order_that_one_export_lacks_makes_no_second_set(tmp_path: Path) -> None:
    with_order = f"{LOG},order\nA1,{DAY},step-up,1,left,8,20,3\nA2,{DAY},step-up,1,left,5,10,1\n"
    without = f"{LOG}\nA1,{DAY},step-up,1,left,8,20\nA2,{DAY},step-up,1,left,6,10\n"
    intake = intake_of(tmp_path, {"a.csv": with_order, "b.csv": without})
    columns = ["athlete_id", "set_number", "reps", "exercise_order"]
    assert intake.sets.select(columns).rows() == [("A1", 1, 8.0, 3), ("A2", 1, 6.0, 1)]


def test_pain_and_note_of_a_set_that_was_not_done_are_kept_apart(tmp_path: Path) -> None:
    text = f"{LOG},pain,note\nA1,{DAY},step-up,1,left,,,7,knee gave way\n"
    text += f"A1,{DAY},step-up,1,left,8,20,,\nA2,{DAY},step-up,1,left,5,,2,\n"
    intake = intake_of(tmp_path, {"a.csv": text})
    columns = ["athlete_id", "set_number", "reps", "load_kg", "pain", "note"]
    assert intake.sets.select(columns).sort(columns[:2]).rows() == [
        ("A1", 1, 8.0, 20.0, None, None), ("A1", 2, None, None, 7.0, "knee gave way"),
        ("A2", 1, 5.0, None, 2.0, None),
    ]  # fmt: skip
