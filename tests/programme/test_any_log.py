"""What every plan keeps to, whatever the log looks like: three hundred made-up athletes."""

from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.programme.draft import Brief
from pipeline.programme.log import Log, read_logs
from pipeline.programme.step import PARTS, Programme
from pipeline.programme.who import Who
from schemas.vocabulary import StepSide
from tests.programme.logs import AS_OF, BOOK, RULES, SCHEMA, log_of, plan_of, sets_of

MEASURES = [
    "single_hop", "grip_strength", "isok_knee_flexion_60", "upper_arm_girth", "nordic_ecc_force",
    "est_1rm:split_squat", "est_1rm:single_arm_dumbbell_row", "hip_adduction_torque",
    "knee_to_wall", "side_plank_hold", "cod_505_time", "iso_knee_extension_torque",
]  # fmt: skip
EXERCISES = [
    "split_squat", "step_up", "walking_lunge", "single_leg_romanian_deadlift", "single_leg_curl",
    "single_leg_hop_to_box", "back_squat", "leg_press", "trap_bar_deadlift", "bench_press",
    "single_arm_dumbbell_row", "single_arm_dumbbell_press", "concentration_curl", "biceps_curl",
    "suitcase_carry", "wrist_curl", "single_leg_calf_raise", "cable_hip_adduction",
    "nordic_lowering", "power_clean", "side_plank", "single_leg_pogo_hop", "pistol_squat",
]  # fmt: skip
Made = tuple[Log, Brief, Programme]


def made_up_log(seed: int) -> pl.DataFrame:
    """One athlete's sets: some exercises, uneven sides, missed sessions, pain now and then."""
    draw = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for name in draw.choice(EXERCISES, size=draw.integers(0, 8), replace=False):
        one, typical = BOOK.exercises[str(name)], int(draw.integers(1, 13))
        is_two_sided = one.laterality == "bilateral" and draw.random() < 0.9
        counts = draw.integers(0, 5, size=2) if draw.random() < 0.5 else [draw.integers(1, 5)] * 2
        sides = {"both": counts[0]} if is_two_sided else dict(
            zip(("left", "right"), counts, strict=True)
        )  # fmt: skip
        attendance, load = draw.uniform(0.2, 1.0), draw.integers(2, 80)
        for back in range(0, 84, int(draw.integers(2, 9))):
            if draw.random() > attendance:
                continue
            on = AS_OF - timedelta(days=back)
            for side, count in sides.items():
                rows += [
                    {
                        "athlete_id": "A1",
                        "trained_on": on,
                        "week_on": on - timedelta(days=on.weekday()),
                        "exercise": one.id,
                        "side": side,
                        "reps": float(max(0, typical - int(draw.integers(0, 3)))),
                        "load_kg": float(load + draw.integers(-2, 3)) if load > 8 else None,
                        "rir": float(draw.integers(0, 5)) if draw.random() < 0.5 else None,
                        "pain": 2.0 if draw.random() < 0.05 else None,
                    }
                    for _ in range(count)
                ]
    return pl.DataFrame(rows, schema=SCHEMA)


@pytest.fixture(scope="module")
def plans() -> list[Made]:
    made = []
    for seed in range(300):
        log = read_logs(made_up_log(seed), AS_OF, BOOK, RULES).get("A1", Log())
        who = Who(date(1996 + seed % 18, 3, 1), AS_OF)
        tested = 20.0 if seed % 2 else None
        brief, plan = plan_of(
            MEASURES[seed % len(MEASURES)], log, "left" if seed % 3 else "right", who, tested
        )
        made.append((log, brief, plan))
    return made


def test_no_week_is_beyond_the_ceiling(plans: list[Made]) -> None:
    for _, _, plan in plans:
        heaviest = plan.reference or plan.weekly[0]
        for total in plan.weekly:
            assert total <= max(1.1 * heaviest, heaviest + 4) + 1e-6, plan
            heaviest = max(heaviest, total)


def test_no_load_is_above_what_the_side_did_without_pain(plans: list[Made]) -> None:
    seen = 0
    for seed, (_, brief, plan) in enumerate(plans):
        done = made_up_log(seed).filter(pl.col("pain").is_null())
        for step in plan.steps:
            if step.load_kg is None:
                continue
            side = "both" if step.side == "both" else brief.lower
            own = done.filter(pl.col("exercise") == step.exercise, pl.col("side") == side)
            assert step.load_kg <= float(str(own["load_kg"].max()))
            seen += 1
    assert seen > 150


def test_the_other_side_keeps_at_least_half_of_what_it_did() -> None:
    """Eight sets a week of eight against one: equal work by the ladder alone would be two."""
    log = log_of(sets_of("split_squat", (0, 3), left=1, right=8))
    _, plan = plan_of("sl_leg_press_rm", log)
    did = 8 * 8 * 2
    planned = sum(
        step.dose.sets * step.dose.reps
        for step in plan.steps
        if step.part in ("one_side", "isolation") and step.side != "left"
    )
    assert planned >= did / 2
    assert [step.side for step in plan.steps if step.part == "one_side"].count(StepSide.RIGHT) == 1
    assert "other_does_more" in plan.notes


def test_every_session_keeps_its_order_and_every_dose_is_whole(plans: list[Made]) -> None:
    for _, brief, plan in plans:
        assert plan.sessions
        for session in plan.sessions:
            places = [PARTS.index(step.part) for step in session.steps]
            assert places == sorted(places)
            for step in session.steps:
                assert step.dose.sets >= 1
                assert step.dose.reps >= 1
                assert len(step.weeks) == brief.weeks
                one = BOOK.exercises.get(step.exercise)
                assert one is None or one.level < 4 or step.part == "jumps"


def test_the_same_log_in_another_order_gives_the_same_plan() -> None:
    for seed in range(20):
        log = made_up_log(seed)
        turned = read_logs(log.reverse(), AS_OF, BOOK, RULES).get("A1", Log())
        straight = read_logs(log, AS_OF, BOOK, RULES).get("A1", Log())
        measure = MEASURES[seed % len(MEASURES)]
        assert plan_of(measure, turned)[1] == plan_of(measure, straight)[1]


def test_the_plans_are_not_all_alike(plans: list[Made]) -> None:
    """The checks above would hold for empty plans as well."""
    made = [plan for *_, plan in plans]
    assert sum(plan.has_extra for plan in made) > 50
    assert sum("other_does_more" in plan.notes for plan in made) > 10
    assert sum(any(step.is_new for step in plan.steps) for plan in made) > 50
    assert sum(any(step.instead_of for step in plan.steps) for plan in made) > 5
