"""Rows dated long after everything else: a slip in the year, which would move "today" with it."""

from collections.abc import Iterable
from datetime import date, timedelta

import numpy as np
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
    none = pl.DataFrame(schema={"row": pl.UInt32, "entry": pl.UInt32, "last_day": pl.Date})
    for start, last_day in _late_starts([part["day"] for part in parts]):
        late = pl.concat([part.filter(pl.col("day") >= start) for part in parts])
        if late.height <= FEW_ROWS and late["athlete"].n_unique() <= FEW_ATHLETES:
            return late.select("row", "entry", last_day=pl.lit(last_day)).unique(
                maintain_order=True
            )
    return none


def _late_starts(days: list[pl.Series]) -> list[tuple[date, date]]:
    """The first day after each long gap, and the last day before it."""
    numbers = [part.to_physical().to_numpy() for part in days]
    if not numbers:
        return []
    low = min(int(part.min()) for part in numbers)
    high = max(int(part.max()) for part in numbers)
    counts = np.zeros(high - low + 1, dtype=np.int64)
    for part in numbers:
        counts += np.bincount(part - low, minlength=len(counts))
    present = np.flatnonzero(counts)
    gaps = np.flatnonzero(np.diff(present) > GAP_DAYS)
    before = np.cumsum(counts)
    return [
        (_day(low + int(present[gap + 1])), _day(low + int(present[gap])))
        for gap in gaps
        if before[present[gap]] >= ENOUGH_ROWS
    ]


def _day(number: int) -> date:
    return date(1970, 1, 1) + timedelta(days=number)
