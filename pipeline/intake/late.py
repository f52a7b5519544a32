"""Rows dated long after everything else: a slip in the year, which would move "today" with it."""

from collections.abc import Iterable

import polars as pl

GAP_DAYS = 400  # from the last day of all other rows
FEW_ROWS, FEW_ATHLETES = 12, 2  # more than this is no slip but a new start
ENOUGH_ROWS = 200  # of other rows, before any is called late


def late_rows(frames: Iterable[pl.DataFrame]) -> pl.DataFrame:
    """`row` and `entry` of the late rows and `last_day`, the last day of all others.

    Each frame has row, entry, athlete and day. A handful of rows of one or two athletes, more
    than 400 days after everything else, is taken for a slip.
    """
    parts = [frame.select("row", "entry", "athlete", "day") for frame in frames if frame.height]
    if not parts:
        return pl.DataFrame(schema={"row": pl.UInt32, "entry": pl.UInt32, "last_day": pl.Date})
    rows = pl.concat(parts)
    days = rows["day"].value_counts().sort("day")
    gap = pl.col("day").diff().dt.total_days() > GAP_DAYS
    starts = days.with_columns(
        before=pl.col("count").cum_sum().shift(1), last_day=pl.col("day").shift(1)
    ).filter(gap & (pl.col("before") >= ENOUGH_ROWS))
    for start, last_day in starts.select("day", "last_day").rows():
        late = rows.filter(pl.col("day") >= start)
        if late.height <= FEW_ROWS and late["athlete"].n_unique() <= FEW_ATHLETES:
            return late.select("row", "entry", last_day=pl.lit(last_day)).unique(
                maintain_order=True
            )
    return rows.clear().select("row", "entry", last_day="day")
