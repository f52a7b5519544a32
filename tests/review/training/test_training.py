"""Whose side got how much, and which one is the lower."""

from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.review.training.by_side import lower_sides, work_by_side
from pipeline.settings import ReviewSettings
from tests.raw import trials_of, warehouse, week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back) for back in (3, 2, 1, 0)]


def sets(
    *done: tuple[str, int, float, float], back: int = 1, exercise: str = "split_squat"
) -> list[dict[str, Any]]:
    """(side, sets, repetitions, load) on one day, so many days back."""
    return [
        {"trained_on": AS_OF - timedelta(days=back), "exercise": exercise, "side": side,
         "set_number": n, "reps": reps, "load_kg": load}
        for side, count, reps, load in done
        for n in range(1, count + 1)
    ]  # fmt: skip


def worked(rows: list[dict[str, Any]]) -> pl.DataFrame:
    return warehouse(sets=rows).fetch("stg_sets")


def test_work_of_the_last_weeks_adds_up_by_side_and_part_of_the_body() -> None:
    rows = sets(("left", 3, 8.0, 20.0), ("right", 2, 8.0, 24.0), ("both", 5, 5.0, 90.0))
    rows += sets(("left", 1, 8.0, 20.0), back=40)  # before the four weeks
    rows[-2]["exercise"] = rows[-3]["exercise"] = "back_squat"
    rows = [row | {"exercise": "back_squat"} if row["side"] == "both" else row for row in rows]
    row = work_by_side(worked(rows), AS_OF, 4).row(0, named=True)
    assert (row["part"], row["left_sets"], row["right_sets"]) == ("lower", 3, 2)
    assert (row["left_volume"], row["right_volume"]) == (3 * 8 * 20.0, 2 * 8 * 24.0)
    assert row["load_ratio"] == pytest.approx(24 / 20)
    assert row["equal_load_share"] == 0.0


def test_a_test_names_the_lower_side_before_the_log_does() -> None:
    squad = [
        row
        for n in range(2, 13)
        for row in trials_of("single_hop", DAYS, 150 + n, 150 + n, athlete_id=f"B{n}")
    ]
    rows = [
        row
        for back in (2, 9, 16, 23)
        for row in sets(("left", 2, 8.0, 24.0), ("right", 2, 8.0, 16.0), back=back)
    ]
    known = week(AS_OF, trials=squad + trials_of("single_hop", DAYS, 120, 160), sets=rows)
    lower = lower_sides(known.findings, known.work, ReviewSettings()).filter(athlete_id="A1")
    assert lower.select("part", "measure", "lower_side").rows() == [("lower", "single_hop", "left")]
    alone = week(AS_OF, sets=rows)
    lower = lower_sides(alone.findings, alone.work, ReviewSettings())
    assert lower["lower_side"].to_list() == ["right"]
    assert lower["measure"].to_list() == ["est_1rm:split_squat"]


def test_unequal_work_began_on_the_first_of_the_unbroken_days() -> None:
    rows = []
    for back in (2, 6, 9, 13, 16, 20):
        rows += sets(("left", 2, 8.0, 18.0), ("right", 4, 8.0, 20.0), back=back)
    for back in (44, 47, 51):
        rows += sets(("left", 4, 8.0, 18.0), ("right", 4, 8.0, 20.0), back=back)
    known = week(AS_OF, sets=rows)
    found = known.kinds["flag_work"].row(0, named=True)
    assert found["less_percent"] == pytest.approx(50)
    assert found["first_flagged_on"] == AS_OF - timedelta(
        days=13
    )  # of the third session in 28 days


@pytest.mark.parametrize("weeks", [20, 26, 27, 60, 110])
def test_unequal_work_keeps_its_first_day_however_long_it_lasts(weeks: int) -> None:
    """A1 began so many weeks ago, A2 began anew after a pause of six weeks."""
    rows = []
    for who, begun, pause in (("A1", weeks, ()), ("A2", 40, range(8, 14))):
        for back in range(begun):
            for day in () if back in pause else (1, 4):
                done = sets(("left", 2, 8.0, 18.0), ("right", 4, 8.0, 20.0), back=7 * back + day)
                rows += [row | {"athlete_id": who} for row in done]
    # In the first week there are two sessions, one too few: the first day is that of the third.
    expected = {
        "A1": AS_OF - timedelta(days=7 * (weeks - 2) + 4),
        "A2": AS_OF - timedelta(days=7 * (8 - 2) + 4),
    }
    for later in (0, 1, 5):
        on = AS_OF + timedelta(days=7 * later - (later == 5) * 2)  # a build is not always a week on
        more = [
            row | {"athlete_id": who}
            for who in ("A1", "A2")
            for ahead in range(later)
            for row in sets(("left", 2, 8.0, 18.0), ("right", 4, 8.0, 20.0), back=-7 * ahead - 3)
            + sets(("left", 2, 8.0, 18.0), ("right", 4, 8.0, 20.0), back=-7 * ahead - 6)
        ]
        found = week(on, sets=rows + more).kinds["flag_work"]
        assert dict(found.select("athlete_id", "first_flagged_on").iter_rows()) == expected
