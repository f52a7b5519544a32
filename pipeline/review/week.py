"""Everything that is known this week, as the reports read it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.estimate import Estimates
from pipeline.review.differences.stories import Story
from pipeline.settings import Settings


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
    kinds: Mapping[str, pl.DataFrame]  # by relation: what each kind of flag says
    details: Mapping[tuple[str, str, str], Mapping[str, Any]]  # of it, by kind, athlete and topic
    closed: pl.DataFrame  # one row per flag that was decided as done and is off the list
    decided: (
        pl.DataFrame
    )  # one row per decision of any meeting: `HISTORY` in review/decisions/history.py
    asked: pl.DataFrame  # one row per flag that a meeting wrote something to be asked about
    side_values: pl.DataFrame  # mart_side_values
    sessions: pl.DataFrame  # mart_day_asymmetry
    sets: pl.DataFrame  # stg_sets
    film: pl.DataFrame  # stg_film
    coverage: pl.DataFrame  # mart_test_coverage
    work: pl.DataFrame  # one row per athlete and part
    habits: pl.DataFrame  # one row per athlete and week: how the work was done
    outcomes: pl.DataFrame  # one row per decision to train: planned, done, what happened
    log_loads: pl.DataFrame  # mart_log_loads
    own_levels: pl.DataFrame  # each side against its own level before a date in the roster
    stories: Mapping[str, tuple[Story, ...]]  # by athlete: what several tests say of one limb
    pains: pl.DataFrame  # one row per athlete with pain noted: the most of the newest such day
    noted: pl.DataFrame  # one row per athlete, day and remark: pain above 0 and notes
    files: pl.DataFrame
    refused: pl.DataFrame
    doubts: pl.DataFrame


def compared_days(week: Week) -> pl.DataFrame:
    """Test days of both sides (`estimates.days`); a day of one side alone holds no difference."""
    return week.estimates.days.drop_nulls("d")


def by_athlete(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """A frame cut into one frame per athlete id."""
    parts = frame.partition_by("athlete_id", as_dict=True, maintain_order=True)
    return {str(key[0]): part for key, part in parts.items()}
