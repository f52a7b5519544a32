"""Pain and notes of the training log, whether or not a set was done beside them."""

from datetime import date

from pipeline.review.training.by_side import work_by_side
from tests.raw import of_kind, warehouse, week

DAY = date(2026, 9, 1)


def row(who: str, **more: object) -> dict[str, object]:
    return {"athlete_id": who, "trained_on": DAY, "exercise": "step_up", **more}


ROWS = [
    row("A1", reps=None, pain=8.0, side="left", note="knee gave way", source_line=2),
    row("A1", reps=8.0, load_kg=20.0, side="right", set_number=2, source_line=3),
    row("A2", reps=8.0, load_kg=30.0, side="left", pain=2.0, source_line=4),
    row("A2", reps=6.0, load_kg=30.0, side="right", note="felt fine", source_line=5),
]


def test_a_row_without_a_set_is_heard_and_counts_as_no_work() -> None:
    house = warehouse(sets=ROWS)
    worked = house.fetch("stg_sets").sort("athlete_id", "side")
    assert worked.select("athlete_id", "side", "reps").rows() == [
        ("A1", "right", 8.0), ("A2", "left", 8.0), ("A2", "right", 6.0),
    ]  # fmt: skip
    said = house.fetch("stg_log_remarks").sort("source_line")
    assert said.select("athlete_id", "side", "pain", "note").rows() == [
        ("A1", "left", 8.0, "knee gave way"), ("A2", "left", 2.0, None),
        ("A2", "right", None, "felt fine"),
    ]  # fmt: skip
    work = work_by_side(worked, DAY, weeks=4).select("athlete_id", "left_sets", "right_sets")
    assert work.rows() == [("A1", 0, 1), ("A2", 1, 1)]


def test_it_sends_the_athlete_to_medical_staff_first_with_the_facts_of_its_row() -> None:
    flags = of_kind(week(DAY, sets=ROWS), "pain")
    facts = ["athlete_id", "exercise", "pain_level", "side", "note"]
    assert flags.select(facts).rows() == [
        ("A1", "step_up", 8.0, "left", "knee gave way"),
    ]  # fmt: skip
    signs = week(DAY, sets=ROWS).flags.filter(kind="note")
    assert signs["athlete_id"].to_list() == ["A1"]
