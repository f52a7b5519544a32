"""Days long after everything else: a slip in the year, which would move "today" with it."""

from collections.abc import Iterable
from datetime import date, timedelta
from itertools import pairwise

import polars as pl

GAP_DAYS = 365  # from the last of all other days
FAR_DAYS = 5 * 365  # from here on one of several people is no proof either
SLIPPED = {
    "row": pl.UInt32,
    "entry": pl.UInt32,
    "last_day": pl.Date,  # of all other rows
}


def date_slips(frames: Iterable[pl.DataFrame], as_of: date | None = None) -> pl.DataFrame:
    """The rows dated by a slip; columns of `SLIPPED`.

    Each frame has row, entry, athlete and day. Days more than a year after every other day of the
    exports are a slip, unless the as-of date reaches them or half of the athletes of one of their
    files have them: that is a new start.
    """
    parts = [frame.select("row", "entry", "athlete", "day") for frame in frames if frame.height]
    none = pl.DataFrame(schema=SLIPPED)
    if not parts:
        return none
    days = pl.concat([part["day"] for part in parts]).unique().sort()
    gaps = ((late, last) for last, late in pairwise(days))
    starts = [(late, last) for late, last in gaps if (late - last).days > GAP_DAYS]
    if not starts:
        return none
    rows = pl.concat(parts)
    found = [none.drop("last_day")]
    for start, last_day in reversed(starts):
        late = rows.filter(pl.col("day") >= start)
        if (as_of is not None and as_of >= start) or _is_new_start(rows, late, start, last_day):
            break
        found.append(late.select("row", "entry").unique(maintain_order=True))
        rows = rows.filter(pl.col("day") < start)
    return pl.concat(found).with_columns(last_day=pl.lit(rows["day"].max(), pl.Date))


def _is_new_start(rows: pl.DataFrame, late: pl.DataFrame, start: date, last_day: date) -> bool:
    """Whether half of the athletes of some file have these days."""
    files = (
        rows.group_by("entry")
        .agg(pl.col("athlete").n_unique().alias("athletes"), pl.len().alias("rows"))
        .join(
            late.group_by("entry").agg(
                pl.col("athlete").n_unique().alias("late_athletes"), pl.len().alias("late_rows")
            ),
            on="entry",
        )
    )
    half = 2 * pl.col("late_athletes") >= pl.col("athletes")
    if start - last_day > timedelta(days=FAR_DAYS):
        is_alone = rows["athlete"].n_unique() == 1
        half &= (pl.col("late_athletes") > 1) | (
            pl.lit(is_alone) & (2 * pl.col("late_rows") >= pl.col("rows"))
        )
    return bool(files.select(half.any()).item())
