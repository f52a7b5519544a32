"""Plans as rows: a step of a block, a test of the next test days, a set and side of the week."""

from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple

import polars as pl

from pipeline.plan.block import Block
from pipeline.plan.due_tests import NextTests, next_tests
from pipeline.plan.training_week import PlannedSet, training_week
from pipeline.programme.step import Session, Step
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from schemas.contracts.own_sheets import TRIALS
from schemas.plan_words import StepPart

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
PLAN_ROW = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "plan": pl.String,
    "because_of": pl.String,
    "lower_side": pl.String,
    "starts_on": pl.Date,
    "weeks": pl.Int64,
    "sessions_per_week": pl.Int64,
    "session": pl.String,
    "weekday": pl.String,
    "step": pl.Int64,
    "part": pl.String,
    "exercise": pl.String,
    "side": pl.String,
    "sets": pl.Int64,
    "reps": pl.Int64,
    "reps_unit": pl.String,
    "extra_reps": pl.Int64,
    "load_kg": pl.Float64,
    "seconds_down": pl.Int64,
    "reps_in_reserve": pl.Int64,
    "rest_s": pl.Int64,
    "cue": pl.String,
    "retest_on": pl.Date,
}


def plan_rows(blocks: Mapping[str, Block], squads: Mapping[str, str]) -> pl.DataFrame:
    """One row per athlete and step, columns of `PLAN_ROW`; a block without steps is one row."""
    rows = [
        {name: None for name in PLAN_ROW} | row
        for who, block in sorted(blocks.items(), key=lambda one: (squads[one[0]], one[0]))
        for row in _of_block(squads[who], block)
    ]
    return pl.DataFrame(rows, schema=PLAN_ROW)


def _of_block(squad: str, block: Block) -> Iterator[dict[str, Any]]:
    head: dict[str, Any] = {
        "squad": squad,
        "athlete_id": block.athlete_id,
        "plan": str(block.plan),
        "because_of": block.because_of,
        "lower_side": block.lower_side,
        "retest_on": block.retest_on,
    }
    made = block.programme
    if made is None:
        yield head
        return
    head |= {
        "starts_on": made.starts_on,
        "weeks": block.weeks,
        "sessions_per_week": len(made.sessions),
    }
    for session in made.sessions:
        for place, step in enumerate(session.steps, start=1):
            yield head | _of_step(session, place, step)


def _of_step(session: Session, place: int, step: Step) -> dict[str, Any]:
    dose = step.dose
    return {
        "session": session.letter,
        "weekday": None if session.weekday is None else WEEKDAYS[session.weekday],
        "step": place,
        "part": step.part,
        "exercise": step.exercise,
        "side": step.side,
        "sets": dose.sets,
        "reps": dose.reps,
        "reps_unit": step.unit,
        "extra_reps": dose.sets * dose.reps if step.part == StepPart.EXTRA else None,
        "load_kg": step.load_kg,
        "seconds_down": step.seconds_down,
        "reps_in_reserve": dose.in_reserve,
        "rest_s": step.rest_s,
        "cue": step.cue or None,
    }


TEST_ROW = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "name": pl.String,
    "tested_on": pl.Date,
    "station": pl.String,
    "measure": pl.String,
    "because": pl.String,
    "about": pl.String,
    "first_side": pl.String,
    "trial_count": pl.Int64,
    "unit": pl.String,
}
SET_ROW = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "name": pl.String,
    "trained_on": pl.Date,
    "session": pl.String,
    "exercise_order": pl.Int64,
    "part": pl.String,
    "exercise": pl.String,
    "exercise_name": pl.String,
    "set_number": pl.Int64,
    "side": pl.String,
    "planned_reps": pl.Int64,
    "reps_unit": pl.String,
    "planned_load_kg": pl.Float64,
}


def next_test_rows(
    week: Week, blocks: Mapping[str, Block], units: Mapping[tuple[str, str], str]
) -> pl.DataFrame:
    """One row per test of the next test days, columns of `TEST_ROW`, in the order they are done.

    `units`: the unit in which a squad last wrote a test down; where it never did, the catalogue's.
    """
    names = dict(week.athletes.select("athlete_id", "name").iter_rows())
    return pl.DataFrame(_tests(next_tests(week, blocks).values(), week, names, units), TEST_ROW)


def _tests(
    days: Iterable[NextTests],
    week: Week,
    names: Mapping[str, str],
    units: Mapping[tuple[str, str], str],
) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for day in days:
        for due in day.due:
            measure = week.catalogue.measures[due.measure]
            rows.append(
                {
                    "squad": day.squad,
                    "athlete_id": due.athlete_id,
                    "name": names[due.athlete_id],
                    "tested_on": day.day_of(due),
                    "station": due.station,
                    "measure": due.measure,
                    "because": due.because,
                    "about": due.about,
                    "first_side": due.first_side,
                    "trial_count": min(measure.trials, TRIALS),
                    "unit": units.get((day.squad, due.measure), measure.unit),
                }
            )
    return rows


def next_set_rows(
    week: Week, blocks: Mapping[str, Block], unmade: Unmade = LET_THROUGH
) -> pl.DataFrame:
    """One row per set and side of the coming week, columns of `SET_ROW`, athlete by athlete."""
    rows = []
    for athlete in week.athletes.sort("squad", "athlete_id").iter_rows(named=True):
        who = athlete["athlete_id"]
        planned = unmade.attempt(
            who,
            f"the coming week of {who}",
            partial(training_week, blocks[who], week.as_of),
            tuple[PlannedSet, ...],
        )
        for one in planned:
            rows.append(
                {
                    "squad": athlete["squad"],
                    "athlete_id": who,
                    "name": athlete["name"],
                    "trained_on": one.day,
                    "session": one.session,
                    "exercise_order": one.order,
                    "part": one.part,
                    "exercise": one.exercise,
                    "exercise_name": one.name,
                    "set_number": one.set_number,
                    "side": one.side,
                    "planned_reps": one.reps,
                    "reps_unit": one.unit,
                    "planned_load_kg": one.load_kg,
                }
            )
    return pl.DataFrame(rows, SET_ROW)


class Coming(NamedTuple):
    """What the sheets of the coming week hold."""

    tests: pl.DataFrame | None  # columns of `TEST_ROW`; None where they could not be made
    sets: pl.DataFrame  # columns of `SET_ROW`
