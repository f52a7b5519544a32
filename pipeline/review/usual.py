"""What an athlete usually does: how often, how much and with which load, exercise by exercise."""

from datetime import date, timedelta

import polars as pl

USUAL_WEEKS = 8
KEYS = ["athlete_id", "exercise", "side"]


def usual_work(sets: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """One row per athlete, exercise and side worked in the last eight weeks.

    `per_week`: sessions in a week of training; `sets` and `reps`: means per session and per set,
    `typical_sets` and `typical_reps` their medians, rounded down;
    `weekly_reps`: repetitions in a week of training; `load_kg`: median load of the good sets of
    the latest session that has any, null without a load. A good set has no pain and all of the
    usual repetitions but one.
    """
    recent = sets.filter(
        (pl.col("trained_on") > as_of - timedelta(weeks=USUAL_WEEKS))
        & (pl.col("trained_on") <= as_of)
        & (pl.col("reps") > 0)
    )
    typical = (
        recent.group_by(*KEYS, "trained_on")
        .len()
        .group_by(KEYS)
        .agg(pl.col("len").median().floor().alias("typical_sets"))
    )
    weeks = recent.group_by("athlete_id").agg(pl.col("week_on").n_unique().alias("weeks"))
    work = (
        recent.group_by(*KEYS)
        .agg(
            pl.col("exercise_name", "pattern", "region", "type", "equipment").first(),
            pl.col("trained_on").n_unique().alias("days"),
            pl.len().alias("set_count"),
            pl.col("reps").sum().alias("rep_count"),
            pl.col("reps").median().floor().alias("typical_reps"),
        )
        .join(typical, on=KEYS)
        .join(weeks, on="athlete_id")
        .with_columns(
            (pl.col("days") / pl.col("weeks")).alias("per_week"),
            (pl.col("set_count") / pl.col("days")).alias("sets"),
            (pl.col("rep_count") / pl.col("set_count")).alias("reps"),
            (pl.col("rep_count") / pl.col("weeks")).alias("weekly_reps"),
        )
    )
    return (
        work.join(_good_loads(recent, work), on=KEYS, how="left")
        .drop("days", "set_count", "rep_count", "weeks")
        .sort(KEYS)
    )


def _good_loads(recent: pl.DataFrame, work: pl.DataFrame) -> pl.DataFrame:
    good = recent.join(work.select(*KEYS, pl.col("reps").alias("usual")), on=KEYS).filter(
        (pl.col("load_kg") > 0)
        & (pl.col("pain").fill_null(0) == 0)
        & (pl.col("reps") >= pl.col("usual") - 1)
    )
    latest = pl.col("trained_on") == pl.col("trained_on").max().over(KEYS)
    return good.filter(latest).group_by(*KEYS).agg(pl.col("load_kg").median())
