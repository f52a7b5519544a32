"""Each group of tests, each kind of log, each side and age: what every plan keeps to."""

from datetime import date
from itertools import pairwise

import pytest

from pipeline.programme.draft import Brief
from pipeline.programme.log import Log
from pipeline.programme.step import PARTS, Programme, Step, counted
from pipeline.programme.who import Who
from schemas.plan_words import StepPart
from tests.programme.logs import ADULT, AS_OF, BOOK, log_of, pairs_of, plan_of, sets_of

COACHING = BOOK.coaching
TESTED = {"reps": 20.0, "s": 60.0}
TEENAGER, CHILD = Who(date(2009, 9, 1), AS_OF), Who(date(2012, 2, 1), AS_OF)
UNKNOWN = Who(None, AS_OF)
MEASURES = sorted(
    {group.measures[0] for group in COACHING.groups.values() if group.is_trained}
    | {"medial_hop", "calf_girth", "reach_posteromedial", "sl_sit_to_stand_reps", "forearm_girth"}
    | {"shoulder_er_rom", "adductor_plank_hold", "sl_bridge_reps", "shoulder_ir_iso_force"}
)


def usual_week() -> Log:
    """Strength on three days: some of it for one side, most of it for both."""
    return log_of(
        pairs_of("back_squat", (0,)),
        pairs_of("bench_press", (0,)),
        sets_of("rear_foot_elevated_split_squat", (0,), load=16.0),
        sets_of("single_arm_dumbbell_row", (2,), load=24.0),
        pairs_of("seated_cable_row", (2,), load=50.0),
        pairs_of("trap_bar_deadlift", (4,), load=110.0),
        sets_of("single_leg_romanian_deadlift", (4,), load=20.0),
        sets_of("single_leg_curl", (4,), load=25.0, reps=10.0),
        sets_of("side_plank", (2,), 2, 2, reps=30.0, load=None),
    )


def two_sided_week() -> Log:
    return log_of(
        pairs_of("back_squat", (1, 4)),
        pairs_of("bench_press", (1, 4)),
        pairs_of("barbell_row", (1, 4)),
        pairs_of("farmer_carry", (1,), reps=40.0),
    )


def one_day_week() -> Log:
    return log_of(pairs_of("back_squat", (5,)), pairs_of("bench_press", (5,)))


LOGS = {
    "usual": usual_week(),
    "two_sided": two_sided_week(),
    "one_day": one_day_week(),
    "nothing": Log(),
}
CASES = [pytest.param(measure, log, id=f"{measure}-{log}") for measure in MEASURES for log in LOGS]


def made(measure: str, log: str, lower: str = "left", who: Who = ADULT) -> tuple[Brief, Programme]:
    return plan_of(measure, LOGS[log], lower, who, TESTED.get(BOOK.measures[measure].unit))


def exercises(plan: Programme, *parts: str) -> list[Step]:
    return [step for step in plan.steps if step.part in parts]


@pytest.mark.parametrize(("measure", "log"), CASES)
def test_a_plan_is_complete_and_in_order(measure: str, log: str):
    brief, plan = made(measure, log)
    own = LOGS[log].own_days
    gym = [one for one in plan.sessions if not one.is_home]
    assert len(plan.sessions) >= 2 or len(own) == 1
    assert [one.letter for one in plan.sessions] == list("ABCDEFG")[: len(plan.sessions)]
    for session in plan.sessions:
        places = [PARTS.index(step.part) for step in session.steps]
        assert places == sorted(places)
        assert session.weekday is None or session.weekday in own
        wakes = list(session.of(StepPart.ACTIVATION))
        assert [step.side for step in wakes] == ["left_first"]
        assert COACHING.drills[wakes[0].exercise].region == brief.measure.region
    for step in plan.steps:
        assert step.cue
        assert step.rest_s is not None and step.rest_s > 0
        if step.part in ("activation", "one_side", "both_sides", "isolation"):
            doses = [dose for dose in step.weeks if dose is not None]
            is_lowering = step.exercise == "nordic_lowering"
            assert is_lowering or all((dose.in_reserve or 0) >= 2 for dose in doses)
    days = sorted(one.weekday for one in gym if one.weekday is not None)
    for one, then in pairwise([*days, *(day + 7 for day in days[:1])]):
        assert then - one >= 2 or len(days) == 1, "48 hours between two sessions"
    assert plan.starts_on > AS_OF


@pytest.mark.parametrize(("measure", "log"), CASES)
def test_movement_and_muscle_of_the_test_are_trained(measure: str, log: str):
    brief, plan = made(measure, log)
    work = exercises(plan, "jumps", "one_side", "isolation", "range")
    muscles = {
        muscle
        for step in work
        for muscle in (BOOK.exercises.get(step.exercise) or COACHING.drills[step.exercise]).muscles
    }
    assert muscles & {*brief.measure.muscles}
    group = brief.group
    if group.mobility:
        assert any(step.exercise == group.mobility for step in work)
    elif group.jumps:
        assert exercises(plan, "jumps"), "a jump is trained by jumps"
    else:
        listed = {*group.main, *group.isolation}
        patterns = {BOOK.exercises[name].pattern for name in listed} | {*brief.measure.patterns}
        assert any(
            BOOK.exercises[step.exercise].pattern in patterns
            for step in exercises(plan, "one_side", "isolation")
        )
    if group.id == "arm_size":
        assert "single_arm_triceps_extension" in {step.exercise for step in work}


@pytest.mark.parametrize(("measure", "log"), CASES)
def test_the_weekly_ceiling_holds(measure: str, log: str):
    """A tenth or four repetitions over the last logged weeks, then over the heaviest week."""
    brief, plan = made(measure, log)
    planned = []
    for week in range(6):
        total = 0.0
        for step in plan.steps:
            dose = step.weeks[week]
            if dose is None or step.part not in ("one_side", "both_sides", "isolation", "extra"):
                continue
            one = BOOK.exercises.get(step.exercise)
            if one is None or one.region != brief.measure.region or step.part == "jumps":
                continue
            total += dose.sets * counted(one, dose.reps, in_seconds=step.unit == "s")
        planned.append(total)
    before = sum(
        usual.weekly("left")
        for usual in LOGS[log].usual.values()
        if usual.exercise.region == brief.measure.region
    )
    heaviest = before or planned[0]
    for total in planned:
        assert total <= max(1.1 * heaviest, heaviest + 4) + 1e-6, planned
        heaviest = max(heaviest, total)


@pytest.mark.parametrize(("measure", "log"), CASES)
def test_the_extra_is_small_last_and_of_the_lower_side(measure: str, log: str):
    _, plan = made(measure, log, "right")
    for session in plan.sessions:
        extras = list(session.of(StepPart.EXTRA))
        assert len(extras) <= 1
        for step in extras:
            assert step.side == "right"
            behind = session.steps[session.steps.index(step) + 1 :]
            assert {one.part for one in behind} <= {"range"}
            assert (step.weeks[0], step.weeks[3]) == (None, None)
            for dose in step.weeks:
                if dose is not None and step.unit not in ("s", "m"):
                    assert dose.reps <= 5
            if step.is_new or any(
                one.is_new for one in session.steps if one.exercise == step.exercise
            ):
                assert step.weeks[1] is None, "a new exercise is learned first"


@pytest.mark.parametrize("log", ["usual", "two_sided"])
@pytest.mark.parametrize("measure", MEASURES)
def test_no_load_is_above_what_the_lower_side_controlled(measure: str, log: str):
    _, plan = made(measure, log)
    usual = LOGS[log].usual
    for step in plan.steps:
        if step.load_kg is None:
            continue
        rows = usual[step.exercise].by_side
        assert step.load_kg <= rows["both" if step.side == "both" else "left"]["load_kg"]


@pytest.mark.parametrize("who", [TEENAGER, CHILD, UNKNOWN], ids=["17", "14", "unknown"])
@pytest.mark.parametrize("measure", MEASURES)
def test_the_young_lift_lighter_and_add_less(measure: str, who: Who):
    _, plan = made(measure, "two_sided", who=who)
    for step in exercises(plan, "one_side", "isolation"):
        one = BOOK.exercises[step.exercise]
        assert one.level <= 2
        for dose in step.weeks:
            assert dose is None or dose.in_reserve is None or dose.in_reserve >= 3
            is_loaded = one.equipment != "bodyweight" and one.counted_in == "reps"
            if dose is not None and is_loaded:
                assert dose.reps >= 6
    if who is CHILD:
        for step in exercises(plan, "extra"):
            assert all(
                dose is None or step.unit in ("s", "m") or dose.reps <= 2 for dose in step.weeks
            )


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize(
    "who",
    [
        Who(date(1998, 5, 4), AS_OF, pain=3.0),
        Who(date(2011, 5, 4), AS_OF, is_growing=True),
        Who(date(1998, 5, 4), AS_OF, both_behind=True),
    ],
    ids=["pain", "growing", "both behind"],
)
def test_nothing_is_added_for_one_side_with_pain_growth_or_both_sides_behind(
    measure: str, who: Who
):
    _, plan = made(measure, "usual", who=who)
    assert not plan.has_extra
    assert plan.notes


@pytest.mark.parametrize("measure", MEASURES)
def test_level_three_is_planned_only_where_it_is_logged(measure: str):
    for log in LOGS:
        _, plan = made(measure, log)
        for step in plan.steps:
            one = BOOK.exercises.get(step.exercise)
            if one is not None and step.part != "both_sides":
                assert one.level <= 2 or LOGS[log].has(one.id), step.exercise
                assert one.level < 4


def test_the_other_side_of_a_plan_is_its_mirror():
    for measure in MEASURES:
        sides = {}
        for lower in ("left", "right"):
            _, plan = made(measure, "usual", lower)
            sides[lower] = [
                (s.part, s.exercise, s.weeks, s.side.replace("left", "x").replace("right", "x"))
                for s in plan.steps
            ]
        assert sides["left"] == sides["right"]
