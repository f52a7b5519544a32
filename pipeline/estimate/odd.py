"""Tests far outside the forecast: remarked, and given less weight, as they come."""

from dataclasses import replace

import numpy as np

from pipeline.estimate import mixture
from pipeline.estimate.differences import Differences
from pipeline.estimate.panel import Numbers, Panel
from pipeline.estimate.prior import DAY, DRIFT, SPREAD, SquadFit, athlete_prior
from pipeline.estimate.tracker import layout
from pipeline.settings import EstimateSettings


def calmed(
    panel: Panel, tests: Differences, fit: SquadFit, settings: EstimateSettings
) -> tuple[Differences, Numbers]:
    """The tests with odd ones' variance raised, and each test's standardised forecast error.

    A day is odd with a small chance, its error then being several times as large. Only what was
    known before a test judges it; a first test has no forecast of its own and is left as it is,
    its surprise being measured against the squad. Own derivation.
    """
    plan = layout(tests.series, tests.day)
    group = panel.series_group[plan.order]
    prior = athlete_prior(panel, fit, fit.sds[:, SPREAD], plan.order, settings)
    day, drift = fit.sds[group, DAY] ** 2, fit.sds[group, DRIFT] ** 2
    rows = len(plan.order)
    alpha, beta, gamma = np.zeros(rows), np.ones(rows), np.zeros(rows)
    info, score = np.zeros(rows), np.zeros(rows)
    extra, surprise = np.zeros(len(plan.test)), np.zeros(len(plan.test))
    d, error = tests.d[plan.test], tests.variance[plan.test]
    for step, now in enumerate(plan.steps()):
        n = now.stop - now.start
        own = mixture.Prior(prior.mean[:n], prior.variance[:, :n], prior.log_weight)
        first = mixture.first_level(own, info[:n], score[:n])
        forecast = gamma[:n] + drift[:n] * plan.weeks[now]
        level = mixture.carried(first, alpha[:n], beta[:n], forecast)
        usual = error[now] + day[:n]
        spread = mixture.sd_of(level) ** 2 + usual
        miss = d[now] - mixture.mean_of(level)
        surprise[now] = miss / np.sqrt(spread)
        variance = usual if step == 0 else usual * _raised(usual, spread, miss, settings)
        extra[now] = variance - usual
        given = forecast + variance
        gain = forecast / given
        off = d[now] - alpha[:n]
        info[:n] += beta[:n] ** 2 / given
        score[:n] += beta[:n] * off / given
        alpha[:n] += gain * off
        beta[:n] *= 1 - gain
        gamma[:n] = gain * variance
    place = np.empty_like(plan.test)
    place[plan.test] = np.arange(len(place))
    return replace(tests, variance=tests.variance + extra[place]), surprise[place]


def _raised(usual: Numbers, spread: Numbers, miss: Numbers, settings: EstimateSettings) -> Numbers:
    """Factor on a test's variance that gives it the weight of a mixture of usual and odd days."""
    wide = spread + (settings.odd_scale**2 - 1) * usual
    odds = settings.odd_share / (1 - settings.odd_share) * np.sqrt(spread / wide)
    fit = np.exp(np.minimum(miss**2 * (1 / spread - 1 / wide) / 2, 300.0))
    chance = odds * fit / (1 + odds * fit)
    return np.asarray(1 / (1 - chance * (1 - settings.odd_scale**-2)))
