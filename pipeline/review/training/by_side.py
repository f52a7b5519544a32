"""Whose sides got how much of the one-sided work, and which side that was.

Work is added up by `part` (`stg_sets`): a part of the body, or one exercise that nobody can place.
Two such exercises may have nothing in common, so neither their work nor their loads are ever put
together; one alone still says which side it was done less with.
"""

from datetime import date, timedelta

import polars as pl

from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.settings import ReviewSettings
from schemas.vocabulary import LowerSide, MeasureGroup, Side, WorkedSide

EVEN_LOAD = 0.95  # a lower load than this share of the other side names the lower side
PART = ["athlete_id", "part"]


def work_by_side(sets: pl.DataFrame, as_of: date, weeks: int) -> pl.DataFrame:
    """One row per athlete and part: one-sided work of the last `weeks` weeks.

    `sets` is `stg_sets`; two-sided lifts carry no side and are left out. `load_ratio` is the
    geometric mean over exercises of right load over left load (medians of the sets done), null
    where no exercise was loaded on both sides; `equal_load_share` the share of exercises that had
    the same load on both sides.
    """
    since = as_of - timedelta(weeks=weeks)
    sided = sets.filter(
        (pl.col("side") != WorkedSide.BOTH)
        & (pl.col("trained_on") > since)
        & (pl.col("trained_on") <= as_of)
    )
    work = work_of_sides(sided, "squad", *PART)
    loads = (
        sided.group_by(*PART, "exercise")
        .agg(
            pl.col("moved_kg").filter(pl.col("side") == Side.LEFT).median().alias("left"),
            pl.col("moved_kg").filter(pl.col("side") == Side.RIGHT).median().alias("right"),
        )
        .filter((pl.col("left") > 0) & (pl.col("right") > 0))
        .group_by(PART)
        .agg(
            (pl.col("right").log() - pl.col("left").log()).mean().exp().alias("load_ratio"),
            (pl.col("right") == pl.col("left")).mean().alias("equal_load_share"),
        )
    )
    return work.join(loads, on=PART, how="left").sort(PART)


def work_of_sides(sets: pl.DataFrame, *keys: str) -> pl.DataFrame:
    """Sessions, and sets, repetitions and volume of each side, by the keys.

    Two-sided sets count as sessions only.
    """
    counts = ["session_count", "left_sets", "right_sets"]
    return (
        sets.group_by(keys)
        .agg(
            pl.col("trained_on").n_unique().alias("session_count"),
            *(
                expression.filter(pl.col("side") == side).sum().alias(f"{side}_{name}")
                for side in ("left", "right")
                for name, expression in (
                    ("sets", pl.lit(1)),
                    ("reps", pl.col("reps")),
                    ("volume", pl.col("reps") * pl.col("moved_kg")),
                )
            ),
        )
        .with_columns(pl.col(counts).cast(pl.Int64))
    )


def lower_sides(found: pl.DataFrame, work: pl.DataFrame, settings: ReviewSettings) -> pl.DataFrame:
    """One row per athlete and part with a lower side, and what names it.

    A test that stands out names it first (`measure`), then strength estimated from the log;
    without either, the loads of the training log do (`measure` null): the weakest record, because
    the same load is often given to both sides.
    """
    by_test = (
        found.filter(
            (pl.col("chance_over_line") >= settings.retest_chance)
            & (pl.col("lower_side") != LowerSide.EVEN)
            & ~pl.col("measure_group").is_in(
                [MeasureGroup.SIZE, MeasureGroup.STRUCTURE, MeasureGroup.RANGE_OF_MOTION]
            )
        )
        .with_columns((pl.col("measure_group") == TRAINING_RECORD).alias("is_record"))
        .sort("is_record", "chance_over_line", "measure", descending=[False, True, False])
        .group_by("athlete_id", "region", maintain_order=True)
        .first()
        .select("athlete_id", pl.col("region").alias("part"), "measure", "lower_side")
    )
    by_load = work.filter(
        (pl.col("load_ratio") < EVEN_LOAD) | (pl.col("load_ratio") > 1 / EVEN_LOAD)
    ).select(
        *PART,
        pl.lit(None, pl.String).alias("measure"),
        pl.when(pl.col("load_ratio") < 1)
        .then(pl.lit("right"))
        .otherwise(pl.lit("left"))
        .alias("lower_side"),
    )
    return pl.concat([by_test, by_load.join(by_test, on=PART, how="anti")]).sort(PART)
