"""A filter that follows change: one normal for each part of the prior and each last reading.

Between two tests each of them branches over what may have happened (`readings.py`);
every branch is weighed by how well it foretold the test, and only then are the branches of one
newest reading merged to one normal again, by their moments (Kim 1994, J Econometrics 60:1-22; West
& Harrison 1997, chapter 12). A test may also have been an odd day, whose error is several times as
large: a branch of its own within the readings in which nothing new began.

A level of the past, or the athlete's true lead, is carried along as a second variable where it is
asked for: its mean, its variance and its covariance with today's level.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.filter.belief import Belief, Moves, Second
from pipeline.estimate.filter.readings import CLOSING, JUMPED, MOVING, QUIET, STATES, Gaps
from pipeline.estimate.sessions.panel import Numbers
from pipeline.settings import EstimateSettings

# Branches, ordered by the reading they end in: reading before, reading, whether movement goes on
# (and did not begin anew), whether the test was an odd day.
BRANCHES = (
    (QUIET, QUIET, False, False),
    (QUIET, QUIET, False, True),
    (MOVING, QUIET, False, False),
    (CLOSING, QUIET, False, False),
    (JUMPED, QUIET, False, False),
    (QUIET, MOVING, False, False),
    (MOVING, MOVING, True, False),
    (MOVING, MOVING, True, True),
    (JUMPED, MOVING, False, False),
    (QUIET, CLOSING, False, False),
    (CLOSING, CLOSING, True, False),
    (CLOSING, CLOSING, True, True),
    (JUMPED, CLOSING, True, False),
    (QUIET, JUMPED, False, False),
    (MOVING, JUMPED, False, False),
    (CLOSING, JUMPED, False, False),
)
PLACE = {branch: place for place, branch in enumerate(BRANCHES)}
SOURCE = np.array([branch[0] for branch in BRANCHES])
STARTS = np.array([[branch[1] for branch in BRANCHES].index(state) for state in range(STATES)])
INTO = [slice(start, end) for start, end in zip(STARTS, [*STARTS[1:], len(BRANCHES)], strict=True)]
SIZES = np.diff([*STARTS, len(BRANCHES)])
ODD = np.array([branch[3] for branch in BRANCHES])
GOING = np.array([branch[2] for branch in BRANCHES])


@dataclass
class Branched:
    """All branches of one step: arrays [branch, part, row]."""

    weight: Numbers
    mean: Numbers
    variance: Numbers
    factor: Numbers  # [branch, 1, row] of the level before in the level now
    lasts: Numbers  # [branch, 1, row]
    seconds: list[Second]


def branched(belief: Belief, gap: Gaps, moves: Moves, settings: EstimateSettings) -> Branched:
    """Every row's beliefs carried over its gap, by every branch; weights before any test."""
    weight = belief.weight[SOURCE]
    weight *= _chances(belief, gap, settings)
    mean, variance = belief.mean[SOURCE], belief.variance[SOURCE]
    rows = len(gap.weeks)
    step = np.empty((len(BRANCHES), 1, rows))
    step[INTO[QUIET]] = moves.drift * gap.weeks
    factor = np.ones((len(BRANCHES), 1, rows))
    lasts = np.zeros((len(BRANCHES), 1, rows))
    for state, speed in ((MOVING, moves.moving), (CLOSING, moves.wobble)):
        for branch in range(len(BRANCHES))[INTO[state]]:
            stretch = (gap.going if GOING[branch] else gap.begun)[state]
            step[branch] = speed * stretch.weeks
            lasts[branch] = stretch.lasts
            if state == CLOSING:
                factor[branch] = stretch.fade.mean
    step[INTO[JUMPED]] = moves.leap + moves.drift * gap.weeks
    close = INTO[CLOSING]
    spread = np.empty((close.stop - close.start, 1, rows))
    for place, branch in enumerate(range(len(BRANCHES))[close]):
        spread[place] = (gap.going if GOING[branch] else gap.begun)[CLOSING].fade.variance
    off = mean[close] - moves.aim
    variance[close] = factor[close] ** 2 * variance[close] + spread * (off**2 + variance[close])
    mean[close] = moves.aim + factor[close] * off
    variance += step
    seconds = [
        Second(s.mean[SOURCE], s.variance[SOURCE], s.shared[SOURCE] * factor)
        for s in belief.seconds
    ]
    return Branched(weight, mean, variance, factor, lasts, seconds)


def _chances(belief: Belief, gap: Gaps, settings: EstimateSettings) -> Numbers:
    """Chance of each branch given the reading before. Shape [branch, part, row]."""
    found = np.empty((len(BRANCHES), *belief.weight.shape[1:]))
    stay, odd, closes = 1 - gap.jump, settings.odd_share, settings.closing_share
    mends, begin = settings.jump_mends, stay * gap.start

    def put(before: int, reading: int, chance: Numbers, *, going: bool = False) -> None:
        """A usual day and, where there is a branch for it, an odd one."""
        place = PLACE[before, reading, going, False]
        twin = PLACE.get((before, reading, going, True))
        found[place] = chance if twin is None else chance * (1 - odd)
        if twin is not None:
            found[twin] = chance * odd

    put(QUIET, QUIET, stay - begin)
    put(QUIET, MOVING, begin * (1 - closes))
    put(QUIET, CLOSING, begin * closes)
    for before, lasting in zip((MOVING, CLOSING), belief.lasts, strict=True):
        put(before, QUIET, stay * (1 - lasting))
        put(before, before, stay * lasting, going=True)
    for before in (QUIET, MOVING, CLOSING):
        put(before, JUMPED, gap.jump)
    put(JUMPED, QUIET, (1 - mends) * (1 - gap.start))
    put(JUMPED, MOVING, (1 - mends) * gap.start)
    put(JUMPED, CLOSING, np.full(len(gap.weeks), mends), going=True)
    return found


def weighed(
    branches: Branched, d: Numbers, error: Numbers, odd_error: Numbers
) -> tuple[Branched, Numbers]:
    """The branches after a test: weighed by their forecast of it, then updated.

    With them the log likelihood of each row's test, without the constant.
    """
    spread = branches.variance + np.where(ODD[:, None, None], odd_error, error)
    miss = d - branches.mean
    square = miss**2 / spread
    # Nearest of those that are possible at all: a setting may rule some out.
    least = np.where(branches.weight > 0, square, np.inf).min(axis=(0, 1))
    weight = branches.weight * np.exp(np.minimum((least - square) / 2, 0)) / np.sqrt(spread)
    total = weight.sum(axis=(0, 1))
    gain = branches.variance / spread
    rest = 1 - gain
    seconds = _told(branches.seconds, miss, spread, rest)
    after = Branched(
        weight / total,
        branches.mean + gain * miss,
        branches.variance * rest,
        branches.factor,
        branches.lasts,
        seconds,
    )
    return after, np.log(total) - least / 2


def _told(seconds: list[Second], miss: Numbers, spread: Numbers, rest: Numbers) -> list[Second]:
    """What stands beside the level, after a test: each learns by what it shares with the level.

    `miss` is how far the test came from its forecast, `spread` the forecast's variance, `rest` the
    share of the level's variance that is left. All in the shape of the level's readings.
    """
    told = []
    for second in seconds:
        own = second.shared / spread
        mean, variance = second.mean + own * miss, second.variance - own * second.shared
        told.append(Second(mean, variance, second.shared * rest))
    return told


def merged(branches: Branched) -> Belief:
    """One normal for each newest reading, by the moments of its branches."""
    weight = _into(branches.weight)
    safe = np.where(weight > 0, weight, 1.0)
    share = branches.weight
    mean = _into(share * branches.mean) / safe
    off = branches.mean - _over(mean)
    variance = _into(share * (branches.variance + off**2)) / safe
    lasts = [
        (share[into] * branches.lasts[into]).sum(axis=0) for into in (INTO[MOVING], INTO[CLOSING])
    ]
    seconds = []
    for second in branches.seconds:
        own = _into(share * second.mean) / safe
        apart = second.mean - _over(own)
        seconds.append(
            Second(
                own,
                _into(share * (second.variance + apart**2)) / safe,
                _into(share * (second.shared + apart * off)) / safe,
            )
        )
    empty = weight <= 0
    if empty.any():  # never read: any value will do
        variance[empty] = 1.0
    return Belief(weight, mean, variance, np.stack(lasts) / safe[MOVING : CLOSING + 1], seconds)


def _into(values: Numbers) -> Numbers:
    """Sums over the branches of each newest reading."""
    found = np.empty((STATES, *values.shape[1:]))
    for state, branches in enumerate(INTO):
        np.add.reduce(values[branches], axis=0, out=found[state])
    return found


def _over(values: Numbers) -> Numbers:
    """One value a reading, given to all its branches."""
    return np.repeat(values, SIZES, axis=0)


def first_test(belief: Belief, d: Numbers, error: Numbers) -> tuple[Belief, Numbers]:
    """The belief after the first test of each row, and log likelihoods as in `weighed`."""
    spread, miss = belief.variance + error, d - belief.mean
    square = miss**2 / spread
    least = square[QUIET].min(axis=0)
    weight = belief.weight * np.exp(np.minimum((least - square) / 2, 0)) / np.sqrt(spread)
    total = weight.sum(axis=(0, 1))
    gain = belief.variance / spread
    seconds = _told(belief.seconds, miss, spread, 1 - gain)
    after = Belief(
        weight / total,
        belief.mean + gain * miss,
        belief.variance * (1 - gain),
        belief.lasts,
        seconds,
    )
    return after, np.log(total) - least / 2
