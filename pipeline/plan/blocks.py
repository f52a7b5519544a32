"""The next block of every athlete of a week."""

from collections.abc import Mapping
from functools import partial
from typing import Any

import polars as pl

from pipeline.plan.block import Block, Case, next_block
from pipeline.plan.choice import Choice, asks_for_staff
from pipeline.review.usual import usual_work
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from schemas.vocabulary import Plan


def blocks(week: Week, unmade: Unmade = LET_THROUGH) -> dict[str, Block]:
    """The next block of every athlete of the roster, by athlete id."""
    usual = _rows_by_athlete(usual_work(week.sets, week.as_of))
    outcomes = _rows_by_athlete(week.outcomes)
    loads = _rows_by_athlete(week.log_loads.filter("is_by_design"))
    work = _rows_by_athlete(week.work)
    found, flagged = _rows_by_athlete(week.findings), _rows_by_athlete(week.flags)
    made = {}
    for athlete in week.athletes.iter_rows(named=True):
        who = athlete["athlete_id"]
        case = Case(
            athlete,
            found.get(who, []),
            flagged.get(who, []),
            usual.get(who, []),
            outcomes.get(who, []),
            loads.get(who, []),
            work.get(who, []),
        )
        made[who] = unmade.attempt(
            who,
            f"the next block of {who}",
            partial(next_block, case, week.catalogue, week.as_of, week.settings),
            partial(_unmade_block, case),
        )
    return made


def _unmade_block(case: Case) -> Block:
    """In place of a block that could not be made; who waits for medical staff still does."""
    is_medical = asks_for_staff(case)
    choice = Choice(Plan.MEDICAL) if is_medical else Choice(Plan.WAIT, why="unmade")
    return Block(case.athlete["athlete_id"], choice, 0)


STEP = {
    "athlete_id": pl.String,
    "plan": pl.String,
    "stage": pl.String,
    "measure": pl.String,
    "lower_side": pl.String,
    "retest_on": pl.Date,
    "place": pl.Int64,
    "part": pl.String,
    "name": pl.String,
    "side": pl.String,
    "set_count": pl.Int64,
    "other_set_count": pl.Int64,
    "rep_count": pl.Int64,
    "load_kg": pl.Float64,
    "sessions_per_week": pl.Float64,
}


def block_steps(plans: Mapping[str, Block]) -> pl.DataFrame:
    """One row per athlete and step of the next block; a block without a session is one row."""
    rows = [
        (
            *(who, str(block.plan), block.choice.stage),
            *(block.measure, block.lower_side, block.retest_on),
            place,
            *(
                (step.part, step.name, step.side, step.sets, step.other_sets, step.reps,
                 step.load_kg, step.per_week)
                if step
                else (None,) * 8
            ),
        )
        for who, block in sorted(plans.items())
        for place, step in enumerate(block.steps or (None,), start=1)
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=STEP, orient="row")


def _rows_by_athlete(frame: pl.DataFrame) -> dict[str, list[dict[str, Any]]]:
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in frame.iter_rows(named=True):
        rows.setdefault(row["athlete_id"], []).append(row)
    return rows
