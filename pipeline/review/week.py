"""Everything that is known this week, as the reports read it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.estimate import Estimates
from pipeline.review.block import Block, Case, asks_for_staff, next_block
from pipeline.review.usual import usual_work
from pipeline.settings import Settings
from pipeline.unmade import LET_THROUGH, Unmade
from schemas.vocabulary import BlockKind


@dataclass(frozen=True)
class Week:
    """Frames of one build, each with the grain its name says; nothing here is text yet."""

    as_of: date
    settings: Settings
    catalogue: Catalogue
    athletes: pl.DataFrame  # stg_athletes
    findings: pl.DataFrame  # one row per athlete and measure
    estimates: Estimates
    flags: pl.DataFrame  # one row per open flag, in meeting order
    accepted: pl.DataFrame  # the flags that a meeting accepted: silent, in the same columns
    side_values: pl.DataFrame  # mart_side_values
    sessions: pl.DataFrame  # mart_day_asymmetry
    sets: pl.DataFrame  # stg_sets
    film: pl.DataFrame  # stg_film
    coverage: pl.DataFrame  # mart_test_coverage
    work: pl.DataFrame  # one row per athlete and part
    habits: pl.DataFrame  # one row per athlete and week: how the work was done
    outcomes: pl.DataFrame  # one row per decision to train: planned, done, what happened
    log_loads: pl.DataFrame  # mart_log_loads
    files: pl.DataFrame
    refused: pl.DataFrame
    doubts: pl.DataFrame


def compared_days(week: Week) -> pl.DataFrame:
    """Test days of both sides (`estimates.days`); a day of one side alone holds no difference."""
    return week.estimates.days.drop_nulls("d")


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
    kind: BlockKind = "medical" if asks_for_staff(case) else "unmade"
    return Block(case.athlete["athlete_id"], kind, None, None, 0, (), None, None)


STEP = {
    "athlete_id": pl.String,
    "kind": pl.String,
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
            *(who, block.kind, block.stage, block.measure, block.lower_side, block.retest_on),
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


def by_athlete(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """A frame cut into one frame per athlete id."""
    parts = frame.partition_by("athlete_id", as_dict=True, maintain_order=True)
    return {str(key[0]): part for key, part in parts.items()}
