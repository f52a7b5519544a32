"""Odd days and jumps, written out: four readings of each test, weighed, and their two moments.

With a prior of one normal the belief of each day is one normal too, so every step can be written
down by itself: the mixture of the four readings has a mean and a variance, and the error and the
move that a test is given must lead the filter to just these (own derivation, see odd.py).
"""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm

from pipeline.estimate.differences import differences
from pipeline.estimate.error import trial_errors
from pipeline.estimate.frames import read_panel
from pipeline.estimate.odd import calmed
from pipeline.estimate.prior import DAY, DRIFT, SPREAD, athlete_prior, rough_fit
from pipeline.settings import EstimateSettings, Settings
from tests.estimate.rows import START, measure, roster, session, squad_trials, trials

PLAIN = EstimateSettings(tail_weights=(1.0,), tail_scales=(1.0,))
DAYS = (0, 14, 35, 49, 120)
STORIES = {
    "an odd day": (160, 161, 205, 160, 161),
    "a jump": (160, 161, 190, 191, 190),
    "a jump at the second test": (160, 196, 195, 196, 195),
    "nothing": (160, 162, 159, 161, 160),
}


@dataclass
class Step:
    """One test: what was forecast, what it is given, and the readings written out."""

    level: float
    variance: float
    miss: float
    usual: float
    error: float
    move: float
    surprise: float
    chance: np.ndarray
    means: np.ndarray
    variances: np.ndarray
    gains: np.ndarray
    from_new_level: tuple[float, float] = (0.0, 0.0)  # miss and its variance after a jump

    @property
    def after(self) -> tuple[float, float]:
        """Mean and variance of the level after the test, as the filter has them."""
        gain = (self.variance + self.move) / (self.variance + self.move + self.error)
        return self.level + gain * self.miss, gain * self.error


def steps_of(
    right: tuple[int, ...], days: tuple[int, ...] = DAYS, *, first: bool = False
) -> list[Step]:
    """The athlete's tests after the first, each from the filter's state before it."""
    rows = [
        row
        for day, value in zip(days, right, strict=True)
        for row in session("X", day, [160] * 3, [value] * 3)
    ]
    frame = pl.concat([squad_trials(15, days=(0, 14, 28))[0], trials(rows)])
    people = roster(frame["athlete_id"].unique().sort())
    on = START + timedelta(days=days[-1])
    panel, _ = read_panel(frame, people, {"single_hop": measure()}, on, Settings())
    errors = trial_errors(panel, PLAIN)
    tests = differences(panel, errors)
    fit = rough_fit(panel, tests, errors.within_sd, PLAIN)
    calm, surprise = calmed(panel, tests, fit, PLAIN)
    mine = np.flatnonzero(tests.series == panel.series_count - 1)
    prior = athlete_prior(panel, fit, fit.sds[:, SPREAD], tests.series[mine[:1]], PLAIN)
    spread, day, drift = (fit.sds[0, which] for which in (SPREAD, DAY, DRIFT))
    leap = (PLAIN.jump_scale * spread) ** 2
    found: list[Step] = []
    level, variance = float(prior.mean[0]), float(prior.variance[0, 0])
    before: tuple[float, float, float, float, float] | None = None
    for place, test in enumerate(mine):
        weeks = (days[place] - days[place - 1]) / 7 if place else 0.0
        variance += drift**2 * weeks
        usual = float(tests.variance[test]) + day**2
        error, move = float(calm.variance[test]) + day**2, float(calm.move[test])
        miss = float(tests.d[test]) - level
        step = Step(level, variance, miss, usual, error, move, float(surprise[test]),
                    *(np.zeros(4) for _ in range(4)))  # type: ignore[arg-type] # fmt: skip
        jump = 0.0
        if before is not None:
            written_out(step, before, leap, drift**2 * weeks, weeks)
            jump = float(step.chance[2])
        if first or before is not None:
            found.append(step)
        before = (level, variance, miss, usual, jump)
        level, variance = step.after
    return found


def written_out(
    step: Step,
    before: tuple[float, float, float, float, float],
    leap: float,
    drift: float,
    weeks: float,
) -> None:
    """A usual day, an odd one, a jump now, a jump already at the test before."""
    level, variance, miss, usual, jumped = before
    odd = PLAIN.odd_scale**2
    wide = variance + leap + odd * usual / 2
    gain = wide / (wide + usual)
    new, new_variance = level + gain * miss, gain * usual + drift
    jump = PLAIN.jump_rate * weeks
    share = (1 - jumped) * np.array(
        [(1 - PLAIN.odd_share) * (1 - jump), PLAIN.odd_share, jump, 0.0]
    )
    share[3] = jumped
    centre = np.array([step.level] * 3 + [new])
    unsure = np.array([
        step.variance, step.variance, step.variance + leap + odd * step.usual / 2, new_variance,
    ])  # fmt: skip
    error = np.array([step.usual, leap + odd * step.usual, step.usual, step.usual])
    d = step.level + step.miss
    weight = share * norm.pdf(d, centre, np.sqrt(unsure + error))
    step.chance = weight / weight.sum()
    step.gains = unsure / (unsure + error)
    step.means = centre + step.gains * (d - centre)
    step.variances = step.gains * error
    step.from_new_level = d - new, new_variance + step.usual


@pytest.mark.parametrize("story", STORIES)
def test_error_and_move_lead_the_filter_to_the_mean_of_the_four_readings(story: str) -> None:
    exact = 0
    for step in steps_of(STORIES[story]):
        mean = step.chance @ step.means
        spread = step.chance @ (step.variances + (step.means - mean) ** 2)
        after, variance = step.after
        # Within bounds: no test is trusted more than usual, none moves the level the wrong way.
        gain = (mean - step.level) / step.miss if abs(step.miss) > 1e-12 else step.gains[0]
        if 0.5 * step.gains[1] < gain < 0.99 and spread / gain >= step.usual and step.move > 0:
            assert after == pytest.approx(mean, abs=1e-9)
            assert variance == pytest.approx(spread, rel=1e-6)
            exact += 1
        assert step.error >= step.usual * (1 - 1e-12)
    assert exact >= (1 if story != "nothing" else 0)


def test_an_odd_day_is_given_more_error_and_the_day_after_it_none() -> None:
    odd, after = steps_of(STORIES["an odd day"])[1:3]
    assert odd.error > 5 * odd.usual
    assert after.error < 2 * after.usual
    assert odd.surprise == pytest.approx(odd.miss / np.sqrt(odd.variance + odd.usual))


def test_a_jump_that_the_next_test_confirms_moves_the_level() -> None:
    first, second = steps_of(STORIES["a jump"])[1:3]
    assert second.chance[3] > 0.5
    assert second.move > 0.5 * second.variance
    assert abs(second.surprise) < 1 < abs(first.surprise)
    off, spread = second.from_new_level
    assert second.surprise == pytest.approx(off / np.sqrt(spread))


def test_the_first_test_is_held_against_the_squad() -> None:
    first = steps_of(STORIES["nothing"], first=True)[0]
    assert first.error == pytest.approx(first.usual)
    assert first.surprise == pytest.approx(first.miss / np.sqrt(first.variance + first.usual))


def test_a_jump_is_likelier_the_longer_nobody_tested() -> None:
    soon = steps_of((160, 161, 190), (0, 14, 21))[-1]
    late = steps_of((160, 161, 190), (0, 14, 364))[-1]
    assert late.chance[2] > soon.chance[2]
    assert late.after[0] > soon.after[0]
