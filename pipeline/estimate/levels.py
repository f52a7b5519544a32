"""The difference of every athlete: on each test day, now, and whether it closed."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pipeline.estimate import mixture
from pipeline.estimate.differences import Differences
from pipeline.estimate.mixture import Mixture, Prior
from pipeline.estimate.panel import Indices, Numbers, Panel
from pipeline.estimate.prior import DAY, DRIFT, SPREAD, SquadFit, athlete_prior
from pipeline.estimate.reference import Reference, level_then, references
from pipeline.estimate.tracker import (
    Filtered,
    Layout,
    Smoothed,
    filtered,
    layout,
    smoothed,
)
from pipeline.settings import EstimateSettings

CHUNK = 4096  # rows taken at once, so that the parts of the mixtures stay in the processor's cache


@dataclass(frozen=True)
class Tracks:
    """The filter's result at each point of the squad's fit, with what the athletes' priors need."""

    plan: Layout
    points: tuple[Filtered, ...]
    middle: Filtered  # at the middle of the fit, for the smoothed line
    panel: Panel
    move: Numbers  # [slot] variance of the level's change beyond the drift
    fit: SquadFit
    group: Indices  # [slot]
    lead: Numbers  # [slot] expected d of the athlete
    lead_variance: Numbers  # [slot] what is not known of it
    line: Numbers  # [slot]
    settings: EstimateSettings


@dataclass(frozen=True)
class History:
    """What was known on each test day, arrays [test]."""

    estimate: Numbers
    low: Numbers
    high: Numbers
    chance_over: Numbers
    smooth: Numbers  # in the light of all tests
    smooth_low: Numbers
    smooth_high: Numbers


@dataclass(frozen=True)
class Today:
    """What is known at the as-of date, arrays [row], ordered by series."""

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
    reference_day: Indices  # since 1970-01-01
    reference: Numbers  # the estimate of that day in the light of all tests
    chance_closing: Numbers  # since that day; nan with one test


def follow(panel: Panel, tests: Differences, fit: SquadFit, settings: EstimateSettings) -> Tracks:
    """Filter every athlete's differences at each point of the squad's fit."""
    plan = layout(tests.series, tests.day)
    group = panel.series_group[plan.track]
    move = tests.move[plan.test]
    has_lead = panel.standards.has_lead[group]
    dominance = panel.series_dominance[plan.track]

    def at(sds: Numbers) -> Filtered:
        variance = tests.variance[plan.test] + sds[group, DAY] ** 2
        step = sds[group, DRIFT] ** 2 * plan.weeks + move
        return filtered(plan, tests.d[plan.test], variance, step)

    return Tracks(
        plan=plan,
        points=tuple(at(sds) for sds in fit.points),
        middle=at(fit.sds),
        panel=panel,
        move=move,
        fit=fit,
        group=group,
        # Without dominance there is no expected lead: a squad's own shift shapes the prior only.
        lead=np.where(has_lead, fit.class_centre[group, dominance], 0.0),
        lead_variance=np.where(has_lead, fit.centre_variance[plan.track], 0.0),
        line=panel.standards.line[group],
        settings=settings,
    )


def history(tracks: Tracks) -> History:
    """The estimate as it stood on every test day, and smoothed in the light of all of them."""
    plan = tracks.plan
    found = _chunked(len(plan.test), lambda slots: _then(tracks, slots))
    step = tracks.fit.sds[tracks.group, DRIFT] ** 2 * plan.weeks + tracks.move
    smooth = smoothed(plan, tracks.middle, step)
    found |= _chunked(len(plan.test), lambda slots: _in_the_end(tracks, smooth, slots))
    place = np.empty_like(plan.test)
    place[plan.test] = np.arange(len(place))
    return History(**{name: values[place] for name, values in found.items()})


def today(tracks: Tracks, tests: Differences, as_of_day: int, begun: Indices) -> Today:
    """The estimate at the as-of date, carried on from the last test by the drift.

    `begun` [series]: the day a running block began, or `reference.NEVER`.
    """
    plan = tracks.plan
    weeks = (as_of_day - tests.day[plan.test[plan.last]]) / 7.0
    reference = references(plan, tests.series, tests.day, begun)
    found = _chunked(
        len(plan.order), lambda rows: _now(tracks, rows, weeks[rows], reference.at(rows))
    )
    found["chance_closing"] = np.where(plan.length > 1, found["chance_closing"], np.nan)
    sorting = np.argsort(plan.order)
    return Today(
        series=plan.order[sorting],
        test=plan.test[plan.last][sorting],
        test_count=plan.length[sorting],
        lead=tracks.lead[plan.last][sorting],
        line=tracks.line[plan.last][sorting],
        reference_day=reference.day[sorting],
        **{name: values[sorting] for name, values in found.items()},
    )


def _chunked(count: int, work: Callable[[Indices], dict[str, Numbers]]) -> dict[str, Numbers]:
    """The columns of `work` for rows 0 to count, a chunk at a time."""
    starts = range(0, max(count, 1), CHUNK)
    parts = [work(np.arange(start, min(start + CHUNK, count))) for start in starts]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _prior(tracks: Tracks, spread: Numbers, slots: Indices) -> Prior:
    track = tracks.plan.track[slots]
    return athlete_prior(tracks.panel, tracks.fit, spread, track, tracks.settings)


def _starts(tracks: Tracks, slots: Indices) -> list[tuple[Prior, Mixture]]:
    """Prior and belief of the first level after these slots' tests, at each point of the fit."""
    found = []
    for sds, point in zip(tracks.fit.points, tracks.points, strict=True):
        prior = _prior(tracks, sds[:, SPREAD], slots)
        found.append((prior, mixture.first_level(prior, point.info[slots], point.score[slots])))
    return found


def _summary(tracks: Tracks, belief: Mixture) -> dict[str, Numbers]:
    tail = (1 - tracks.settings.interval) / 2
    return {
        "estimate": mixture.mean_of(belief),
        "low": mixture.quantile(belief, tail),
        "high": mixture.quantile(belief, 1 - tail),
    }


def _beyond(
    tracks: Tracks, start: tuple[Prior, Mixture], state: Filtered, slots: Indices
) -> Mixture:
    """Belief about the level less the expected lead; a lead of zero by definition is known."""
    prior, first = start
    known = tracks.lead_variance[slots] == 0
    centred = replace(prior, mean=np.where(known, 0.0, prior.mean))
    unknown = tracks.lead_variance[slots]
    return mixture.beyond_lead(centred, unknown, first, state.alpha, state.beta, state.gamma)


def _then(tracks: Tracks, slots: Indices) -> dict[str, Numbers]:
    """The estimate of each slot from the tests up to it."""
    levels, beyond = [], []
    for start, point in zip(_starts(tracks, slots), tracks.points, strict=True):
        state = point.at(slots)
        levels.append(mixture.carried(start[1], state.alpha, state.beta, state.gamma))
        beyond.append(_beyond(tracks, start, state, slots))
    chance = mixture.chance_beyond(mixture.joined(beyond), tracks.line[slots])
    return {**_summary(tracks, mixture.joined(levels)), "chance_over": chance}


def _in_the_end(tracks: Tracks, smooth: Smoothed, slots: Indices) -> dict[str, Numbers]:
    """The smoothed level of each slot, at the middle of the fit."""
    last = tracks.plan.last[tracks.plan.row[slots]]
    prior = _prior(tracks, tracks.fit.sds[:, SPREAD], last)
    first = mixture.first_level(prior, tracks.middle.info[last], tracks.middle.score[last])
    late = mixture.carried(first, smooth.alpha[slots], smooth.beta[slots], smooth.gamma[slots])
    found = _summary(tracks, late)
    return {
        "smooth": found["estimate"],
        "smooth_low": found["low"],
        "smooth_high": found["high"],
    }


def _now(tracks: Tracks, rows: Indices, weeks: Numbers, reference: Reference) -> dict[str, Numbers]:
    """The state at the as-of date of these rows, and how it compares with their reference day."""
    plan = tracks.plan
    slots = plan.last[rows]
    starts = _starts(tracks, slots)
    now, then, beyond, shared = [], [], [], []
    for start, point, sds in zip(starts, tracks.points, tracks.fit.points, strict=True):
        first = start[1]
        last = point.at(slots)
        drift = sds[tracks.group[slots], DRIFT] ** 2
        step = sds[tracks.group, DRIFT] ** 2 * plan.weeks + tracks.move
        back = level_then(point, plan, step, slots, reference, drift)
        then.append(mixture.carried(first, back.alpha, back.beta, back.gamma))
        shared.append(back.shared + back.beta * last.beta * first.variance)
        state = replace(last, gamma=last.gamma + drift * weeks)
        now.append(mixture.carried(first, state.alpha, state.beta, state.gamma))
        beyond.append(_beyond(tracks, start, state, slots))
    belief, before = mixture.joined(now), mixture.joined(then)
    lead = tracks.lead[slots]
    return {
        **_summary(tracks, belief),
        "sd": mixture.sd_of(belief),
        "chance_over": mixture.chance_beyond(mixture.joined(beyond), tracks.line[slots]),
        "chance_right": 1 - mixture.chance_below(belief, np.zeros(len(slots))),
        "reference": mixture.mean_of(before),
        "chance_closing": mixture.chance_nearer(before, belief, np.concatenate(shared), lead),
    }
