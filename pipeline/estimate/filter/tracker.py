"""Tests in the order a filter takes them, and one drift for all: what a squad's first fit needs.

    d(day) = level(day) + error,    level(later) = level(earlier) + N(0, step)

with a step of the drift times the weeks between. Everything is kept as a line in the first day's
level x: given x, the level on a later day is N(alpha + beta x, gamma), and what the tests say
about x is exp(-(info x^2 - 2 score x) / 2). So one pass serves every prior of x, and a prior that
is a mixture of normals costs nothing more. Own derivation; with a wide prior it is the Kalman
filter of Durbin & Koopman 2012, chapter 2.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.estimate.sessions.panel import Indices, Numbers


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

    def step_of(self, slots: Indices) -> Indices:
        """The step of each slot, counted from 0."""
        return np.searchsorted(self.offsets, slots, side="right") - 1

    def slots_of(self, rows: Indices) -> Indices:
        """The slots of some rows (longest first), step by step."""
        length = self.length[rows]
        return np.concatenate(
            [
                self.offsets[step] + rows[: int(np.searchsorted(-length, -step, side="left"))]
                for step in range(int(length.max(initial=0)))
            ]
            or [rows[:0]]
        )


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
