"""Doses, rests and days of plans against position stands and trials; loads against a chart.

ACSM 2009, Med Sci Sports Exerc 41:687 (novice and intermediate lifters): 1 to 3 sets of 8 to 12
repetitions, 2 to 3 days a week, rests of 1 to 3 minutes, load up by 2 to 10 % (figures from
memory). ACSM 2011 (Garber), ibid. 43:1334: each muscle group 2 to 3 days a week with 48 hours
between, holds of 10 to 30 s in 2 to 4 repetitions (from memory). Grgic 2018, Sports Med 48:137:
rests of 60 s and more serve untrained people. Petersen 2011, Am J Sports Med 39:2296: slow
lowering from 2 sets of 5 once a week to 3 sets of 12, 10 and 8 three times a week. Thomas 2018,
Int J Sports Med 39:243: stretching 5 days a week. The chart of loads is the strength and
conditioning association's table, as several pages quote it.
"""

import pytest

from pipeline.catalogue import full_catalogue
from pipeline.programme.load import planned_load, share_for
from pipeline.programme.step import Dose

BOOK = full_catalogue()
LADDERS = BOOK.coaching.ladders
CHART = {1: 100, 2: 95, 3: 93, 4: 90, 5: 87, 6: 85, 7: 83, 8: 80, 9: 77, 10: 75}


@pytest.mark.parametrize(("reps", "percent"), CHART.items())
def test_the_share_of_the_maximum_lies_within_two_points_of_the_printed_chart(
    reps: int, percent: int
) -> None:
    assert 100 * share_for(reps) == pytest.approx(percent, abs=2.0)


def test_strength_and_size_lie_within_the_position_stand() -> None:
    for name, low, high in (("strength", 6, 12), ("size", 8, 12)):
        ladder = LADDERS[name]
        assert all(1 <= sets <= 3 for sets in ladder.sets)
        assert all(low <= reps <= high for reps in ladder.reps)


def test_every_group_is_trained_two_or_three_days_a_week() -> None:
    trained = [group for group in BOOK.coaching.groups.values() if group.is_trained]
    assert len(trained) == 32
    assert all(2 <= group.sessions <= 3 for group in trained)


def test_rests_lie_between_three_quarters_of_a_minute_and_three_minutes() -> None:
    for one in BOOK.exercises.values():
        assert 45 <= one.rest_s[0] <= one.rest_s[1] <= 180, one.id
        if one.type == "compound" and one.contacts == 0:
            assert one.rest_s[1] >= 60, one.id


def test_slow_lowering_begins_below_the_trial_and_stays_below_it() -> None:
    """Weekly repetitions of the trial: 10, 24 (2 x 2 x 6), 54 to 72, 72 to 90, then 90."""
    trial = (10, 24, 54, 72, 90, 90)
    ladder = LADDERS["lowering"]
    weekly = [
        sessions * sets * reps
        for sessions, sets, reps in zip(ladder.sessions, ladder.sets, ladder.reps, strict=True)
    ]
    assert all(own <= theirs for own, theirs in zip(weekly, trial, strict=True))


def test_range_is_worked_on_up_to_five_days_a_week_with_holds_of_ten_to_thirty_seconds() -> None:
    assert max(LADDERS["range"].days) == 5
    for drill in BOOK.coaching.drills.values():
        if drill.kind == "mobility" and drill.counted_in == "s":
            assert 10 <= drill.reps <= 30


def test_a_load_is_lighter_where_clearly_more_repetitions_are_asked_for() -> None:
    """100 kg for 5 with none left; 8 with 3 left is an 11-repetition load: 75 % over 88 % of it."""
    row = {"load_kg": 100.0, "load_reps": 5.0, "rir": 0.0}
    assert planned_load(row, [Dose(2, 8, 3)]) == 85.0
    assert planned_load(row, [Dose(2, 5, 2)]) == 100.0  # two repetitions are within the chart
    assert planned_load(row | {"load_reps": 12.0}, [Dose(2, 8, 3)]) == 100.0
    assert planned_load(row | {"load_kg": None}, [Dose(2, 8, 3)]) is None
