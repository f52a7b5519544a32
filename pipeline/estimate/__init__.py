"""How large each side difference is, how sure that is, and what changed.

`estimate` is the whole of it: trials in, frames out, all differences as d (see `pipeline.scales`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate.reference_day import NEVER
from pipeline.estimate.reliability import agreement_table, reliability_table
from pipeline.estimate.sessions.frames import Keys, read_panel
from pipeline.estimate.sessions.panel import Indices, Truths
from pipeline.estimate.steps import worked
from pipeline.estimate.tables import day_table, error_table, side_table, today_table, with_line
from pipeline.settings import Settings


@dataclass(frozen=True)
class Estimates:
    """All results as frames, one row per key, sorted by it; d units throughout, never percent.

    errors (squad, measure), days (athlete_id, measure, tested_on), today (athlete_id, measure),
    sides (athlete_id, measure, side), reliability (squad, measure), agreement (squad, measure,
    other_measure).
    """

    errors: pl.DataFrame
    days: pl.DataFrame
    today: pl.DataFrame
    sides: pl.DataFrame
    reliability: pl.DataFrame
    agreement: pl.DataFrame


def estimate(
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
    settings: Settings,
    running: pl.DataFrame | None = None,
    followed: pl.DataFrame | None = None,
) -> Estimates:
    """Every athlete's side differences at the as-of date and on each test day before it.

    `trials`: squad, athlete_id, measure, tested_on, side (left or right), trial, score (higher is
    better), shapes, and where loads come in steps `step`: how far beyond its score a side may be.
    `athletes`: athlete_id, squad, dominant_hand, dominant_foot, shapes. Rows may
    come in any order. `running`: athlete_id, measure, began_on of the blocks that run at the as-of
    date, at most one row each; what changed is told since then (`pipeline.estimate.reference_day`).
    `followed`: athlete_id, measure of those whose differences are asked for, where not all are; the
    others shape their squads' figures alone.
    """
    panel, keys = read_panel(trials, athletes, measures, as_of, settings)
    day = (as_of - date(1970, 1, 1)).days
    work = worked(panel, day, settings.estimate, _begun(keys, running), _followed(keys, followed))
    errors = error_table(work, keys)
    today = today_table(work, keys, errors)
    return Estimates(
        errors=errors,
        days=day_table(work, keys, settings.estimate),
        today=today,
        sides=with_line(side_table(work, keys), measures),
        reliability=reliability_table(work, errors),
        agreement=agreement_table(today),
    )


def _followed(keys: Keys, asked: pl.DataFrame | None) -> Truths | None:
    if asked is None:
        return None
    named = asked.select("athlete_id", "measure").unique().with_columns(is_asked=pl.lit(True))
    found = keys.series.join(
        named, on=["athlete_id", "measure"], how="left", maintain_order="left"
    )["is_asked"]
    return found.fill_null(False).to_numpy()


def _begun(keys: Keys, running: pl.DataFrame | None) -> Indices | None:
    """The day each series' running block began, in days since 1970-01-01. Shape [series]."""
    if running is None or running.is_empty():
        return None
    days = keys.series.join(
        running, on=["athlete_id", "measure"], how="left", maintain_order="left"
    )["began_on"]
    return days.cast(pl.Int32).cast(pl.Int64).fill_null(NEVER).to_numpy()
