"""Sides far below their own weeks before: one at once, both, or one over weeks."""

from datetime import date

import polars as pl

from pipeline.catalogue import Rules
from pipeline.estimate import Estimates
from pipeline.review.flag import open_since
from pipeline.review.known_then import HAS_FALLEN, Then
from pipeline.settings import ReviewSettings

# Where a sudden loss on one side is a sign by itself: strength and what comes of it.
LOSS_GROUPS = ["strength", "grip", "power_jump", "hop", "muscular_endurance"]
BOTH_LOSS, SLOW_LOSS = "both_loss", "slow_loss"  # of `estimates.sides.fall`
FEW, MOST = 4, 0.5  # athletes of a test from which on, and the share that is most of them
POINT = ["athlete_id", "measure"]


def falls_of_sides(
    estimates: Estimates,
    found: pl.DataFrame,
    then: Then,
    since: date,
    rules: Rules,
    review: ReviewSettings,
) -> pl.DataFrame:
    """A side, or both, far below their own weeks before, at once or over weeks.

    Both sides of most of a squad fall together where a test, not a person, has changed.
    """
    fallen = estimates.sides.filter(HAS_FALLEN & (pl.col("last_tested_on") > since))
    tested = found.filter(
        pl.col("measure_group").is_in(LOSS_GROUPS) & (pl.col("formula") != "within_limb_ratio")
    ).select("squad", *POINT)
    group = ["squad", "measure"]
    is_of_both = (pl.col("fall") == BOTH_LOSS).fill_null(False)
    return (
        tested.join(fallen, on=POINT, how="left")
        .with_columns(is_of_both.mean().over(group).alias("share"), pl.len().over(group).alias("n"))
        .filter(HAS_FALLEN)
        .filter(~is_of_both | (pl.col("n") < FEW) | (pl.col("share") < MOST))
        .join(_fallen_since(then, review), on=POINT, how="left")
        .with_columns(
            pl.coalesce("first_flagged_on", "last_tested_on").alias("first_flagged_on"),
            pl.col("last_tested_on").alias("cause_on"),
            (100 * pl.col("fall_share")).alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.col("fall").alias("cause"),
            pl.when(pl.col("fall") == SLOW_LOSS)
            .then(pl.lit(rules.slow_loss_urgency))
            .otherwise(pl.lit(rules.loss_urgency))
            .alias("urgency"),
        )
    )


def _fallen_since(then: Then, review: ReviewSettings) -> pl.DataFrame:
    """First of the squad's unbroken test days on which a fall counted, by what was known then."""
    day = [*POINT, "tested_on"]
    is_recent = (pl.col("tested_on") - pl.col("last_tested_on")).dt.total_days() < review.refer_days
    fallen = then.falls.filter(is_recent).select(day).unique().with_columns(is_on=pl.lit(True))
    days = then.differences.join(fallen, on=day, how="left")
    return open_since(days.with_columns(pl.col("is_on").fill_null(False)), POINT, pl.col("is_on"))
