"""Where a difference stands over time: a local level with real dates and unequal errors.

    d(day) = level(day) + error,    level(later) = level(earlier) + N(0, step)

with a step of the drift times the weeks between, and more where a jump is allowed.

Everything is kept as a line in the first day's level x: given x, the level on a later day is
N(alpha + beta x, gamma), and what the tests say about x is exp(-(info x^2 - 2 score x) / 2). So
one pass serves every prior of x, and a prior that is a mixture of normals costs nothing more.
Own derivation; with a wide prior it is the Kalman filter of Durbin & Koopman 2012, chapter 2.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.estimate.panel import Indices, Numbers


@dataclass(frozen=True)
class Layout:
    """Tests in the order the filter takes them: all first tests, all second tests, and so on.

    Within a step the tracks stand in the same order, longest first, so that every step is one
    slice of the tests and the tracks still running are the first ones.
    """

    test: Indices  # [slot] which test of the input
    track: Indices  # [slot] which track, by its own number
    row: Indices  # [slot] place of the track in the order
    weeks: Numbers  # [slot] since the test before; 0 for a first test
    before: Indices  # [slot] slot of the test before; its own slot for a first test
    offsets: Indices  # [step + 1] first slot of each step
    order: Indices  # [row] track number
    last: Indices  # [row] slot of the track's last test
    length: Indices  # [row] tests of the track

    def steps(self) -> list[slice]:
        """The slots of each step; within them, row r stands at place r."""
        ends = self.offsets.tolist()
        return [slice(start, end) for start, end in pairwise(ends)]


def layout(track: Indices, day: Indices) -> Layout:
    """Order tests for the filter. `track` must be sorted and days rise within a track."""
    starts = np.flatnonzero(np.diff(track, prepend=-1))
    lengths = np.diff(starts, append=len(track))
    order = np.argsort(-lengths, kind="stable")
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    rank = np.arange(len(track)) - np.repeat(starts, lengths)
    row = np.repeat(place, lengths)
    test = np.lexsort((row, rank))
    offsets = np.append(0, np.cumsum(np.bincount(rank)))
    weeks = np.diff(day, prepend=0) / 7.0
    weeks[starts] = 0.0
    earlier = offsets[np.maximum(rank - 1, 0)] + row
    return Layout(
        test=test,
        track=track[test],
        row=row[test],
        weeks=weeks[test],
        before=earlier[test],
        offsets=offsets,
        order=track[starts][order],
        last=offsets[lengths[order] - 1] + np.arange(len(order)),
        length=lengths[order],
    )


@dataclass(frozen=True)
class StartEvidence:
    """All a track's tests together, arrays [row]: what they say of the first level x.

    The log likelihood given x is -(info x^2 - 2 score x + square + log_spread) / 2.
    """

    info: Numbers
    score: Numbers
    square: Numbers
    log_spread: Numbers


def start_evidence(plan: Layout, d: Numbers, variance: Numbers, step: Numbers) -> StartEvidence:
    """One pass that keeps only the sums.

    Arrays [slot]: the test, its error variance, and the variance of the level's change since the
    test before.
    """
    rows = len(plan.order)
    alpha, beta, gamma = np.zeros(rows), np.ones(rows), np.zeros(rows)
    info, score, square, log_spread = (np.zeros(rows) for _ in range(4))
    for now in plan.steps():
        size = now.stop - now.start
        forecast = gamma[:size] + step[now]
        spread = forecast + variance[now]
        gain = forecast / spread
        miss = d[now] - alpha[:size]
        weighted = beta[:size] / spread
        info[:size] += weighted * beta[:size]
        score[:size] += weighted * miss
        square[:size] += miss**2 / spread
        log_spread[:size] += np.log(spread)
        alpha[:size] += gain * miss
        beta[:size] *= 1 - gain
        gamma[:size] = gain * variance[now]
    return StartEvidence(info, score, square, log_spread)


@dataclass(frozen=True)
class Filtered:
    """After each test, arrays [slot]: the level given the first one, and what is known of that."""

    alpha: Numbers
    beta: Numbers
    gamma: Numbers
    info: Numbers
    score: Numbers

    def at(self, slots: Indices | slice) -> "Filtered":
        """The same for some slots only."""
        return Filtered(
            self.alpha[slots],
            self.beta[slots],
            self.gamma[slots],
            self.info[slots],
            self.score[slots],
        )


def filtered(plan: Layout, d: Numbers, variance: Numbers, step: Numbers) -> Filtered:
    """One pass that keeps every step; arrays [slot] as in `start_evidence`."""
    alpha, gamma, info, score = (np.zeros(len(d)) for _ in range(4))
    beta = np.ones(len(d))
    start = 0
    for now in plan.steps():
        size = now.stop - now.start
        before, start = slice(start, start + size), now.start
        if now.start:
            beta[now] = beta[before]
            alpha[now] = alpha[before]
            gamma[now] = gamma[before] + step[now]
            info[now] = info[before]
            score[now] = score[before]
        spread = gamma[now] + variance[now]
        gain = gamma[now] / spread
        miss = d[now] - alpha[now]
        weighted = beta[now] / spread
        info[now] += weighted * beta[now]
        score[now] += weighted * miss
        alpha[now] += gain * miss
        beta[now] *= 1 - gain
        gamma[now] = gain * variance[now]
    return Filtered(alpha, beta, gamma, info, score)


@dataclass(frozen=True)
class Smoothed:
    """In the light of later tests, arrays [slot]: the level given the first level.

    `shared` is the covariance with the level at the next test.
    """

    alpha: Numbers
    beta: Numbers
    gamma: Numbers
    shared: Numbers


def stepped_back(before: Filtered, step: Numbers, after: Filtered | Smoothed) -> Smoothed:
    """The level at one test in the light of the next; `step` is the drift variance between them.

    Rauch, Tung & Striebel 1965, AIAA J 3:1445-1450, given the first level.
    """
    share = link(before, step)
    return Smoothed(
        alpha=before.alpha + share * (after.alpha - before.alpha),
        beta=before.beta + share * (after.beta - before.beta),
        gamma=before.gamma + share**2 * (after.gamma - before.gamma - step),
        shared=share * after.gamma,
    )


def link(before: Filtered, step: Numbers) -> Numbers:
    """What a change of the next level says of this one, as a share of it."""
    forecast = before.gamma + step
    return np.divide(before.gamma, forecast, out=np.zeros_like(forecast), where=forecast > 0)


def smoothed(plan: Layout, found: Filtered, step: Numbers) -> Smoothed:
    """Every level in the light of all tests; `step` [slot] as in the filter."""
    whole = Smoothed(
        found.alpha.copy(), found.beta.copy(), found.gamma.copy(), np.zeros_like(found.gamma)
    )
    steps = plan.steps()
    for earlier, now in zip(reversed(steps[:-1]), reversed(steps[1:]), strict=True):
        size = now.stop - now.start
        before = slice(earlier.start, earlier.start + size)
        after = Smoothed(whole.alpha[now], whole.beta[now], whole.gamma[now], whole.shared[now])
        back = stepped_back(found.at(before), step[now], after)
        whole.alpha[before], whole.beta[before] = back.alpha, back.beta
        whole.gamma[before], whole.shared[before] = back.gamma, back.shared
    return whole
