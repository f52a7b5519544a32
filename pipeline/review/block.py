"""The next block of training for one athlete, from findings and what the athlete already does.

Order: warm-up of the lower side, one side at a time (lower side first, both sides equal), both
sides together, isolation last, then the extra work of the lower side; mobility for a tighter side.
The extra starts small: twice the work for the lower side was not better than equal work with the
lower side first (Moreno-Azze 2021, Int J Environ Res Public Health 18:8270).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue, Doses, Exercise, Measure
from pipeline.settings import Settings

MOBILITY_GROUPS = ("range_of_motion", "balance")
UNTRAINED_GROUPS = ("structure",)


@dataclass(frozen=True)
class Step:
    """One line of the training card."""

    part: str  # warm-up, one side at a time, both sides, isolation, extra, mobility
    name: str
    side: str  # lower first, lower only, both
    sets: int
    reps: int
    load_kg: float | None
    seconds_down: int | None


@dataclass(frozen=True)
class Block:
    """What one athlete does next, and why.

    `kind`: train, mobility, none (nothing to change), retest, medical (staff first), maintain (a
    known difference is not chased), untested.
    """

    athlete_id: str
    kind: str
    measure: str | None
    lower_side: str | None
    weeks: int
    steps: tuple[Step, ...]
    film: str | None
    retest_on: date | None


def next_block(
    athlete: Mapping[str, Any],
    found: pl.DataFrame,
    is_referred: bool,
    sets: pl.DataFrame,
    catalogue: Catalogue,
    as_of: date,
    settings: Settings,
) -> Block:
    """The block of one athlete; `found` and `sets` hold that athlete's rows only."""
    review, doses = settings.review, Doses(catalogue.rules.plan, settings.plan)
    persistent = found.filter(
        (pl.col("verdict") == "confirmed")
        | (
            (pl.col("verdict") == "retest")
            & (pl.col("chance_over_line") >= 0.5)
            & (pl.col("same_side_days") >= review.confirmed_days)
        )
    ).filter((pl.col("lower_side") != "even") & ~pl.col("measure_group").is_in(UNTRAINED_GROUPS))
    ranked = persistent.sort("chance_over_line", "measure", descending=[True, False])
    trained = ranked.filter(~pl.col("measure_group").is_in(MOBILITY_GROUPS))
    tight = ranked.filter(pl.col("measure_group") == "range_of_motion")
    weeks = int(doses("length", "weeks"))
    retest_on = as_of + timedelta(weeks=weeks)

    def block(kind: str, row: Mapping[str, Any] | None, steps: list[Step]) -> Block:
        film = next((step.name for step in steps if step.part == "one side at a time"), None)
        return Block(
            athlete["athlete_id"],
            kind,
            row["measure"] if row else None,
            row["lower_side"] if row else None,
            weeks,
            tuple(steps),
            film,
            retest_on if steps else None,
        )

    if is_referred or athlete["availability"] != "full":
        return block("medical", None, [])
    if athlete["known_difference"] is not None and not ranked.is_empty():
        return block("maintain", ranked.row(0, named=True), [])
    if not trained.is_empty():
        row = trained.row(0, named=True)
        steps = _session(row, sets, catalogue, doses)
        if not tight.is_empty():
            steps.append(_mobility(tight.row(0, named=True), catalogue.measures))
        return block("train", row, steps)
    if not tight.is_empty():
        row = tight.row(0, named=True)
        return block("mobility", row, [_mobility(row, catalogue.measures)])
    if found.is_empty():
        return block("untested", None, [])
    waiting = found.filter(pl.col("chance_over_line") >= review.retest_chance)
    return block("none" if waiting.is_empty() else "retest", None, [])


def _session(
    row: Mapping[str, Any], sets: pl.DataFrame, catalogue: Catalogue, doses: Doses
) -> list[Step]:
    measure, lower = catalogue.measures[row["measure"]], row["lower_side"]
    slow = int(doses("controlled_lowering", "seconds"))
    main = _chosen(measure, sets, catalogue, doses, "compound", one_sided=True)
    pair = _chosen(measure, sets, catalogue, doses, "compound", one_sided=False)
    single = _chosen(measure, sets, catalogue, doses, "isolation", one_sided=True)
    warm_up = f"{_joint(measure)} through full range"
    steps = [Step("warm-up", warm_up, "lower only", 1, 10, None, None)]

    def add(part: str, exercise: Exercise | None, side: str, dose: Mapping[str, int]) -> None:
        if exercise is None:
            return
        load = _load(sets, exercise.id, "both" if side == "both" else lower)
        seconds = None if side == "both" else slow
        steps.append(Step(part, exercise.name, side, dose["sets"], dose["reps"], load, seconds))

    one_sided = doses("dose", "one_sided")
    add("one side at a time", main, "lower first", one_sided)
    add("both sides", pair, "both", doses("dose", "two_sided"))
    add("isolation", single, "lower first", doses("dose", "isolation"))
    extra = {"sets": int(doses("extra_work", "sets")), "reps": one_sided["reps"]}
    add("extra", main or single, "lower only", extra)
    return steps


def _mobility(row: Mapping[str, Any], measures: Mapping[str, Measure]) -> Step:
    joint = _joint(measures[row["measure"]])
    return Step("mobility", f"{joint}, slow to the end of range", "lower only", 2, 10, None, None)


def _chosen(
    measure: Measure,
    sets: pl.DataFrame,
    catalogue: Catalogue,
    doses: Doses,
    kind: str,
    *,
    one_sided: bool,
) -> Exercise | None:
    """The exercise the athlete does most that trains the measure; else the catalogue's first."""
    fitting = [
        exercise
        for exercise in catalogue.exercises.values()
        if exercise.type == kind
        and (exercise.laterality != "bilateral") == one_sided
        and exercise.pattern in measure.patterns
    ]
    done = dict(sets.group_by("exercise").len().iter_rows()) if not sets.is_empty() else {}
    equipment = doses("own_load_per_side", "equipment")
    order = {name: place for place, name in enumerate(equipment)}
    ranked = sorted(
        fitting,
        key=lambda exercise: (
            -done.get(exercise.id, 0),
            measure.patterns.index(exercise.pattern),
            order.get(exercise.equipment, len(order)),
        ),
    )
    return ranked[0] if ranked else None


def _load(sets: pl.DataFrame, exercise: str, side: str) -> float | None:
    """Load of the latest session's sets on that side: never more than the side has done."""
    done = sets.filter(
        (pl.col("exercise") == exercise)
        & (pl.col("side") == side)
        & (pl.col("load_kg") > 0)
        & (pl.col("pain").fill_null(0) == 0)
    )
    if done.is_empty():
        return None
    last = done.filter(pl.col("trained_on") == done["trained_on"].max())
    return float(str(last["load_kg"].median()))


def _joint(measure: Measure) -> str:
    return measure.joint[:1].upper() + measure.joint[1:]
