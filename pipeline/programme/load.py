"""Which load a step is done with: what the lower side has controlled, less where more is asked."""

from collections.abc import Mapping, Sequence
from math import floor
from typing import Any

from pipeline.catalogue import Doses, Exercise
from pipeline.programme.step import Dose
from schemas.plan_words import HeldLoad

ASSUMED_RESERVE = 2.0  # repetitions left over where the log notes none
SPARE = 2.0  # repetitions beyond the log's that the same load still allows
STEPS_KG = ((10.0, 0.5), (20.0, 1.0), (float("inf"), 2.5))  # below that load, steps of so much


def held_load(exercise: Exercise, rules: Doses) -> HeldLoad:
    """What a load of the log is the weight of, as the practice rules read the log."""
    if exercise.held_as_logged:
        return HeldLoad.AS_LOGGED
    if exercise.implements == 1:
        return HeldLoad.ONE
    is_per_hand = rules("logged_loads", "dumbbells") == "per hand"
    return HeldLoad.EACH_HAND if is_per_hand else HeldLoad.TOGETHER


def share_for(reps: float) -> float:
    """The share of the one-repetition load that so many repetitions can be done with.

    1 / (1 + (reps - 1) / 30), the usual linear form (Epley 1985, from memory) with one repetition
    at the full load; printed charts lie within two points of it.
    """
    return 30.0 / (29.0 + reps)


def planned_load(row: Mapping[str, Any], doses: Sequence[Dose | None]) -> float | None:
    """The lower side's last good load, kg; less where the first week asks for clearly more of it.

    Never above that load. `row` is the lower side's of `usual_work`.
    """
    load = row["load_kg"]
    if load is None:
        return None
    dose = next(dose for dose in doses if dose is not None)
    reserve = ASSUMED_RESERVE if row["rir"] is None else row["rir"]
    could = row["load_reps"] + reserve
    asked = dose.reps + (dose.in_reserve or 0)
    if asked <= could + SPARE:
        return float(load)
    return min(float(load), _rounded_down(load * share_for(asked) / share_for(could)))


def _rounded_down(load: float) -> float:
    step = next(step for below, step in STEPS_KG if load < below)
    return max(step, floor(load / step) * step)
