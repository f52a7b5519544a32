"""How well repeated numbers agree: the one-way ICC, kappa, intervals of shares.

Plain formulas on tables and counts, checked against their sources in tests/external.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri, ndtri

from pipeline.estimate.sessions.panel import Indices, Numbers, counts, sums


@dataclass(frozen=True)
class OneWay:
    """One-way ICC per group with its 95 % interval, arrays [group]; nan where it has none."""

    icc: Numbers
    low: Numbers
    high: Numbers
    athlete_count: Numbers  # with two values or more


def one_way_icc(value: Numbers, series: Indices, series_group: Indices, groups: int) -> OneWay:
    """ICC(1,1) of repeated values, unequal numbers of repeats allowed.

    For equal numbers the form (1,1) of Shrout & Fleiss 1979 and its exact F interval; for unequal
    ones the number of repeats is replaced by k0 of the unbalanced analysis of variance (Searle,
    Casella & McCulloch 1992, from memory). Series with a single value are left out.
    """
    size = counts(series, len(series_group))
    used = size > 1
    mean = sums(value, series, len(size)) / np.maximum(size, 1)
    group = series_group[used]
    n, total = counts(group, groups), sums(size[used], group, groups)
    off = np.where(used[series], value - mean[series], 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        grand = sums((size * mean)[used], group, groups) / total
        rows = sums(size[used] * (mean[used] - grand[group]) ** 2, group, groups)
        between = rows / (n - 1)
        within = sums(off**2, series_group[series], groups) / (total - n)
        k0 = (total - sums(size[used] ** 2, group, groups) / total) / (n - 1)
        ratio = between / within
        low = ratio / fdtri(n - 1, total - n, 0.975)
        high = ratio / fdtri(n - 1, total - n, 0.025)
        icc, low, high = (
            np.where(n > 2, (f - 1) / (f + k0 - 1), np.nan) for f in (ratio, low, high)
        )
    return OneWay(icc, low, high, athlete_count=n)


def kappa(both: Numbers, first_only: Numbers, second_only: Numbers, neither: Numbers) -> Numbers:
    """Cohen's kappa of two-by-two counts (Cohen 1960, Educ Psychol Meas 20:37-46).

    nan, meaning "not defined", where chance agreement is already 1 or nothing was counted.
    """
    both, first_only, second_only, neither = (
        np.asarray(cell, dtype=np.float64) for cell in (both, first_only, second_only, neither)
    )
    total = both + first_only + second_only + neither
    # Counts kept whole until the last division: chance agreement of exactly 1 stays exact.
    agreed = (both + neither) * total
    chance = (both + first_only) * (both + second_only) + (second_only + neither) * (
        first_only + neither
    )
    room = total**2 - chance
    return np.divide(agreed - chance, room, out=np.full_like(total, np.nan), where=room > 0)


def share_interval(hits: Numbers, total: Numbers) -> tuple[Numbers, Numbers]:
    """95 % interval of a share (Wilson 1927, J Am Stat Assoc 22:209-212); nan without any."""
    z = ndtri(0.975)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(total > 0, hits / total, np.nan)
        centre = (share + z**2 / (2 * total)) / (1 + z**2 / total)
        half = z * np.sqrt(share * (1 - share) / total + z**2 / (4 * total**2))
        half = half / (1 + z**2 / total)
    return np.clip(centre - half, 0, 1), np.clip(centre + half, 0, 1)
