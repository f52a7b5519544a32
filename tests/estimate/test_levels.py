"""The history of one athlete, against linear algebra with all days at once.

The filter works test by test and keeps the first level apart. Here all levels of an athlete are
one normal vector for each part of the prior, conditioned on all tests in one step (the normal
linear model of any textbook; Durbin & Koopman 2012, chapter 4, has the same result).
"""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

from pipeline.estimate import mixture
from pipeline.estimate.frames import read_panel
from pipeline.estimate.levels import History, Today, history
from pipeline.estimate.mixture import Mixture
from pipeline.estimate.panel import Numbers
from pipeline.estimate.prior import DAY, DRIFT, SPREAD, athlete_prior
from pipeline.estimate.reference import NEVER
from pipeline.estimate.work import Work, worked
from pipeline.settings import Settings
from tests.estimate.rows import START, measure, roster, session, squad_trials, trials

DAYS = (0, 9, 30, 100, 128)
AS_OF = 150
VALUES = ((150, 184), (151, 181), (150, 170), (149, 178), (152, 176))


@dataclass(frozen=True)
class Known:
    """What is known of all of an athlete's levels at once, for each part of the prior.

    Days are the test days in order, and after them one day more.
    """

    weight: Numbers  # [part]
    mean: Numbers  # [part, day]
    cov: Numbers  # [part, day, day]

    def at(self, day: int) -> Mixture:
        return Mixture(
            self.weight[:, None], self.mean[:, day][:, None], self.cov[:, day, day][:, None]
        )


def worked_with(begun: int | None) -> Work:
    """The athlete's squad; a block began so many days after the start."""
    rows = [
        row
        for day, (left, right) in zip(DAYS, VALUES, strict=True)
        for row in session("X", day, [left] * 3, [right] * 3)
    ]
    frame = pl.concat([squad_trials(15, days=(0, 14, 28, 100))[0], trials(rows)])
    people = roster(frame["athlete_id"].unique().sort())
    panel, _ = read_panel(
        frame, people, {"single_hop": measure()}, START + timedelta(days=AS_OF), Settings()
    )
    start = (START - START.replace(1970, 1, 1)).days
    began = np.full(panel.series_count, NEVER)
    if begun is not None:
        began[-1] = start + begun
    return worked(panel, start + AS_OF, Settings().estimate, began)


@pytest.fixture(scope="module")
def work() -> Work:
    return worked_with(None)


def own_tests(work: Work) -> np.ndarray:
    """Places of the athlete's tests; X is the last of the squad's series."""
    return np.flatnonzero(work.tests.series == work.panel.series_count - 1)


def known(work: Work, sds: Numbers, on: int = 0) -> Known:
    """All levels given all tests, if these were the squad's three SDs; the last one of day `on`.

    What may have moved between two tests beyond the drift has moved at the second of them.
    """
    mine = own_tests(work)
    series = work.tests.series[mine[:1]]
    prior = athlete_prior(work.panel, work.fit, sds[:, SPREAD], series, Settings().estimate)
    weeks = np.diff(work.tests.day[mine], prepend=work.tests.day[mine[0]]) / 7
    drift = sds[0, DRIFT] ** 2
    moved = np.cumsum(drift * weeks + work.tests.move[mine])
    before = max(place for place, day in enumerate(DAYS) if day <= on)
    moved = np.append(moved, moved[before] + drift * (on - DAYS[before]) / 7)
    error = np.diag(work.tests.variance[mine] + sds[0, DAY] ** 2)
    d, mean, tests = work.tests.d[mine], prior.mean[0], slice(len(mine))
    logs, means, covs = [], [], []
    for log_weight, variance in zip(prior.log_weight[:, 0], prior.variance[:, 0], strict=True):
        cov = variance + np.minimum.outer(moved, moved)
        spread = cov[tests, tests] + error
        gain = cov[:, tests] @ np.linalg.inv(spread)
        logs.append(log_weight + multivariate_normal(np.full(len(d), mean), spread).logpdf(d))
        means.append(mean + gain @ (d - mean))
        covs.append(cov - gain @ cov[tests])
    weight = np.exp(np.array(logs) - max(logs))
    return Known(weight / weight.sum(), np.array(means), np.array(covs))


def end_of(belief: Mixture, chance: float) -> float:
    weight, mean, sd = belief.weight[:, 0], belief.mean[:, 0], np.sqrt(belief.variance[:, 0])
    return float(brentq(lambda value: weight @ norm.cdf(value, mean, sd) - chance, -2, 2))


def test_the_smoothed_line_is_what_all_tests_say_at_once(work: Work) -> None:
    found: History = history(work.tracks)
    whole = known(work, work.fit.sds)
    assert work.tests.move[own_tests(work)].max() > 0  # a jump is thought possible
    for day, test in enumerate(own_tests(work)):
        belief = whole.at(day)
        near = 2e-4 * mixture.sd_of(belief)[0]
        assert found.smooth[test] == pytest.approx(mixture.mean_of(belief)[0], abs=1e-9)
        assert found.smooth_low[test] == pytest.approx(end_of(belief, 0.05), abs=near)
        assert found.smooth_high[test] == pytest.approx(end_of(belief, 0.95), abs=near)


LAST = len(DAYS) - 1  # the newest test among the days of `Known`


@pytest.mark.parametrize(
    ("begun", "on"),
    [
        (None, 30),  # the last test day at least six weeks before the newest one
        (100, 100),
        (55, 55),  # between two tests
        (-20, 0),  # before any test: the first
        (140, 140),  # nothing was tested since
    ],
)
def test_today_and_whether_it_closed_are_what_all_tests_say_at_once(
    begun: int | None, on: int
) -> None:
    """At each of the equally likely points of the squad's SDs, and over them."""
    work = worked_with(begun)
    now: Today = work.now
    place = int(np.flatnonzero(now.series == work.panel.series_count - 1)[0])
    since = (AS_OF - DAYS[-1]) / 7
    beliefs, thens, chances = [], [], []
    for sds in work.fit.points:
        whole = known(work, sds, on)
        latest = whole.at(LAST)
        today = Mixture(latest.weight, latest.mean, latest.variance + sds[0, DRIFT] ** 2 * since)
        beliefs.append(today)
        thens.append(whole.at(-1))
        shared = (whole.cov[:, -1, -1] if on > DAYS[-1] else whole.cov[:, -1, LAST])[:, None]
        chances.append(mixture.chance_nearer(thens[-1], today, shared, np.zeros(1))[0])
    belief = mixture.joined(beliefs)
    assert now.estimate[place] == pytest.approx(mixture.mean_of(belief)[0], abs=1e-9)
    assert now.sd[place] == pytest.approx(mixture.sd_of(belief)[0], abs=1e-9)
    assert now.low[place] == pytest.approx(end_of(belief, 0.05), abs=2e-4 * now.sd[place])
    # No side of this measure is expected to lead, so the line lies about zero.
    left = float(mixture.chance_below(belief, np.zeros(1))[0])
    assert now.chance_right[place] == pytest.approx(1 - left, abs=1e-9)
    line = work.panel.standards.line[:1]
    over = float(mixture.chance_beyond(belief, line)[0])
    assert now.chance_over[place] == pytest.approx(over, abs=1e-9)
    assert 0.05 < over < 0.95
    assert now.reference_day[place] == (START - START.replace(1970, 1, 1)).days + on
    reference = mixture.mean_of(mixture.joined(thens))[0]
    assert now.reference[place] == pytest.approx(reference, abs=1e-9)
    assert now.chance_closing[place] == pytest.approx(np.mean(chances), abs=1e-6)
