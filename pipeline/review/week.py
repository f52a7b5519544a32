"""Everything that is known this week, as the reports read it."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.estimate import Estimates
from pipeline.review.block import Block, next_block
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
    flags: pl.DataFrame  # one row per flag, in meeting order
    flags_before: pl.DataFrame  # the same list at the last meeting
    side_values: pl.DataFrame  # mart_side_values
    sessions: pl.DataFrame  # mart_day_asymmetry
    sets: pl.DataFrame  # stg_sets
    film: pl.DataFrame  # stg_film
    coverage: pl.DataFrame  # mart_test_coverage
    work: pl.DataFrame  # one row per athlete and region
    files: pl.DataFrame
    refused: pl.DataFrame
    doubts: pl.DataFrame


def blocks(week: Week) -> dict[str, Block]:
    """The next block of every athlete of the roster, by athlete id."""
    found = by_athlete(week.findings)
    recent = week.sets.filter(pl.col("trained_on") > pl.lit(week.as_of).dt.offset_by("-8w"))
    sets = by_athlete(recent)
    referred = set(week.flags.filter(pl.col("reason") == "refer")["athlete_id"])
    return {
        athlete["athlete_id"]: next_block(
            athlete,
            found.get(athlete["athlete_id"], week.findings.clear()),
            athlete["athlete_id"] in referred,
            sets.get(athlete["athlete_id"], recent.clear()),
            week.catalogue,
            week.as_of,
            week.settings,
        )
        for athlete in week.athletes.iter_rows(named=True)
    }


def by_athlete(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """A frame cut into one frame per athlete id."""
    parts = frame.partition_by("athlete_id", as_dict=True, maintain_order=True)
    return {str(key[0]): part for key, part in parts.items()}
