"""What a plan makes of several tests of one limb, of pain this week and of a week without room."""

from dataclasses import replace
from typing import Any

import pytest

from pipeline.plan.graded import _is_limited
from pipeline.programme.log import Usual
from pipeline.report.athlete.card_days import day_tables
from tests.programme.logs import BOOK, log_of, pairs_of, plan_of
from tests.raw import trials_of
from tests.review.situations import AS_OF, CLEAR, DAYS, log, situation, squad, suggested

LEVELS = {"triple_hop": 450.0, "calf_raise_reps": 30.0, "iso_knee_extension_torque": 3.0}


def lower(measure: str, side: str = "left") -> list[dict[str, Any]]:
    """Six days on which one side is a fifth lower, beside an even squad."""
    level = LEVELS[measure]
    values = (0.8 * level, level) if side == "left" else (level, 0.8 * level)
    return squad(measure, level, level / 100) + trials_of(measure, DAYS, *values)


def test_tests_that_differ_start_no_plan_and_are_done_again() -> None:
    trials = CLEAR + lower("triple_hop", "right")
    known, block, card = situation(trials=trials, sets=log())
    assert (block.plan, block.choice.why) == ("retest", "differ")
    assert card.why == "Your tests do not agree, so we test again before changing anything."
    assert set(suggested(known).values()) == {
        "Tests of this limb differ by side: no plan by them; test all of them again."
    }


def test_a_decision_counts_more_than_tests_that_differ() -> None:
    trials = CLEAR + lower("triple_hop", "right")
    rows = [{"flag_id": "A1.single_hop.difference", "decision": "train", "decided_on": AS_OF}]
    _, block, card = situation(trials=trials, sets=log(), decisions=rows)
    assert (block.plan, block.measure) == ("train", "single_hop")
    assert "do not agree" not in card.why
    assert "say the same" not in card.why


def test_two_tests_are_one_plan_by_the_surest_and_one_retest() -> None:
    _, block, card = situation(trials=CLEAR + lower("triple_hop"), sets=log())
    assert (block.plan, block.measure) == ("train", "single_hop")
    assert "2 tests say the same about your left leg, so one plan covers them." in card.why


def test_a_whole_leg_is_trained_by_its_push_with_the_small_exercise_of_the_surest_test() -> None:
    trials = CLEAR + lower("calf_raise_reps") + lower("iso_knee_extension_torque")
    _, block, card = situation(trials=trials, sets=log(exercise="step_up"))
    story = block.choice.story
    assert story is not None and story.quality == "whole_leg"
    assert "3 tests say the same about your left leg, so one plan covers them." in card.why
    surest = BOOK.coaching.for_measure[story.measures[0]]
    small = {step.exercise for step in block.steps if step.part == "isolation"}
    assert small <= {*surest.isolation}
    assert not any(step.part == "jumps" for step in block.steps)  # as leg_push has none


def test_what_hurt_this_week_is_left_out_and_nothing_is_added() -> None:
    sets = log(weeks=(9, 1)) + log(weeks=(0, 0), pain=3.0)
    people = [{"athlete_id": "A1", "birth_date": AS_OF.replace(year=1998)},
              *({"athlete_id": f"B{n}"} for n in range(2, 13))]  # fmt: skip
    _, block, card = situation(roster=people, trials=CLEAR, sets=sets)
    assert block.plan == "train"
    assert "split_squat" not in {step.exercise for step in block.steps}
    assert not any(step.part == "extra" for step in block.steps)
    assert any(line.startswith("Leave out this week: Split squat.") for line in card.after)
    _, block, card = situation(roster=people, trials=CLEAR, sets=log())
    assert "split_squat" in {step.exercise for step in block.steps}
    assert not any("Leave out" in line for line in card.after)


@pytest.mark.parametrize(
    ("measure", "lift"),
    [("db_bench_single_rm", "biceps_curl"), ("sl_leg_press_rm", "standing_calf_raise")],
)
def test_a_week_without_room_has_a_home_card_that_counts_for_nothing(
    measure: str, lift: str
) -> None:
    _, made = plan_of(measure, log_of(pairs_of(lift, (0,), 1)))
    home = [session for session in made.sessions if session.is_home]
    assert {"no_fit", "home"} <= {*made.notes}
    assert len(home) == 2
    assert {step.part for session in home for step in session.steps} <= {"activation", "range"}
    assert max(made.weekly) <= made.reference + 4


def test_a_range_plan_is_not_said_to_have_no_room() -> None:
    _, made = plan_of("knee_to_wall", log_of(pairs_of("back_squat", (0,), 1)))
    assert "no_fit" not in made.notes
    assert any(step.part == "range" for step in made.steps)


@pytest.mark.parametrize(
    ("note", "lift", "is_out"),
    [
        ("cleared by Dr Hahn, no squats yet", "split_squat", True),
        ("step 2, without lunging or lunges", "reverse_lunge", True),
        ("Dr Hahn: no deadlifts", "split_squat", False),
        ("cleared by Dr Hahn, squats are fine", "split_squat", False),
        ("", "split_squat", False),
    ],
)
def test_what_staff_limit_is_left_out_of_a_return(note: str, lift: str, is_out: bool) -> None:
    assert _is_limited(Usual(BOOK.exercises[lift], {}), note) == is_out


def test_equal_home_days_stand_on_the_card_once() -> None:
    _, made = plan_of("db_bench_single_rm", log_of(pairs_of("biceps_curl", (0,), 1)))
    _, block, _ = situation(trials=CLEAR, sets=log())
    titles = [day.title for day in day_tables(replace(block, programme=made))]
    assert titles.count("At home, twice a week, ten minutes at most") == 1
