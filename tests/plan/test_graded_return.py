"""Every step of a graded return, of every part of the body: plan, card, agenda and sheet agree.

Which work a step holds is common practice; stepwise return: Ardern 2016, Br J Sports Med 50:853.
"""

from datetime import timedelta
from typing import Any

import pytest

from pipeline.plan.blocks import blocks
from pipeline.plan.fast_work import fast_work
from pipeline.plan.rows import next_set_rows, plan_rows
from pipeline.programme.step import Step
from pipeline.report.athlete.card import training_card
from pipeline.report.outputs.tables import flag_table
from pipeline.report.page_models import Card
from schemas.plan_words import FastWork
from tests.programme.logs import ADULT, BOOK
from tests.raw import trials_of, week
from tests.review.situations import AS_OF, DAYS, log, roster, squad

MEASURE = {"lower": "single_hop", "upper": "grip_strength", "trunk": "side_plank_hold"}
LIFT = {"lower": "split_squat", "upper": "single_arm_dumbbell_row", "trunk": "suitcase_carry"}
# Step and part of the body -> what is done at speed, sets and repetitions of a side, and the words
# that staff and the athlete read of it.
FAST: dict[tuple[int, str], tuple[str, int, int, str, str]] = {
    (2, "lower"): ("box_jump", 2, 3, "Landings on two feet.", "landings on both feet"),
    (2, "upper"): ("rotational_medicine_ball_throw", 2, 3, "Light throws.", "a few light throws"),
    (3, "lower"): ("snap_down_stick", 2, 4, "Landings on one foot.", "landings on one foot"),
    (3, "upper"): (
        "rotational_medicine_ball_throw", 2, 4, "Throws with a light ball", "throws with a light",
    ),
}  # fmt: skip
SPOKEN = ("anding", "ight throws", "throws with a light ball")
# Sets of a side of a lift that the log has three sets of: half, three quarters, all, rounded down.
SETS = {1: 1, 2: 2, 3: 3}


def returned(
    step: int,
    limb: str,
    note: str = "Dr Hahn",
    sets: list[dict[str, Any]] | None = None,
    **who: Any,
) -> tuple[list[Step], Card, str, list[dict[str, Any]]]:
    """Steps of the plan, the card, what the agenda says next, and the rows of the sheet."""
    measure = MEASURE[limb]
    day = AS_OF - timedelta(days=1)
    known = week(
        AS_OF,
        roster=roster(**who),
        trials=squad(measure, 100, 1) + trials_of(measure, DAYS, 80, 100),
        sets=sets or log((3, 20.0), (3, 20.0), exercise=LIFT[limb]),
        decisions=[
            {"flag_id": f"A1.{measure}.difference", "decision": f"cleared step {step}",
             "note": note, "listed_on": day, "decided_on": day},
        ],
    )  # fmt: skip
    made = blocks(known)
    block = made["A1"]
    assert block.plan == "return"
    rows = flag_table(known, made).filter(athlete_id="A1", measure=measure)
    sheet = next_set_rows(known, made).filter(athlete_id="A1").rows(named=True)
    planned = plan_rows(made, dict(known.athletes.select("athlete_id", "squad").iter_rows()))
    steps = [] if block.programme is None else list(block.steps)
    named = planned.filter(athlete_id="A1")["exercise"].drop_nulls().to_list()
    assert named == [one.exercise for one in steps]
    card = training_card(block, known.catalogue.measures, "the physio", 2, ADULT)
    return steps, card, str(rows["suggestion"][0]).replace("\xa0", " "), list(sheet)


@pytest.mark.parametrize("limb", MEASURE)
@pytest.mark.parametrize("step", [1, 2, 3])
def test_each_step_holds_what_it_says_for_the_limb_that_comes_back(step: int, limb: str) -> None:
    steps, card, agenda, sheet = returned(step, limb)
    fast = [one for one in steps if one.part == "jumps"]
    lifts = {one.dose.sets for one in steps if one.exercise == LIFT[limb]}
    assert lifts == {SETS[step]}
    assert f"Return, step {step} of 5: both sides alike" in agenda
    assert f"this is step {step} of 5" in card.why
    named = FAST.get((step, limb))
    if named is None:
        assert fast == []
        assert {row["exercise"] for row in sheet} == {LIFT[limb]}
        assert not [word for word in SPOKEN if word in agenda + card.why]
        return
    exercise, count, reps, to_staff, to_athlete = named
    assert {(one.exercise, one.dose.sets, one.dose.reps) for one in fast} == {
        (exercise, count, reps)
    }
    assert to_staff in agenda and to_athlete in card.why
    # Once a session, first of all, alike on both sides, and so it stands on card and sheet.
    for day in card.days:
        assert [line.part for line in day.lines].count("Fast work") == 1
        assert day.lines[0].part == "Fast work"
    sides = {row["side"] for row in sheet if row["exercise"] == exercise}
    assert sides == ({"both"} if exercise == "box_jump" else {"left", "right"})
    done = [row for row in sheet if row["exercise"] == exercise]
    assert {row["planned_reps"] for row in done} == {reps}
    assert {row["planned_load_kg"] for row in done} == {None}
    other = [words for (at, part), (*_, words, _) in FAST.items() if part != limb and at == step]
    assert not [words for words in other if words in agenda]


@pytest.mark.parametrize("limb", MEASURE)
def test_the_step_of_tests_plans_no_days(limb: str) -> None:
    steps, card, agenda, sheet = returned(4, limb)
    assert (steps, card.days, sheet) == ([], (), [])
    assert "tests, when medical staff say so" in agenda


def test_a_return_without_a_limb_goes_by_what_staff_say() -> None:
    assert fast_work(2, None, None, BOOK) == FastWork.AS_STAFF_SAY
    assert fast_work(1, None, None, BOOK) == FastWork.NONE_YET
    assert fast_work(4, "lower", None, BOOK) is None


@pytest.mark.parametrize(
    ("limb", "note", "is_out"),
    [
        ("lower", "Dr Hahn, no jumping yet", True),
        ("lower", "Dr Hahn: avoid impact", True),
        ("lower", "Dr Hahn: no throwing", False),
        ("lower", "Dr Hahn, landings are fine", False),
        ("upper", "Dr Hahn, nothing overhead, no throws", True),
        ("upper", "Dr Hahn, no jumps", False),
    ],
)
def test_what_staff_limit_is_not_planned_and_nobody_reads_that_it_is(
    limb: str, note: str, is_out: bool
) -> None:
    steps, card, agenda, _ = returned(2, limb, note)
    assert (not any(one.part == "jumps" for one in steps)) == is_out
    said = "left out by the limits in the note" in agenda
    assert said == is_out
    assert ("No jumps and no throws in this step" in card.why) == is_out


def test_after_a_week_with_pain_nothing_is_done_at_speed() -> None:
    other = log((2, 30.0), (2, 30.0), exercise="single_leg_curl", weeks=(9, 1))
    hurt = log((1, 30.0), (1, 30.0), exercise="single_leg_curl", weeks=(0, 0), pain=3.0)
    squats = log((3, 20.0), (3, 20.0), exercise="split_squat")
    steps, card, agenda, _ = returned(2, "lower", sets=[*other, *hurt, *squats])
    assert {one.exercise for one in steps} == {"split_squat"}
    assert "left out, since pain was noted" in agenda
    assert "Pain was noted this week, so no jumps and no throws until it is gone" in card.why


def test_the_step_that_asks_for_a_film_has_one_to_take() -> None:
    for limb, exercise in (("lower", "Box jump"), ("upper", "Rotational medicine-ball throw")):
        _, card, _, _ = returned(2, limb)
        assert any(f"film a set of {exercise} from the" in line for line in card.after)
    for step in (1, 3):
        _, card, _, _ = returned(step, "lower")
        assert not any("film a set" in line for line in card.after)


def test_who_grows_lands_a_quarter_less() -> None:
    steps, *_ = returned(3, "lower", grew_cm=2.0)
    fast = [one.dose for one in steps if one.part == "jumps"]
    assert {(dose.sets, dose.reps) for dose in fast} == {(2, 3)}


def test_of_several_returns_the_earliest_step_counts_and_no_line_asks_for_more() -> None:
    day = AS_OF - timedelta(days=1)
    steps = {"single_hop": "cleared step 3", "triple_hop": "cleared"}
    known = week(
        AS_OF,
        roster=roster(),
        trials=[
            *squad("single_hop", 150), *squad("triple_hop", 450),
            *squad("calf_raise_reps", 30),
            *(row for name in (*steps, "calf_raise_reps")
              for row in trials_of(name, DAYS, 25 if name == "calf_raise_reps" else 120, 160)),
        ],
        sets=log((3, 20.0), (3, 20.0)),
        decisions=[
            {"flag_id": f"A1.{name}.difference", "decision": said, "note": "Dr Hahn",
             "listed_on": day, "decided_on": day}
            for name, said in steps.items()
        ],
    )  # fmt: skip
    made = blocks(known)
    assert (made["A1"].plan, made["A1"].choice.step) == ("return", 1)
    assert not [step for step in made["A1"].steps if step.part == "jumps"]
    rows = flag_table(known, made).filter(athlete_id="A1")
    told = dict(rows.select("measure", "suggestion").iter_rows())
    assert told["calf_raise_reps"].startswith("Coming back in steps: nothing for one side")


@pytest.mark.parametrize("availability", ["full", "modified"])
def test_an_overdue_test_is_not_asked_of_somebody_who_waits_for_staff(availability: str) -> None:
    old = [AS_OF - timedelta(days=back) for back in (85, 71)]
    rows = [*squad("single_hop", 150), *squad("knee_to_wall", 11)]
    rows += trials_of("single_hop", DAYS, 150, 150) + trials_of("knee_to_wall", old, 11, 11)
    known = week(AS_OF, roster=roster(availability=availability), trials=rows)
    flags = flag_table(known, blocks(known)).filter(athlete_id="A1", measure="knee_to_wall")
    said = "Medical staff first" if availability == "modified" else "Put on the next test day"
    assert flags["suggestion"][0].startswith(said)
