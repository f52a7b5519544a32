"""Our own sheets, filled in and dropped back: what was typed, what was ticked, what stays blank."""

from pathlib import Path
from typing import Any

import pytest

from pipeline.catalogue import catalogue
from tests.intake.exports import counts, intake_of, refusals, remark, values

LOG = ("athlete_id", "trained_on", "exercise", "set_number", "side", "reps", "load", "unit",
       "planned_reps", "planned_load", "done", "pain", "note")  # fmt: skip
TESTS = ("athlete_id", "name", "tested_on", "test", "first_side", "left_1", "right_1", "left_2",
         "right_2", "left_3", "right_3", "unit", "pain", "note")  # fmt: skip
DAY = "2026-03-05"


def log_of(folder: Path, *lines: tuple[Any, ...]) -> Any:
    rows = [
        ("A1", DAY, "step_up", n, "left", reps, load, "kg", 8, 20.5, done, pain, note)
        for n, (reps, load, done, pain, note) in enumerate(lines, start=1)
    ]
    return intake_of(folder, {"training_Gym.xlsx": {"training": [LOG, *rows]}})


def test_a_tick_without_repetitions_means_as_planned_and_a_blank_line_is_no_row(
    tmp_path: Path,
) -> None:
    intake = log_of(
        tmp_path,
        (None, None, "x", None, None),
        (None, None, None, None, None),
        (6, None, "x", None, None),
        (None, 22, "x", None, None),
        (5, 18, None, None, None),
        (None, None, "no", None, None),
        (0, None, "x", None, None),
    )
    assert intake.sets.select("set_number", "reps", "load_kg", "source_line").rows() == [
        (1, 8.0, 20.5, 2), (3, 6.0, 20.5, 4), (4, 8.0, 22.0, 5), (5, 5.0, 18.0, 6),
        (7, 0.0, 20.5, 8),
    ]  # fmt: skip
    assert counts(intake, "training_Gym.xlsx", "training") == (5, 5, 0, 0)
    assert refusals(intake) == []


def test_pain_beside_an_unticked_line_still_counts(tmp_path: Path) -> None:
    intake = log_of(tmp_path, (None, None, None, 5, "stopped"), (None, None, "x", 2, None))
    assert intake.sets.select("reps", "pain", "note").rows() == [
        (None, 5.0, "stopped"), (8.0, 2.0, None),
    ]  # fmt: skip


def test_what_is_neither_a_tick_nor_blank_is_told(tmp_path: Path) -> None:
    intake = log_of(
        tmp_path, (None, None, "half", None, None), (7, None, "half", None, None),
        (None, 25, None, None, None), (None, "heavy", "x", None, None),
    )  # fmt: skip
    assert intake.sets.select("reps", "load_kg").rows() == [(7.0, 20.5), (8.0, None)]
    told = [(line, column) for _, line, column, _, _ in refusals(intake)]
    assert (2, "reps") in told and (3, "done") in told
    assert (4, "reps") in told and (5, "load") in told
    assert counts(intake, "training_Gym.xlsx", "training") == (4, 2, 2, 0)
    reasons = {reason for _, line, column, _, reason in refusals(intake) if column == "reps"}
    assert all("a tick where it was done as planned" in reason for reason in reasons)


@pytest.mark.parametrize(
    ("word", "is_done"),
    [(word, True) for word in catalogue().headers.words["done"]["yes"]]
    + [(word, False) for word in catalogue().headers.words["done"]["no"]]
    + [("X", True), (" x ", True), (True, True), (False, False), (1, True), (0, False)],
)
def test_every_tick_is_read(word: Any, is_done: bool, tmp_path: Path) -> None:
    assert log_of(tmp_path, (None, None, word, None, None)).sets.height == is_done


def test_planned_columns_of_somebody_elses_log_are_none_of_ours(tmp_path: Path) -> None:
    head = "athlete_id,trained_on,exercise,set_number,side,reps,planned_reps,planned_load"
    rows = f"{head}\nA1,{DAY},step_up,1,left,8,10,40\nA1,{DAY},step_up,2,left,,10,40\n"
    intake = intake_of(tmp_path, {"log.csv": rows})
    assert intake.sets.select("reps", "load_kg").rows() == [(8.0, None)]


def test_a_drill_of_a_card_is_known(tmp_path: Path) -> None:
    rows = [("A1", DAY, name, 1, "left", None, None, None, 10, None, "x", None, None)
            for name in ("bridge_march", "short_foot_hold", "Zebra curl")]  # fmt: skip
    intake = intake_of(tmp_path, {"t.xlsx": {"training": [LOG, *rows]}})
    assert intake.sets["known_exercise"].to_list() == [True, True, False]
    assert remark(intake, "t.xlsx", "training") == "exercises not in the dictionary: Zebra curl"


def test_a_sheet_of_tests_gives_what_was_typed_and_nothing_else(tmp_path: Path) -> None:
    rows = [
        ("A1", "Ann Berg", DAY, "single_hop", "left", 150, 161, 152, None, None, 160,
         "cm", 2, "dry"),
        ("A2", "Bea Holm", DAY, "single_hop", "right", *[None] * 6, "cm", None, None),
        ("A2", "Bea Holm", DAY, "sl_cmj_height", "left", None, 18.5, *[None] * 4, "cm", None, None),
        ("A1", "Ann Berg", DAY, "single hop", "left", *[None] * 6, "cm", 6, "stopped"),
    ]  # fmt: skip
    intake = intake_of(tmp_path, {"tests_Handball.xlsx": {"tests": [TESTS, *rows]}})
    found = [row for row in values(intake) if row[-1] is not None]
    assert found == [
        ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "left", 2, 152.0),
        ("A1", "single_hop", "right", 1, 161.0), ("A1", "single_hop", "right", 3, 160.0),
        ("A2", "sl_cmj_height", "right", 1, 18.5),
    ]  # fmt: skip
    assert counts(intake, "tests_Handball.xlsx", "tests") == (3, 3, 0, 0)
    assert "first_side" not in remark(intake, "tests_Handball.xlsx", "tests")
    assert intake.trials.filter(source_line=5)["pain"].max() == 6.0
