"""What every plan keeps to, whatever the log looks like: three hundred made-up athletes."""

from dataclasses import replace
from datetime import date, timedelta
from math import floor, inf
from typing import Any

import numpy as np
import polars as pl
import pytest
from pipeline.review.session import Session, Step, fits, growth, training_session
from pipeline.review.usual import usual_work

from pipeline.catalogue import Doses, full_catalogue
from pipeline.plan.block import Case, next_block
from pipeline.settings import Settings

AS_OF = date(2026, 11, 20)
BOOK = full_catalogue()
DOSES = Doses(BOOK.rules.plan)
MEASURES = [
    "single_hop", "grip_strength", "isok_knee_flexion_60", "upper_arm_girth", "nordic_ecc_force",
    "est_1rm:split_squat", "est_1rm:single_arm_dumbbell_row", "hip_adduction_torque",
]  # fmt: skip
EXERCISES = [
    "split_squat", "step_up", "walking_lunge", "single_leg_romanian_deadlift", "single_leg_curl",
    "single_leg_hop_to_box", "back_squat", "leg_press", "trap_bar_deadlift", "bench_press",
    "single_arm_dumbbell_row", "single_arm_dumbbell_press", "concentration_curl", "biceps_curl",
    "suitcase_carry", "wrist_curl", "single_leg_calf_raise", "cable_hip_adduction",
]  # fmt: skip


Made = tuple[pl.DataFrame, pl.Expr, str, Session]  # log, what counts, lower side, its plan


def made_up_log(seed: int) -> pl.DataFrame:
    """One athlete's sets: some exercises, uneven sides, missed sessions, pain now and then."""
    draw = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for name in draw.choice(EXERCISES, size=draw.integers(0, 7), replace=False):
        one, typical = BOOK.exercises[str(name)], draw.integers(1, 13)
        is_two_sided = one.laterality == "bilateral" and draw.random() < 0.9
        counts = draw.integers(0, 5, size=2) if draw.random() < 0.5 else [draw.integers(1, 5)] * 2
        sides = {"both": counts[0]} if is_two_sided else dict(
            zip(("left", "right"), counts, strict=True)
        )  # fmt: skip
        attendance, load = draw.uniform(0.2, 1.0), draw.integers(2, 80)
        for day in range(0, 70, int(draw.integers(2, 9))):
            if draw.random() > attendance:
                continue
            on = AS_OF - timedelta(days=day)
            for side, count in sides.items():
                for _ in range(count):
                    rows.append(
                        {
                            "athlete_id": "A1",
                            "trained_on": on,
                            "week_on": on - timedelta(days=on.weekday()),
                            "exercise": one.id,
                            "exercise_name": one.name,
                            "pattern": one.pattern,
                            "region": one.region,
                            "type": one.type,
                            "equipment": one.equipment,
                            "side": side,
                            "reps": float(max(0, typical - draw.integers(0, 3))),
                            "load_kg": float(load + draw.integers(-2, 3)) if load > 8 else None,
                            "pain": 2.0 if draw.random() < 0.05 else None,
                        }
                    )
    schema = {
        "athlete_id": pl.String, "trained_on": pl.Date, "week_on": pl.Date, "exercise": pl.String,
        "exercise_name": pl.String, "pattern": pl.String, "region": pl.String, "type": pl.String,
        "equipment": pl.String, "side": pl.String, "reps": pl.Float64, "load_kg": pl.Float64,
        "pain": pl.Float64,
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema)


def weekly(log: pl.DataFrame, *conditions: pl.Expr) -> float:
    """Repetitions in a week of training, straight from the log."""
    recent = log.filter((pl.col("trained_on") > AS_OF - timedelta(weeks=8)) & (pl.col("reps") > 0))
    weeks = recent["week_on"].n_unique()
    return float(recent.filter(*conditions)["reps"].sum()) / weeks if weeks else 0.0


def planned(log: pl.DataFrame, steps: list[Step], scope: pl.Expr, side: str, lower: str) -> float:
    """A side's weekly repetitions without the extra: what it did, less what the card replaces."""
    total = weekly(log, scope, pl.col("side").is_in([side, "both"]))
    for step in steps:
        if step.exercise is None or step.part == "extra":
            continue
        kind = "both" if step.side == "both" else side
        same = (pl.col("exercise") == step.exercise) & (pl.col("side") == kind)
        total -= weekly(log, same)
        total += step.per_week * step.reps * (step.sets if side == lower else step.other_sets)
    return total


def ceiling(before: float) -> float:
    return before + max(0.10 * before, 4.0) if before > 0 else inf


@pytest.fixture(scope="module")
def plans() -> list[Made]:
    made = []
    for seed in range(300):
        log = made_up_log(seed)
        measure = BOOK.measures[MEASURES[seed % len(MEASURES)]]
        lower = "left" if seed % 3 else "right"
        usual = list(usual_work(log, AS_OF).iter_rows(named=True))
        plan = training_session(measure, lower, usual, BOOK, DOSES, hold=seed % 5 == 0)
        near = [e for e in EXERCISES if fits(measure, BOOK.exercises[e]) is not None]
        scope = (pl.col("region") == measure.region) | pl.col("exercise").is_in(near)
        made.append((log, scope, lower, plan))
    return made


def other_of(lower: str) -> str:
    return "right" if lower == "left" else "left"


def test_no_side_ever_grows_beyond_the_weekly_ceiling(
    plans: list[Made],
) -> None:
    for log, scope, lower, plan in plans:
        for side in (lower, other_of(lower)):
            before = weekly(log, scope, pl.col("side").is_in([side, "both"]))
            base = planned(log, list(plan.steps), scope, side, lower)
            for reps in plan.extra if side == lower else (0,):
                now = base + plan.extra_per_week * reps
                assert now <= ceiling(before) + 1e-9, (side, before, plan)
                before = max(now, 0.0)


def test_no_load_is_above_what_the_lower_side_did_without_pain(
    plans: list[Made],
) -> None:
    seen = 0
    for log, _, lower, plan in plans:
        for step in plan.steps:
            if step.load_kg is None:
                continue
            side = "both" if step.side == "both" else lower
            done = log.filter(
                (pl.col("exercise") == step.exercise)
                & (pl.col("side") == side)
                & pl.col("pain").is_null()
            )
            seen += 1
            assert step.load_kg <= float(str(done["load_kg"].max()))
    assert seen > 150


def test_the_other_side_keeps_at_least_half_of_what_it_did(
    plans: list[Made],
) -> None:
    for log, scope, lower, plan in plans:
        other = other_of(lower)
        before = weekly(log, scope, pl.col("side").is_in([other, "both"]))
        now = planned(log, list(plan.steps), scope, other, lower)
        assert now >= 0.5 * before - 1e-9, plan


def test_the_lower_side_never_does_more_than_twice_the_other(
    plans: list[Made],
) -> None:
    for _, _, _, plan in plans:
        for step in plan.steps:
            if step.part == "extra":
                bearer = next(
                    s for s in plan.steps
                    if s.exercise == step.exercise and s.side == "lower first"
                )  # fmt: skip
                assert max(plan.extra) <= bearer.sets * bearer.reps


def test_every_session_keeps_its_order_and_every_dose_is_whole(
    plans: list[Made],
) -> None:
    order = ["warm-up", "one side at a time", "both sides", "isolation", "extra"]
    for _, _, _, plan in plans:
        places = [order.index(step.part) for step in plan.steps]
        assert places == sorted(places)
        for step in plan.steps:
            assert step.sets >= 1
            assert step.reps >= 1
            assert step.other_sets >= step.sets or step.side == "lower only"
        assert any(step.side == "lower first" for step in plan.steps)


def test_the_plans_are_not_all_alike(plans: list[Made]) -> None:
    """The checks above would hold for empty plans as well."""
    made = [plan for *_, plan in plans]
    assert sum(max(plan.extra) > 0 for plan in made) > 50
    assert sum(plan.other_does_more for plan in made) > 10
    assert sum(any(step.is_new for step in plan.steps) for plan in made) > 50


def test_growth_is_a_tenth_a_week_or_four_repetitions() -> None:
    assert growth(100.0, 100.0, 2.0, 12, 4, DOSES) == (5, 10, 12, 12)
    assert growth(20.0, 20.0, 1.0, 8, 3, DOSES) == (4, 8, 8)
    assert growth(20.0, 20.0, 3.0, 8, 3, DOSES) == (0, 0, 0)  # less than two at a time
    assert all(
        floor(reps) == reps and 0 <= reps <= 8 for reps in growth(33.3, 30.1, 1.7, 8, 6, DOSES)
    )


@pytest.mark.parametrize("availability", ["full", "modified", "out"])
@pytest.mark.parametrize("reasons", [["refer"], ["confirmed", "refer"], ["confirmed"]])
def test_no_plan_stands_beside_an_open_referral(availability: str, reasons: list[str]) -> None:
    found = pl.DataFrame(
        {
            "measure": ["single_hop"], "measure_group": ["hop"], "region": ["lower"],
            "verdict": ["confirmed"], "chance_over_line": [0.99], "same_side_days": [5],
            "lower_side": ["left"], "chance_closing": [0.5],
        }
    )  # fmt: skip
    flags = pl.DataFrame({"reason": reasons, "measure": ["single_hop"] * len(reasons)})
    athlete = {"athlete_id": "A1", "availability": availability, "known_difference": None}
    for seed in range(20):
        usual = list(usual_work(made_up_log(seed), AS_OF).iter_rows(named=True))
        case = Case(athlete, found.rows(named=True), flags.rows(named=True), usual, [])
        block = next_block(case, BOOK, AS_OF, Settings())
        may_train = availability == "full" and "refer" not in reasons
        assert (block.plan == "train") == may_train
        assert bool(block.steps) == may_train
        assert replace(block, steps=()).retest_on is None or may_train


@pytest.mark.parametrize(
    "name", [m.id for m in BOOK.measures.values() if m.group not in ("structure", "parts")]
)
def test_every_measure_has_a_session_even_without_a_log(name: str) -> None:
    plan = training_session(BOOK.measures[name], "left", [], BOOK, DOSES)
    assert plan.steps[0].part == "warm-up"
    assert plan.steps[1].is_new
