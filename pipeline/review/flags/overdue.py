"""Tests of the squad's routine that wait too long."""

from collections.abc import Mapping
from datetime import date

import polars as pl

from pipeline.review.decisions.standing import Standing
from pipeline.settings import ReviewSettings
from schemas.flag_ids import flag_id, parted
from schemas.vocabulary import Decision, Family


def overdue_flags(
    coverage: pl.DataFrame,
    athletes: pl.DataFrame,
    told: Mapping[str, Standing],
    as_of: date,
    review: ReviewSettings,
) -> pl.DataFrame:
    """A test of the squad's routine that an available athlete has not done for long.

    One row per athlete: the test that waits longest, the others named beside it. A measure about
    which a decision stands is looked at again as was decided, not by routine.
    """
    waiting = (pl.lit(as_of) - pl.col("last_tested_on")).dt.total_days()
    late = (
        coverage.join(
            athletes.filter(pl.col("availability") != "out").select("athlete_id"), on="athlete_id"
        )
        .filter(
            (
                pl.col("tested_athlete_count")
                >= review.overdue_squad_share * pl.col("squad_athlete_count")
            )
            & (pl.col("squad_day_count") > 1)
            & (
                (pl.lit(as_of) - pl.col("squad_last_tested_on")).dt.total_days()
                <= review.overdue_days
            )
            & (waiting > review.overdue_days)
        )
        .with_columns(
            waiting.alias("days"),
            pl.lit("routine").alias("cause"),
            (pl.col("last_tested_on") + pl.duration(days=review.overdue_days)).alias(
                "first_flagged_on"
            ),
        )
    )
    points = [parted(one.flag_id) for one in told.values() if decides_a_test(one)]
    decided = pl.DataFrame(
        [point[:2] for point in points if point is not None],
        {"athlete_id": pl.String, "measure": pl.String},
        orient="row",
    )
    columns = ["squad", "athlete_id", "measure", "days", "cause", "first_flagged_on"]
    return (
        late.select(columns)
        .join(decided, on=["athlete_id", "measure"], how="anti")
        .sort("athlete_id", "days", "measure", descending=[False, True, False])
        .group_by("squad", "athlete_id", maintain_order=True)
        .agg(
            pl.col("measure", "days", "cause", "first_flagged_on").first(),
            pl.col("measure").slice(1).str.join(",").alias("cause_note"),
        )
        .with_columns(
            pl.lit("overdue").alias("reason"),
            pl.col("days").cast(pl.Float64).alias("cause_value"),
            flag_id("measure", Family.OVERDUE),
        )
    )


def decides_a_test(told: Standing) -> bool:
    """Whether a decision about the tests of a measure stands that says what comes of them."""
    parts = parted(told.flag_id)
    is_of_test = parts is not None and parts[2] in (Family.DIFFERENCE, Family.RATIO, Family.ZERO)
    return is_of_test and told.force is not None and told.force.decision != Decision.DONE
