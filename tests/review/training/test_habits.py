"""How the work was done: literal sets in, counts out; nothing is counted that no log can tell."""

from datetime import date, timedelta
from typing import Any

import pytest

from tests.raw import week

MONDAY = date(2026, 11, 2)
AS_OF = date(2026, 11, 20)
# Loads that differ name the lower side, so that there is one.
LOADS = {"left": 18.0, "right": 24.0, "both": 80.0}


def session(
    *sets: tuple[str, str, int], day: int = 0, start: int = 2, **more: Any
) -> list[dict[str, Any]]:
    """Sets as (exercise, side, place in the session), in the order of the log's lines."""
    return [
        {
            "trained_on": MONDAY + timedelta(days=day), "exercise": exercise, "side": side,
            "exercise_order": place, "set_number": 1, "load_kg": LOADS[side],
            "source_line": start + line, **more,
        }
        for line, (exercise, side, place) in enumerate(sets)
    ]  # fmt: skip


def habits(sets: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    found = week(AS_OF, sets=sets, **more).habits
    return found.filter(week_on=MONDAY).row(0, named=True)


LEFT, RIGHT = ("split_squat", "left", 1), ("split_squat", "right", 1)


def test_the_lower_side_goes_first_by_the_lines_of_a_log_that_changes() -> None:
    sets = session(LEFT, RIGHT) + session(RIGHT, LEFT, day=2, start=10)
    row = habits(sets + session(LEFT, RIGHT, day=4, start=20))
    assert (row["lower_first_count"], row["side_order_count"]) == (2, 3)


def test_a_log_that_always_names_one_side_first_tells_no_order() -> None:
    row = habits(session(LEFT, RIGHT) + session(LEFT, RIGHT, day=2, start=10))
    assert (row["lower_first_count"], row["side_order_count"]) == (0, 0)


def test_numbers_that_run_through_both_sides_tell_the_order() -> None:
    sets = session(LEFT, RIGHT)
    sets[0]["set_number"] = 2
    row = habits(sets)
    assert (row["lower_first_count"], row["side_order_count"]) == (0, 1)


@pytest.mark.parametrize(
    ("sets", "kept"),
    [
        ([LEFT, RIGHT, ("back_squat", "both", 2), ("leg_extension", "both", 3)], 1),
        ([("back_squat", "both", 1), ("split_squat", "left", 2), ("split_squat", "right", 2)], 0),
        ([("leg_extension", "both", 1), ("back_squat", "both", 2)], 0),
        ([LEFT, RIGHT, ("leg_extension", "both", 2)], 1),
    ],
)
def test_one_sided_first_two_sided_next_isolation_last(
    sets: list[tuple[str, str, int]], kept: int
) -> None:
    row = habits(session(*sets))
    assert (row["order_kept_count"], row["order_count"]) == (kept, 1)


def test_one_kind_of_exercise_has_no_order_to_keep() -> None:
    assert habits(session(LEFT, RIGHT))["order_count"] == 0


def test_extra_sets_of_the_lower_side_are_counted_and_whether_they_came_last() -> None:
    step_ups = [("step_up", "left", 2), ("step_up", "right", 2)]
    at_end = session(LEFT, RIGHT, *step_ups, ("step_up", "left", 2))
    early = session(LEFT, LEFT, RIGHT, *step_ups, day=2, start=20)
    row = habits(at_end + early)
    assert row["lower_session_count"] == 2
    assert (row["extra_session_count"], row["extra_set_count"]) == (2, 2)
    assert row["extra_at_end_count"] == 1
    assert row["other_more_count"] == 0


def test_more_repetitions_of_the_other_side_are_counted() -> None:
    assert habits(session(LEFT, RIGHT, RIGHT))["other_more_count"] == 1


@pytest.mark.parametrize(
    ("tempo", "counted", "slow"),
    [("3-1-1", 1, 1), ("2-0-1", 1, 0), ("4010", 1, 1), ("x-0-1", 0, 0), (None, 0, 0)],
)
def test_lowering_of_three_seconds_or_more_is_slow(
    tempo: str | None, counted: int, slow: int
) -> None:
    row = habits(session(LEFT, tempo=tempo))
    assert (row["tempo_set_count"], row["slow_set_count"]) == (counted, slow)


def test_dumbbells_count_where_a_two_sided_lift_has_the_choice() -> None:
    sets = session(("bench_press", "both", 1), ("dumbbell_bench_press", "both", 2))
    row = habits(sets)
    assert (row["own_load_set_count"], row["choice_set_count"]) == (1, 2)


def test_checkpoints_to_adjust_on_one_side_only_are_counted() -> None:
    film = [
        {"filmed_on": MONDAY, "exercise": "split_squat", "checkpoint": point, "side": side,
         "finding": finding}
        for point, left, right in (("knee", "adjust", "ok"), ("trunk", "adjust", "adjust"))
        for side, finding in (("left", left), ("right", right))
    ]  # fmt: skip
    row = habits(session(LEFT, RIGHT), film=film)
    assert (row["filmed_count"], row["film_difference_count"]) == (1, 1)


def test_a_jump_is_measured_against_the_fullest_of_four_weeks() -> None:
    sets = [
        {"trained_on": MONDAY + timedelta(days=7 * back), "side": side, "reps": reps,
         "set_number": 1, "load_kg": 20.0, "exercise": "split_squat"}
        for side in ("left", "right")
        for back, reps in ((-3, 10.0), (-2, 2.0), (-1, 10.0), (0, 12.0))
    ]  # fmt: skip
    found = week(AS_OF, sets=sets).habits
    assert found["left_jump"].to_list() == [None, pytest.approx(-0.8), 0.0, pytest.approx(0.2)]


def test_two_sided_work_is_in_no_side() -> None:
    row = habits(session(("back_squat", "both", 1)))
    assert (row["left_sets"], row["right_sets"], row["session_count"]) == (0, 0, 1)


def test_nothing_logged_gives_no_rows() -> None:
    trials = [{"athlete_id": "A1", "tested_on": AS_OF}]
    assert week(AS_OF, trials=trials).habits.is_empty()
