"""Who sees medical staff first: pain, a sudden loss on one side, words in a note."""

from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Rules
from pipeline.estimate import Estimates
from pipeline.review.flag import flag_id
from pipeline.settings import ReviewSettings

# Where a sudden loss on one side is a sign by itself: strength and what comes of it.
LOSS_GROUPS = ["strength", "grip", "power_jump", "hop", "muscular_endurance"]


def refer_flags(
    estimates: Estimates,
    found: pl.DataFrame,
    trials: pl.DataFrame,
    sets: pl.DataFrame,
    words: pl.DataFrame,
    athletes: pl.DataFrame,
    as_of: date,
    rules: Rules,
    review: ReviewSettings,
) -> pl.DataFrame:
    """Medical staff first: pain in a test or in training, a sudden loss on one side, a note."""
    since = as_of - timedelta(days=review.refer_days)
    painful = pl.col("pain") >= rules.pain_refer
    in_tests = trials.filter(
        painful & ~pl.col("is_derived") & (pl.col("tested_on") > since)
    ).select(
        "squad", "athlete_id", "measure", "side", "pain", "note", pl.col("tested_on").alias("on")
    )
    in_training = sets.filter(painful & (pl.col("trained_on") > since)).select(
        "squad",
        "athlete_id",
        pl.col("exercise").alias("measure"),
        "side",
        "pain",
        "note",
        pl.col("trained_on").alias("on"),
    )
    pain = (
        pl.concat([in_tests, in_training])
        .sort(
            "athlete_id",
            "measure",
            "on",
            "pain",
            "side",
            descending=[False, False, False, True, False],
        )
        .group_by("squad", "athlete_id", "measure", maintain_order=True)
        .agg(
            pl.col("on").min().alias("first_flagged_on"),
            pl.col("pain").max().alias("cause_value"),
            pl.col("side").first().alias("lower_side"),
            pl.col("note").drop_nulls().first().alias("cause_note"),
        )
        .with_columns(pl.lit("pain").alias("cause"))
    )
    loss = (
        found.filter(
            pl.col("one_sided_loss")
            & pl.col("measure_group").is_in(LOSS_GROUPS)
            & (pl.col("formula") != "within_limb_ratio")
            & (pl.col("last_tested_on") > since)
        )
        .select("squad", "athlete_id", "measure", "last_tested_on")
        .join(estimates.sides.filter(pl.col("is_lost")), on=["athlete_id", "measure"])
        .select(
            "squad",
            "athlete_id",
            "measure",
            pl.col("last_tested_on").alias("first_flagged_on"),
            (100 * pl.col("lost_share")).alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.lit("loss").alias("cause"),
        )
        .join(
            pain.select("athlete_id", "measure", pain="cause_value", cause_note="cause_note"),
            on=["athlete_id", "measure"],
            how="left",
        )
    )
    noted = (
        words.filter(pl.col("noted_on") > since)
        .join(athletes.select("athlete_id", "squad"), on="athlete_id")
        .sort("athlete_id", "noted_on")
        .group_by("squad", "athlete_id", "topic", maintain_order=True)
        .first()
        .select(
            "squad",
            "athlete_id",
            pl.col("topic").alias("measure"),
            pl.col("noted_on").alias("first_flagged_on"),
            pl.lit(None, pl.Float64).alias("cause_value"),
            pl.lit(None, pl.String).alias("lower_side"),
            pl.col("note").alias("cause_note"),
            pl.lit("words").alias("cause"),
            pl.lit(None, pl.Float64).alias("pain"),
        )
    )
    numbers = found.select(
        "athlete_id", "measure", "region", "estimate", "low90", "high90", "unit", "chance_over_line"
    )
    # One point a person and test: pain beside a measured loss is said in the same line.
    pain = pain.with_columns(pl.lit(None, pl.Float64).alias("pain"))
    return (
        pl.concat([loss, pain.select(loss.columns), noted.select(loss.columns)])
        .unique(["athlete_id", "measure"], keep="first", maintain_order=True)
        .join(numbers, on=["athlete_id", "measure"], how="left")
        .with_columns(pl.lit("refer").alias("reason"), flag_id("measure", "refer"))
    )
