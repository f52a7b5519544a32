"""Tests far outside the forecast: an odd day, or a true jump that the next test confirms.

Four readings of each test are weighed: a usual day; an odd day, whose error is several times as
large; a jump of the true difference since the test before; and a jump already at the test before,
which had then looked odd. So one odd day does not overturn ten, and two that agree are believed.
What the readings say together becomes two figures for the filter: how much error a test is given,
and how much its level may have moved (moments matched; own derivation, after Harrison & Stevens
1976, J R Stat Soc B 38:205-247). Only what was known on a day judges its test.
"""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.estimate import mixture
from pipeline.estimate.differences import Differences
from pipeline.estimate.panel import Numbers, Panel
from pipeline.estimate.prior import DAY, DRIFT, SPREAD, SquadFit, athlete_prior
from pipeline.estimate.tracker import layout
from pipeline.settings import EstimateSettings

USUAL, ODD, JUMP, JUMPED = 0, 1, 2, 3


@dataclass(frozen=True)
class _Before:
    """The test before, arrays [row]: what was forecast, what came, and the chance of a jump."""

    level: Numbers
    variance: Numbers
    miss: Numbers
    error: Numbers
    jump: Numbers

    def first(self, count: int) -> "_Before":
        """The tracks still running."""
        return _Before(
            self.level[:count],
            self.variance[:count],
            self.miss[:count],
            self.error[:count],
            self.jump[:count],
        )


@dataclass(frozen=True)
class _Reading:
    """What is made of one step's tests, arrays [row]."""

    error: Numbers  # variance the test is given
    move: Numbers  # variance of the level's change beyond the drift
    jump: Numbers  # chance that the level jumped just before this test
    surprise: Numbers


def calmed(
    panel: Panel, tests: Differences, fit: SquadFit, settings: EstimateSettings
) -> tuple[Differences, Numbers]:
    """The tests with odd ones' variance raised and jumps allowed, and each test's surprise.

    A surprise is a standardised forecast error, measured after a confirmed jump from the new
    level and for a first test from the squad.
    """
    plan = layout(tests.series, tests.day)
    group = panel.series_group[plan.order]
    prior = athlete_prior(panel, fit, fit.sds[:, SPREAD], plan.order, settings)
    day, drift = fit.sds[group, DAY] ** 2, fit.sds[group, DRIFT] ** 2
    leap = (settings.jump_scale * fit.sds[group, SPREAD]) ** 2
    rows, slots = len(plan.order), len(plan.test)
    alpha, beta, gamma, info, score = (np.zeros(rows) for _ in range(5))
    beta += 1
    extra, moves, surprise = np.zeros(slots), np.zeros(slots), np.zeros(slots)
    d, trial_error = tests.d[plan.test], tests.variance[plan.test]
    before = _Before(*(np.zeros(rows) for _ in range(5)))
    for step, now in enumerate(plan.steps()):
        n = now.stop - now.start
        own = mixture.Prior(prior.mean[:n], prior.variance[:, :n], prior.log_weight)
        first = mixture.first_level(own, info[:n], score[:n])
        forecast = gamma[:n] + drift[:n] * plan.weeks[now]
        belief = mixture.carried(first, alpha[:n], beta[:n], forecast)
        level, variance = mixture.mean_of(belief), mixture.sd_of(belief) ** 2
        usual = trial_error[now] + day[:n]
        miss = d[now] - level
        if step == 0:
            read = _Reading(usual, np.zeros(n), np.zeros(n), miss / np.sqrt(variance + usual))
        else:
            weeks = plan.weeks[now]
            read = _read(
                d[now], level, variance, usual, leap[:n], weeks, drift[:n] * weeks,
                before.first(n), settings,
            )  # fmt: skip
        extra[now], moves[now], surprise[now] = read.error - usual, read.move, read.surprise
        before = _Before(level, variance, miss, usual, read.jump)
        spread = forecast + read.move + read.error
        gain = (forecast + read.move) / spread
        off = d[now] - alpha[:n]
        info[:n] += beta[:n] ** 2 / spread
        score[:n] += beta[:n] * off / spread
        alpha[:n] += gain * off
        beta[:n] *= 1 - gain
        gamma[:n] = gain * read.error
    place = np.empty_like(plan.test)
    place[plan.test] = np.arange(slots)
    calm = replace(tests, variance=tests.variance + extra[place], move=moves[place])
    return calm, surprise[place]


def _read(
    d: Numbers,
    level: Numbers,
    variance: Numbers,
    usual: Numbers,
    leap: Numbers,
    weeks: Numbers,
    drift: Numbers,
    before: _Before,
    settings: EstimateSettings,
) -> _Reading:
    """Weigh the four readings of tests `d` forecast as N(level, variance)."""
    new_level, new_variance = _after_jump(before, leap, drift, settings)
    centre = np.stack([level, level, level, new_level])
    # Both may be far out, so that size alone never settles it; the odd day a little further, so
    # that one day never outweighs many, and the next test on the same level does.
    odd = settings.odd_scale**2 * usual
    unsure = np.stack([variance, variance, variance + leap + odd / 2, new_variance])
    error = np.stack([usual, leap + odd, usual, usual])
    jumps = np.minimum(settings.jump_rate * weeks, 0.5)
    rest = 1 - before.jump
    share = np.stack(
        [
            rest * (1 - settings.odd_share) * (1 - jumps),
            rest * settings.odd_share,
            rest * jumps,
            before.jump,
        ]
    )
    spread = unsure + error
    off = d - centre
    chance = share / np.sqrt(spread) * np.exp(-np.minimum(off**2 / spread / 2, 300.0))
    chance = np.maximum(chance, 1e-300)
    chance /= chance.sum(axis=0)
    gain = unsure / spread
    mean = (chance * (centre + gain * off)).sum(axis=0)
    apart = centre + gain * off - mean
    left = (chance * (gain * error + apart**2)).sum(axis=0)
    miss = d - level
    # As one update from the forecast: the gain that lands on the mean, the error and move that
    # leave this variance.
    whole = np.where(np.abs(miss) > 1e-12, (mean - level) / np.where(miss == 0, 1, miss), gain[0])
    whole = np.clip(whole, 0.5 * gain[ODD], 0.99)
    likely_new = chance[JUMPED] > 0.5
    return _Reading(
        error=np.maximum(left / whole, usual),
        move=np.maximum(left / (1 - whole) - variance, 0.0),
        jump=chance[JUMP],
        surprise=np.where(
            likely_new, off[JUMPED] / np.sqrt(spread[JUMPED]), off[USUAL] / np.sqrt(spread[USUAL])
        ),
    )


def _after_jump(
    before: _Before, leap: Numbers, drift: Numbers, settings: EstimateSettings
) -> tuple[Numbers, Numbers]:
    """Level and variance now if it had jumped at the test before."""
    wide = before.variance + leap + settings.odd_scale**2 * before.error / 2
    gain = wide / np.maximum(wide + before.error, 1e-300)
    return before.level + gain * before.miss, gain * before.error + drift
