"""Ratios inside one limb below a line of their own, such as hamstring to quadriceps."""

from collections.abc import Mapping

import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate import Estimates
from pipeline.review.flags.flag import open_since
from pipeline.settings import ReviewSettings
from schemas.flag_ids import flag_id
from schemas.vocabulary import Family


def ratio_flags(
    estimates: Estimates,
    found: pl.DataFrame,
    trials: pl.DataFrame,
    measures: Mapping[str, Measure],
    review: ReviewSettings,
) -> pl.DataFrame:
    """A ratio inside one limb below its own line, with the chance that it truly is."""
    lines = pl.DataFrame(
        [(m.id, m.level_review) for m in measures.values() if m.level_review is not None],
        schema={"measure": pl.String, "level_line": pl.Float64},
        orient="row",
    )
    return (
        estimates.sides.join(lines, on="measure")
        .with_columns(_chance_below("level", "level_se", "level_line").alias("chance_below"))
        .filter(pl.col("chance_below") >= review.confirmed_chance)
        .sort("athlete_id", "measure", "level")
        .group_by("athlete_id", "measure", maintain_order=True)
        .first()
        .join(
            found.drop("lower_side", "estimate", "low90", "high90", "chance_over_line"),
            on=["athlete_id", "measure"],
        )
        .with_columns(
            pl.lit("ratio").alias("reason"),
            pl.col("side").alias("lower_side"),
            pl.col("level").alias("estimate"),
            (pl.col("level") - 1.645 * pl.col("level_se")).alias("low90"),
            (pl.col("level") + 1.645 * pl.col("level_se")).alias("high90"),
            pl.col("chance_below").alias("chance_over_line"),
            pl.col("level_line").alias("cause_value"),
            flag_id("measure", Family.RATIO),
        )
        .join(_below_since(trials, lines), on=["athlete_id", "measure", "side"], how="left")
        .with_columns(pl.coalesce("first_flagged_on", "last_tested_on").alias("first_flagged_on"))
    )


def _below_since(trials: pl.DataFrame, lines: pl.DataFrame) -> pl.DataFrame:
    """First day of the unbroken run of days on which a side's ratio lay below its line."""
    keys = ["athlete_id", "measure", "side"]
    days = (
        trials.filter(~pl.col("held"))
        .drop_nulls("value")
        .join(lines, on="measure")
        .group_by(*keys, "tested_on", "level_line")
        .agg(pl.col("value").mean())
    )
    return open_since(days, keys, pl.col("value") < pl.col("level_line"))


def _chance_below(level: str, error: str, line: str) -> pl.Expr:
    from scipy.special import ndtr

    z = (pl.col(line) - pl.col(level)) / pl.col(error)
    return z.map_batches(lambda values: pl.Series(ndtr(values.to_numpy())), return_dtype=pl.Float64)
