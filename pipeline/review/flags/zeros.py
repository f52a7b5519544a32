"""Tests in which one side came to nothing while the other did not: no percentage says how far."""

from collections.abc import Mapping

import polars as pl

from pipeline.catalogue import Measure
from pipeline.review.flags.flag import open_since
from schemas.flag_ids import flag_id
from schemas.vocabulary import Family


def zero_flags(trials: pl.DataFrame, measures: Mapping[str, Measure]) -> pl.DataFrame:
    """One row per athlete and measure whose latest day has a side of zeros only.

    `trials` is `stg_trials`; a row without a value is no trial. A zero has no logarithm, so such a
    day is in no estimate; the largest difference there can be must not be the one that nobody hears
    of. `cause_value` is the mean of the other side.
    """
    ratios = [name for name, measure in measures.items() if measure.scale == "log"]
    day = ["squad", "athlete_id", "measure", "tested_on"]
    tested = trials.filter(
        ~pl.col("held") & (pl.col("side") != "both") & pl.col("measure").is_in(ratios)
    ).drop_nulls("value")
    point = ["athlete_id", "measure"]
    days = tested.group_by(day).agg(
        pl.col("value").filter(pl.col("side") == side).mean().alias(side)
        for side in ("left", "right")
    )
    has_both = pl.col("left").is_not_null() & pl.col("right").is_not_null()
    is_zero = (pl.min_horizontal("left", "right") == 0) & (pl.max_horizontal("left", "right") > 0)
    days = days.with_columns((has_both & is_zero).alias("is_zero"))
    newest = days.filter(
        pl.col("is_zero") & (pl.col("tested_on") == pl.col("tested_on").max().over(point))
    )
    since = open_since(days, point, pl.col("is_zero"))
    return newest.join(since, on=point).with_columns(
        pl.lit("retest").alias("reason"),
        pl.lit("zero").alias("cause"),
        pl.max_horizontal("left", "right").alias("cause_value"),
        pl.when(pl.col("left") == 0)
        .then(pl.lit("left"))
        .otherwise(pl.lit("right"))
        .alias("lower_side"),
        pl.col("tested_on").alias("cause_on"),
        flag_id("measure", Family.ZERO),
    )
