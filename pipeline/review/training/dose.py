"""Whether more extra work went with more closing, over the blocks of a squad."""

from dataclasses import dataclass

import numpy as np
import polars as pl

LEAST_BLOCKS = 6  # below this a slope says nothing
LEAST_SPREAD = 0.25  # extra weekly sets between the blocks that did least and most


@dataclass(frozen=True)
class DoseResponse:
    """Extra work against change over the blocks of a squad, in review lines per extra weekly set.

    None where there are too few blocks, or all did the same.
    """

    block_count: int
    slope: float | None
    low: float | None
    high: float | None


def dose_response(found: pl.DataFrame) -> DoseResponse:
    """Least-squares slope of change on extra weekly sets with its 90 % interval (t)."""
    known = found.drop_nulls(["change_in_lines", "adherence"])
    dose, change = (known[name].to_numpy() for name in ("extra_sets_per_week", "change_in_lines"))
    count = len(dose)
    if count < LEAST_BLOCKS or float(np.ptp(dose)) < LEAST_SPREAD:
        return DoseResponse(count, None, None, None)
    from scipy.stats import linregress, t

    fit = linregress(dose, change)
    half = float(t.ppf(0.95, count - 2) * fit.stderr)
    return DoseResponse(count, float(fit.slope), float(fit.slope) - half, float(fit.slope) + half)
