"""The day every change is told against.

The day a running block began, else the last test day at least six weeks before the newest one,
else the first. One day for all sentences, so that no two of them speak of different changes.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.filter.tracker import Layout
from pipeline.estimate.sessions.panel import Indices

SIX_WEEKS = 42  # days: as long as a block
NEVER = np.iinfo(np.int64).min  # no block is running
APART = 10_000_000  # more days than any two dates are apart


@dataclass(frozen=True)
class Reference:
    """The reference day of each track, arrays [row]."""

    day: Indices  # since 1970-01-01
    slot: Indices  # the last test up to that day, else the first


def references(plan: Layout, series: Indices, day: Indices, begun: Indices) -> Reference:
    """The reference of each track.

    `series` and `day` are those of the tests in their own order; `begun` [series] is the day a
    running block began, or NEVER.
    """
    place = np.empty_like(plan.test)
    place[plan.test] = np.arange(len(place))
    last = plan.test[plan.last]
    first = last - plan.length + 1
    is_running = begun[series[last]] != NEVER
    wanted = np.where(is_running, begun[series[last]], day[last] - SIX_WEEKS)
    key = series * APART + day
    found = np.searchsorted(key, series[last] * APART + np.maximum(wanted, -APART // 2), "right")
    test = np.maximum(found - 1, first)
    on = np.where(is_running, np.maximum(wanted, day[test]), day[test])
    return Reference(day=on, slot=place[test])
