"""Sides far below their own weeks before: one at once, both, or one over weeks."""

from datetime import date

import polars as pl

from pipeline.catalogue import Rules
from pipeline.estimate import Estimates
from pipeline.review.decisions.earlier_days import LOSS_GROUPS, Then, fallen_of
from pipeline.review.flags.flag import open_since
from pipeline.settings import ReviewSettings

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
    fallen = fallen_of(estimates, found, since)
    tested = found.filter(pl.col("measure_group").is_in(LOSS_GROUPS)).select("squad", *POINT)
    group = ["squad", "measure"]
    is_of_both = (pl.col("fall") == BOTH_LOSS).fill_null(False)
    return (
        tested.join(fallen.drop("squad"), on=POINT, how="left")
        .with_columns(is_of_both.mean().over(group).alias("share"), pl.len().over(group).alias("n"))
        .filter(pl.col("fall").is_not_null())
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
    fallen = then.falls.select(*POINT, pl.col("tested_on").alias("own_on")).unique()
    days = then.differences.join(
        fallen.with_columns(is_on=pl.lit(True)), on=[*POINT, "own_on"], how="left"
    )
    is_recent = (pl.col("tested_on") - pl.col("own_on")).dt.total_days() < review.refer_days
    return open_since(days, POINT, pl.col("is_on").fill_null(False) & is_recent)
