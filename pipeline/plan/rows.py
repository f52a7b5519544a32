"""The blocks of a squad as rows: one a step of each session, in order."""

from collections.abc import Iterator, Mapping
from typing import Any

import polars as pl

from pipeline.plan.block import Block
from pipeline.programme.step import Session, Step
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
