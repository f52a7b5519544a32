"""Where a difference stands over time: a local level with real dates and unequal errors.

    d(day) = level(day) + error,    level(later) = level(earlier) + N(0, drift^2 * weeks)

Everything is kept as a line in the first day's level x: given x, the level on a later day is
N(alpha + beta x, gamma), and what the tests say about x is exp(-(info x^2 - 2 score x) / 2). So
one pass serves every prior of x, and a prior that is a mixture of normals costs nothing more.
Own derivation; with a wide prior it is the Kalman filter of Durbin & Koopman 2012, chapter 2.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.panel import Indices, Numbers


@dataclass(frozen=True)
class Layout:
    """Tests in the order the filter takes them: all first tests, all second tests, and so on.

    Within a step the tracks stand in the same order, longest first, so that every step is one
    slice of the tests and the tracks still running are the first ones.
    """

    track: Indices  # [slot] which track, by its own number
    test: Indices  # [slot] which test of the input
    row: Indices  # [slot] place of the track in the order
    offsets: Indices  # [step + 1] slots of each step
    last: Indices  # [row] slot of the track's last test
    order: Indices  # [row] track number
    weeks: Numbers  # [slot] since the test before; 0 for a first test

    def steps(self) -> list[tuple[slice, slice]]:
        """For each step its slots and the slots of the same tracks one step before."""
        found = []
        for step in range(len(self.offsets) - 1):
            start, end = int(self.offsets[step]), int(self.offsets[step + 1])
            before = int(self.offsets[step - 1]) if step else 0
            found.append((slice(start, end), slice(before, before + end - start)))
        return found


def layout(track: Indices, day: Indices) -> Layout:
    """Order tests for the filter. `track` must be sorted and days rise within a track."""
    if len(track) == 0:
        empty = np.zeros(0, dtype=np.int64)
        return Layout(empty, empty, empty, np.zeros(1, np.int64), empty, empty, np.zeros(0))
    is_first = np.r_[True, track[1:] != track[:-1]]
    starts = np.flatnonzero(is_first)
    lengths = np.diff(np.r_[starts, len(track)])
    rank = np.arange(len(track)) - np.repeat(starts, lengths)
    order = np.argsort(-lengths, kind="stable")
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    row = np.repeat(place, lengths)
    test = np.lexsort((row, rank))
    offsets = np.r_[0, np.cumsum(np.bincount(rank))]
    weeks = np.r_[0.0, np.diff(day) / 7.0]
    weeks[starts] = 0.0
    return Layout(
        track=track[test],
        test=test,
        row=row[test],
        offsets=offsets,
        last=offsets[lengths[order] - 1] + np.arange(len(order)),
        order=track[starts][order],
        weeks=weeks[test],
    )


@dataclass(frozen=True)
class Filtered:
    """After each test, arrays [slot]: the level given the first level, and what is known of that.

    `forecast_alpha`, `forecast_beta`, `forecast_gamma` are the level before the test is seen.
    """

    alpha: Numbers
    beta: Numbers
    gamma: Numbers
    forecast_alpha: Numbers
    forecast_beta: Numbers
    forecast_gamma: Numbers
    info: Numbers
    score: Numbers
    square: Numbers
    log_spread: Numbers


def filtered(plan: Layout, d: Numbers, variance: Numbers, drift: Numbers) -> Filtered:
    """Run the filter. `d` and `variance` [slot]; `drift` [row] variance per week."""
    arrays = [np.zeros(len(d)) for _ in range(10)]
    alpha, beta, gamma, f_alpha, f_beta, f_gamma, info, score, square, log_spread = arrays
    for step, (now, before) in enumerate(plan.steps()):
        if step == 0:
            f_beta[now] = 1.0
        else:
            size = now.stop - now.start
            f_alpha[now] = alpha[before]
            f_beta[now] = beta[before]
            f_gamma[now] = gamma[before] + drift[:size] * plan.weeks[now]
        spread = f_gamma[now] + variance[now]
        gain = f_gamma[now] / spread
        miss = d[now] - f_alpha[now]
        alpha[now] = f_alpha[now] + gain * miss
        beta[now] = f_beta[now] * (1 - gain)
        gamma[now] = gain * variance[now]
        weighted = f_beta[now] / spread
        info[now] = weighted * f_beta[now]
        score[now] = weighted * miss
        square[now] = miss**2 / spread
        log_spread[now] = np.log(spread)
        if step:
            for running in (info, score, square, log_spread):
                running[now] += running[before]
    return Filtered(*arrays)


@dataclass(frozen=True)
class Smoothed:
    """In the light of all tests, arrays [slot]: the level given the first level.

    `link` times the gamma of the next test is the covariance with the level there.
    """

    alpha: Numbers
    beta: Numbers
    gamma: Numbers
    link: Numbers


def smoothed(plan: Layout, found: Filtered) -> Smoothed:
    """Run back over the filter's result (Rauch, Tung & Striebel 1965, given the first level)."""
    alpha, beta, gamma = found.alpha.copy(), found.beta.copy(), found.gamma.copy()
    link = np.zeros_like(alpha)
    for now, before in reversed(plan.steps()[1:]):
        spread = found.forecast_gamma[now]
        link[before] = np.divide(
            found.gamma[before], spread, out=np.zeros_like(spread), where=spread > 0
        )
        alpha[before] += link[before] * (alpha[now] - found.forecast_alpha[now])
        beta[before] += link[before] * (beta[now] - found.forecast_beta[now])
        gamma[before] += link[before] ** 2 * (gamma[now] - spread)
    return Smoothed(alpha, beta, gamma, link)
