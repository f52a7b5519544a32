"""The day every change is told against, and the level of that day in the light of all tests.

The day a running block began, else the last test day at least six weeks before the newest one,
else the first. One day for all sentences, so that no two of them speak of different changes.
"""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.estimate.panel import Indices, Numbers
from pipeline.estimate.tracker import Filtered, Layout, Smoothed, link, stepped_back

SIX_WEEKS = 42  # days: as long as a block
NEVER = np.iinfo(np.int64).min  # no block is running
APART = 10_000_000  # more days than any two dates are apart


@dataclass(frozen=True)
class Reference:
    """The reference day of each track, arrays [row]."""

    day: Indices  # since 1970-01-01
    slot: Indices  # the last test up to that day, else the first
    weeks: Numbers  # from that test to the day

    def at(self, rows: Indices) -> "Reference":
        """The same for some rows only."""
        return Reference(self.day[rows], self.slot[rows], self.weeks[rows])


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
    return Reference(day=on, slot=place[test], weeks=(on - day[test]) / 7.0)


@dataclass(frozen=True)
class Then:
    """The level on the reference day given the first level x, arrays [row].

    N(alpha + beta x, gamma), and `shared` is its covariance with the level at the last test.
    """

    alpha: Numbers
    beta: Numbers
    gamma: Numbers
    shared: Numbers


def level_then(
    point: Filtered,
    plan: Layout,
    step: Numbers,
    last: Indices,
    reference: Reference,
    drift: Numbers,
) -> Then:
    """From each track's last test back to its reference day, test by test.

    `step` [slot] is the variance of the level's change since the test before, `last` [row] the slot
    of the last test, `drift` [row] that variance a week.
    """
    end = point.at(last)
    alpha, beta, gamma = end.alpha.copy(), end.beta.copy(), end.gamma.copy()
    shared = end.gamma.copy()
    ahead = drift * reference.weeks  # from the test before the reference day to that day
    slot = last.copy()
    rows = np.flatnonzero(slot != reference.slot)
    late = np.flatnonzero(slot == reference.slot)  # nothing tested since: only time has passed
    gamma[late] += ahead[late]
    shared[late] += ahead[late]
    while len(rows):
        now = slot[rows]
        before = plan.before[now]
        gone = np.where(before == reference.slot[rows], ahead[rows], 0.0)
        state = point.at(before)
        state = replace(state, gamma=state.gamma + gone)
        later = Smoothed(alpha[rows], beta[rows], gamma[rows], shared[rows])
        back = stepped_back(state, step[now] - gone, later)
        shared[rows] *= link(state, step[now] - gone)
        alpha[rows], beta[rows], gamma[rows] = back.alpha, back.beta, back.gamma
        slot[rows] = before
        rows = rows[before != reference.slot[rows]]
    return Then(alpha, beta, gamma, shared)
