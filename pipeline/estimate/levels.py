"""From sessions to the difference of every athlete: then, now, and whether it closed."""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate import mixture
from pipeline.estimate.error import TrialErrors
from pipeline.estimate.mixture import Mixture
from pipeline.estimate.panel import Indices, Numbers, Panel, Truths, by_side
from pipeline.estimate.prior import SquadFit, athlete_prior
from pipeline.estimate.tracker import Filtered, Layout, filtered, layout, smoothed
from pipeline.settings import EstimateSettings


@dataclass(frozen=True)
class Differences:
    """Sessions with both sides tested; arrays [test], ordered by series and day."""

    session: Indices
    series: Indices
    day: Indices
    shapes: Truths
    plain: Numbers  # difference of the plain means
    plain_variance: Numbers  # of `plain`, from the trials' error
    d: Numbers  # difference of the levels, strays weighed down
    variance: Numbers  # of `d`, from the trials' error


@dataclass(frozen=True)
class History:
    """What was known on each test day, arrays [test]."""

    se: Numbers
    estimate: Numbers
    low: Numbers
    high: Numbers
    chance_over: Numbers
    smooth: Numbers
    smooth_low: Numbers
    smooth_high: Numbers
    surprise: Numbers


@dataclass(frozen=True)
class Today:
    """What is known at the as-of date, arrays [row]; `series` says whose row it is."""

    series: Indices
    test: Indices  # the latest
    test_count: Indices
    lead: Numbers
    line: Numbers
    estimate: Numbers
    low: Numbers
    high: Numbers
    sd: Numbers
    chance_over: Numbers
    chance_right: Numbers
    first: Numbers
    chance_closing: Numbers
    chance_closing_since_previous: Numbers


def differences(panel: Panel, errors: TrialErrors) -> Differences:
    """Right minus left of every session in which both sides were tested."""
    left, right = by_side(panel, errors.level)
    session = np.flatnonzero(np.isfinite(left) & np.isfinite(right))
    plain_left, plain_right = by_side(panel, errors.plain_mean)
    group = panel.series_group[panel.session_series[panel.cell_session]]
    usual = errors.within_sd[group] ** 2 / panel.cell_count
    return Differences(
        session=session,
        series=panel.session_series[session],
        day=panel.session_day[session],
        shapes=panel.session_shapes[session],
        plain=(plain_right - plain_left)[session],
        plain_variance=sum(by_side(panel, usual), np.zeros(()))[session],
        d=(right - left)[session],
        variance=sum(by_side(panel, errors.variance), np.zeros(()))[session],
    )


@dataclass(frozen=True)
class Tracks:
    """The filter's result with the prior of each slot's athlete."""

    plan: Layout
    found: Filtered
    first: Mixture  # [slot] belief about the first level after the tests so far
    lead: Numbers  # [slot]
    line: Numbers  # [slot]


def follow(panel: Panel, tests: Differences, fit: SquadFit, settings: EstimateSettings) -> Tracks:
    """Filter every athlete's differences and meet them with the squad's prior."""
    plan = layout(tests.series, tests.day)
    group = panel.series_group[plan.track]
    dominance = panel.series_dominance[plan.track]
    found = filtered(
        plan,
        tests.d[plan.test],
        tests.variance[plan.test] + fit.day_sd[group] ** 2,
        fit.drift_sd[panel.series_group[plan.order]] ** 2,
    )
    prior = athlete_prior(fit, group, dominance, settings)
    has_lead = panel.standards.has_lead[group]
    return Tracks(
        plan=plan,
        found=found,
        first=mixture.first_level(prior, found.info, found.score),
        lead=np.where(has_lead, prior.mean, 0.0),
        line=panel.standards.line[group],
    )


def history(
    panel: Panel, tests: Differences, fit: SquadFit, tracks: Tracks, settings: EstimateSettings
) -> History:
    """The estimate as it stood on every test day, and smoothed in the light of all of them."""
    plan, found = tracks.plan, tracks.found
    then = mixture.carried(tracks.first, found.alpha, found.beta, found.gamma)
    tail = (1 - settings.interval) / 2
    smooth = smoothed(plan, found)
    whole = _of_track(plan, tracks.first)
    late = mixture.carried(whole, smooth.alpha, smooth.beta, smooth.gamma)
    group = panel.series_group[plan.track]
    ordered = {
        "se": np.sqrt(tests.plain_variance[plan.test] + fit.day_sd[group] ** 2),
        "estimate": mixture.mean_of(then),
        "low": mixture.quantile(then, tail),
        "high": mixture.quantile(then, 1 - tail),
        "chance_over": mixture.chance_over(then, tracks.lead, tracks.line),
        "smooth": mixture.mean_of(late),
        "smooth_low": mixture.quantile(late, tail),
        "smooth_high": mixture.quantile(late, 1 - tail),
        "surprise": _surprise(panel, tests, fit, tracks, settings),
    }
    place = np.empty_like(plan.test)
    place[plan.test] = np.arange(len(place))
    return History(**{name: values[place] for name, values in ordered.items()})


def _of_track(plan: Layout, belief: Mixture) -> Mixture:
    """Each slot's belief replaced by that of its track's last slot."""
    last = plan.last[plan.row]
    return Mixture(belief.weight[last], belief.mean[last], belief.variance[last])


def _surprise(
    panel: Panel, tests: Differences, fit: SquadFit, tracks: Tracks, settings: EstimateSettings
) -> Numbers:
    """Standardised error of the forecast made before each test; arrays [slot]."""
    plan, found = tracks.plan, tracks.found
    group, dominance = panel.series_group[plan.track], panel.series_dominance[plan.track]
    prior = athlete_prior(fit, group, dominance, settings)
    info, score = np.zeros(len(plan.test)), np.zeros(len(plan.test))
    for now, before in plan.steps()[1:]:
        info[now], score[now] = found.info[before], found.score[before]
    first = mixture.first_level(prior, info, score)
    forecast = mixture.carried(
        first, found.forecast_alpha, found.forecast_beta, found.forecast_gamma
    )
    variance = tests.variance[plan.test] + fit.day_sd[group] ** 2
    error = tests.d[plan.test] - mixture.mean_of(forecast)
    return np.asarray(error / np.sqrt(mixture.sd_of(forecast) ** 2 + variance))


def today(
    panel: Panel,
    fit: SquadFit,
    tracks: Tracks,
    tests: Differences,
    as_of_day: int,
    settings: EstimateSettings,
) -> Today:
    """The estimate at the as-of date, carried from the last test by the drift."""
    plan, found = tracks.plan, tracks.found
    last = plan.last
    group = panel.series_group[plan.order]
    weeks = (as_of_day - tests.day[plan.test[last]]) / 7.0
    first = Mixture(*(part[last] for part in _parts(tracks.first)))
    gamma = found.gamma[last] + fit.drift_sd[group] ** 2 * weeks
    now = mixture.carried(first, found.alpha[last], found.beta[last], gamma)
    tail = (1 - settings.interval) / 2
    lead, line = tracks.lead[last], tracks.line[last]
    shared = found.beta[last][:, None] * first.variance
    test_count = np.bincount(plan.row).astype(np.int64)
    closing = mixture.chance_nearer(first, now, shared, lead)
    sorting = np.argsort(plan.order)
    found_today = {
        "series": plan.order,
        "test": plan.test[last],
        "test_count": test_count,
        "lead": lead,
        "line": line,
        "estimate": mixture.mean_of(now),
        "low": mixture.quantile(now, tail),
        "high": mixture.quantile(now, 1 - tail),
        "sd": mixture.sd_of(now),
        "chance_over": mixture.chance_over(now, lead, line),
        "chance_right": 1 - mixture.chance_below(now, np.zeros_like(lead)),
        "first": mixture.mean_of(first),
        "chance_closing": np.where(test_count > 1, closing, np.nan),
        "chance_closing_since_previous": np.where(
            test_count > 1, _since_previous(tracks, first, now, test_count), np.nan
        ),
    }
    return Today(**{name: values[sorting] for name, values in found_today.items()})


def _parts(belief: Mixture) -> tuple[Numbers, Numbers, Numbers]:
    return belief.weight, belief.mean, belief.variance


def _since_previous(tracks: Tracks, first: Mixture, now: Mixture, test_count: Indices) -> Numbers:
    """Chance that the level is nearer to the lead now than on the test day before the last."""
    plan, found = tracks.plan, tracks.found
    smooth = smoothed(plan, found)
    rows = np.arange(len(plan.last))
    previous = plan.offsets[np.maximum(test_count - 2, 0)] + rows
    then = mixture.carried(
        first, smooth.alpha[previous], smooth.beta[previous], smooth.gamma[previous]
    )
    shared = (smooth.link[previous] * found.gamma[plan.last])[:, None] + (
        smooth.beta[previous] * found.beta[plan.last]
    )[:, None] * first.variance
    return mixture.chance_nearer(then, now, shared, tracks.lead[plan.last])
