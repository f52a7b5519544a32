"""The athlete's own week as the log has it: days, loads, what a side is used to."""

from datetime import timedelta

import pytest

from pipeline.programme.log import counted
from tests.programme.logs import AS_OF, BOOK, log_of, pairs_of, sets_of


def test_a_weekday_counts_when_it_was_trained_in_half_of_six_weeks():
    often = sets_of("split_squat", (0,), weeks=6)
    half = sets_of("split_squat", (2,), weeks=3)
    seldom = sets_of("split_squat", (4,), weeks=2)
    assert log_of(often, half, seldom).own_days == (0, 2)


def test_a_log_of_one_week_has_the_days_of_that_week():
    assert log_of(sets_of("split_squat", (0, 3), weeks=1)).own_days == (0, 3)


def test_the_reference_is_the_mean_of_four_logged_weeks_with_two_sided_sets_for_each_side():
    log = log_of(
        sets_of("split_squat", (0,), left=2, right=3, reps=8.0),
        pairs_of("back_squat", (0,), sets=3, reps=5.0),
        sets_of("single_arm_dumbbell_row", (0,), reps=10.0),
    )
    assert log.reference("lower", "left") == pytest.approx(2 * 8 + 3 * 5)
    assert log.reference("lower", "right") == pytest.approx(3 * 8 + 3 * 5)
    assert log.reference("upper", "left") == pytest.approx(3 * 10)


def test_weeks_without_a_log_are_left_out_of_the_mean():
    rows = [
        row
        for row in sets_of("split_squat", (0,), weeks=8)
        if (AS_OF - row["trained_on"]) // timedelta(days=7) in (0, 3, 4, 6, 7)
    ]
    assert log_of(rows).reference("lower", "left") == pytest.approx(3 * 8)


def test_five_seconds_of_a_hold_count_as_one_repetition():
    log = log_of(sets_of("side_plank", (0,), left=2, right=2, reps=30.0, load=None))
    assert log.reference("trunk", "left") == pytest.approx(2 * 30 / 5)
    assert counted(BOOK.exercises["side_plank"], 30) == 6
    assert counted(BOOK.exercises["split_squat"], 8) == 8
    assert counted(BOOK.exercises["long_lever_adductor_side_hold"], 20, in_seconds=True) == 4


def test_the_load_is_that_of_the_last_good_sets():
    log = log_of(
        sets_of("split_squat", (0,), load=20.0),
        sets_of("split_squat", (3,), load=30.0, reps=3.0, weeks=1),  # broken off
        sets_of("split_squat", (4,), load=28.0, weeks=1, pain=2.0),
    )
    assert log.usual["split_squat"].by_side["left"]["load_kg"] == 20.0


def test_level_three_asks_for_two_sessions_in_twelve_weeks():
    assert log_of(sets_of("single_leg_pogo_hop", (0,), weeks=2)).has("single_leg_pogo_hop")
    assert not log_of(sets_of("single_leg_pogo_hop", (0,), weeks=1)).has("single_leg_pogo_hop")


def test_what_was_done_long_ago_is_not_usual():
    rows = [
        row
        for row in sets_of("split_squat", (0,), weeks=12)
        if (AS_OF - row["trained_on"]).days > 57
    ]
    assert "split_squat" not in log_of(rows).usual
