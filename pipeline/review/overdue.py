"""Tests that wait too long, and review dates that passed without one."""

from datetime import date

import polars as pl

from pipeline.review.flag import flag_id, of_test
from pipeline.settings import ReviewSettings


def overdue_flags(
    coverage: pl.DataFrame,
    found: pl.DataFrame,
    athletes: pl.DataFrame,
    decisions: pl.DataFrame,
    as_of: date,
    review: ReviewSettings,
) -> pl.DataFrame:
    """A test of the squad's routine that an available athlete has not done for long.

    Also a review date set at a meeting that has passed without a new test. One row per athlete:
    the test that waits longest, the others named beside it.
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
    reviews = (
        decisions.filter(pl.col("review_on") < as_of)
        .with_columns(of_test("difference", "ratio"))
        .join(
            found.select("squad", "athlete_id", "measure", "last_tested_on"),
            on=["athlete_id", "measure"],
        )
        .filter(
            # a test of the weeks before the review date counts, if it came after the decision
            (
                pl.col("last_tested_on")
                < pl.col("review_on") - pl.duration(days=review.retest_weeks * 7)
            )
            | (pl.col("last_tested_on") <= pl.col("decided_on")).fill_null(False)
        )
        .with_columns(
            waiting.alias("days"),
            pl.lit("review").alias("cause"),
            pl.col("review_on").alias("first_flagged_on"),
        )
    )
    columns = ["squad", "athlete_id", "measure", "days", "cause", "first_flagged_on"]
    return (
        pl.concat([reviews.select(columns), late.select(columns)])
        .unique(["athlete_id", "measure"], keep="first", maintain_order=True)
        .sort("athlete_id", "days", "measure", descending=[False, True, False])
        .group_by("squad", "athlete_id", maintain_order=True)
        .agg(
            pl.col("measure", "days", "cause", "first_flagged_on").first(),
            pl.col("measure").slice(1).str.join(",").alias("cause_note"),
        )
        .with_columns(
            pl.lit("overdue").alias("reason"),
            pl.col("days").cast(pl.Float64).alias("cause_value"),
            flag_id("measure", "overdue"),
        )
    )
