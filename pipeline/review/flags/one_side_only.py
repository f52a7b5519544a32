"""Tests of which an athlete only ever did one side."""

import polars as pl


def one_sided_tests(side_values: pl.DataFrame, flags: pl.DataFrame) -> pl.DataFrame:
    """One row per athlete and measure with results of one `side` only.

    `side_values` is `mart_side_values`. A side at zero has no result there and was tested all the
    same; the flag of kind `zero` speaks of it.
    """
    zeros = flags.filter(pl.col("kind") == "zero").select("athlete_id", "measure")
    return (
        side_values.group_by("squad", "athlete_id", "measure")
        .agg(pl.col("side").first(), pl.col("side").n_unique().alias("side_count"))
        .filter(pl.col("side_count") == 1)
        .join(zeros, on=["athlete_id", "measure"], how="anti")
        .select("squad", "athlete_id", "measure", "side")
        .sort("measure", "athlete_id")
    )
