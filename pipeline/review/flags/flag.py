"""What one flag holds, whatever raised it."""

from collections.abc import Mapping
from typing import Any

import polars as pl

FLAG = {
    "flag_id": pl.String,
    "squad": pl.String,
    "athlete_id": pl.String,
    "measure": pl.String,
    "part": pl.String,  # training: whose work it is, of `stg_sets`
    "reason": pl.String,
    "lower_side": pl.String,
    "estimate": pl.Float64,
    "low90": pl.Float64,
    "high90": pl.Float64,
    "unit": pl.String,
    "chance_over_line": pl.Float64,
    "first_flagged_on": pl.Date,
    # refer: pain, loss, both_loss, slow_loss, girth_loss, girth_gain or words; overdue: routine or
    # review; retest: zero
    "cause": pl.String,
    # pain of 10, loss in percent, change of a girth in cm, days since the last test, other side
    "cause_value": pl.Float64,
    "cause_on": pl.Date,  # the day that value, side and note are of
    "cause_note": pl.String,
    "pain": pl.Float64,  # of 10, where it stands beside a measured change; its own day and side
    "pain_on": pl.Date,
    "pain_side": pl.String,
    "urgency": pl.String,  # refer: how soon, of the practice rules
}


def with_columns_of(frame: pl.DataFrame, columns: Mapping[str, Any]) -> pl.DataFrame:
    """A frame cut to these columns and their types; what it lacks is null."""
    missing = [
        pl.lit(None, kind).alias(name)
        for name, kind in columns.items()
        if name not in frame.columns
    ]
    return frame.with_columns(missing).select(
        pl.col(name).cast(kind) for name, kind in columns.items()
    )


def open_since(days: pl.DataFrame, keys: list[str], condition: pl.Expr) -> pl.DataFrame:
    """First day of the unbroken run of days, up to the latest, that meet a condition."""
    clear = days.filter(~condition).group_by(keys).agg(pl.col("tested_on").max().alias("clear_on"))
    return (
        days.filter(condition)
        .join(clear, on=keys, how="left")
        .filter(pl.col("clear_on").is_null() | (pl.col("tested_on") > pl.col("clear_on")))
        .group_by(keys)
        .agg(pl.col("tested_on").min().alias("first_flagged_on"))
    )
