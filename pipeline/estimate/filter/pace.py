"""How often a squad's people change, and what that leaves to the error from day to day.

The first fit of a squad has one drift for all (`estimate/filter/squad_prior.py`). Where some
change and most do not, that drift is none's and part of the change is taken for day-to-day error.
Here both are fitted again by the likelihood of the filter that follows change: a small grid over
the day-to-day error and the pace (how often anything starts or jumps, of what is usual), each node
weighed by how much better the readings foretell the squad's tests than the one drift does.
"""

from dataclasses import replace

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from pipeline.estimate.filter.course import Course, chunks, fit_of, point_of
from pipeline.estimate.filter.squad_evidence import DAY, DRIFT, SPREAD
from pipeline.estimate.filter.squad_prior import SquadFit
from pipeline.estimate.filter.tracker import layout, start_evidence
from pipeline.estimate.sessions.differences import Differences
from pipeline.estimate.sessions.panel import Numbers, Panel, sums
from pipeline.settings import EstimateSettings

DAY_NODES, PACE_NODES = 2, 3
# Four equally likely points with mean 0 and unit covariance: the corners of a tetrahedron.
CORNERS = np.array([[1.0, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])
MOST_SHARED = 0.9  # of a figure's variance, so that the covariance below stays a covariance
NOT_BETWEEN = 0.01  # log SD of either figure at least, as nothing is known between the nodes


def paced(panel: Panel, tests: Differences, fit: SquadFit, settings: EstimateSettings) -> SquadFit:
    """The fit with its day-to-day error and pace found by the likelihood of the whole filter."""
    course = _shaping(panel, tests, fit, settings)
    middle, width = np.log(fit.sds[:, DAY]), np.sqrt(fit.log_cov[:, DAY, DAY])
    where, height = [], []
    for day, day_weight in zip(*hermegauss(DAY_NODES), strict=True):
        sds = fit.sds.copy()
        sds[:, DAY] = np.exp(middle + width * day)
        plain = _one_drift(course, sds)
        for pace, pace_weight in zip(*hermegauss(PACE_NODES), strict=True):
            log_pace = np.log(settings.pace) + settings.pace_log_sd * pace
            own = np.full(panel.group_count, np.exp(log_pace))
            where.append(np.stack([np.log(sds[:, DAY]), np.log(own)], axis=1))
            height.append(np.log(day_weight * pace_weight) + _by_readings(course, sds, own) - plain)
    nodes, heights = np.array(where), np.array(height)
    weight = np.exp(heights - heights.max(axis=0, initial=-np.inf))
    weight /= weight.sum(axis=0)
    mean = np.einsum("ng,ngi->gi", weight, nodes)
    cov = np.einsum("ng,ngi,ngj->gij", weight, nodes - mean, nodes - mean)
    cov = cov + NOT_BETWEEN**2 * np.eye(2)  # all weight on one node does not mean it is certain
    return _refitted(fit, mean, cov)


def _shaping(panel: Panel, tests: Differences, fit: SquadFit, settings: EstimateSettings) -> Course:
    """The tests that shape the squads, and a prior of one part: a pace is no matter of tails."""
    used = tests.shapes
    plan = layout(tests.series[used], tests.day[used])
    rows = len(plan.order)
    share = float(np.average(settings.tail_scales, weights=settings.tail_weights))
    return Course(
        panel=panel,
        plan=plan,
        d=tests.d[used][plan.test],
        variance=tests.variance[used][plan.test],
        fit=fit,
        reference=plan.length - 1,
        since=np.zeros(rows),
        late=np.zeros(rows),
        settings=settings.model_copy(update={"tail_weights": (1.0,), "tail_scales": (share,)}),
    )


def _by_readings(course: Course, sds: Numbers, pace: Numbers) -> Numbers:
    """Log likelihood of each group's tests by the filter that follows change."""
    point = point_of(course, sds, pace)
    found = np.zeros(len(course.plan.order))
    for rows in chunks(course):
        found[rows] = fit_of(course, point, rows)
    return sums(found, course.group, course.panel.group_count)


def _one_drift(course: Course, sds: Numbers) -> Numbers:
    """The same with one drift for all, as the squad was fitted at first."""
    plan = course.plan
    slot_group = course.group[plan.row]
    start = start_evidence(
        plan,
        course.d,
        course.variance + sds[slot_group, DAY] ** 2,
        sds[slot_group, DRIFT] ** 2 * plan.weeks,
    )
    prior = course.prior(sds[:, SPREAD])
    mean, variance = prior.mean, prior.variance[0]
    grown = 1 + start.info * variance
    off = (start.info * mean**2 - 2 * start.score * mean - start.score**2 * variance) / grown
    found = -(np.log(grown) + off + start.log_spread + start.square) / 2
    return sums(found, course.group, course.panel.group_count)


def _refitted(fit: SquadFit, mean: Numbers, cov: Numbers) -> SquadFit:
    """The fit about a new day-to-day error, with the pace beside it."""
    log_cov = fit.log_cov.copy()
    before = log_cov[:, DAY, DAY]
    narrower = np.sqrt(cov[:, 0, 0] / before)
    log_cov[:, DAY, :] *= narrower[:, None]
    log_cov[:, :, DAY] *= narrower[:, None]
    sds = fit.sds.copy()
    sds[:, DAY] = np.exp(mean[:, 0])
    pace = np.exp(mean[:, 1])
    # Spread, day and pace: the spread is no better known than it was.
    with_spread = log_cov[:, SPREAD, DAY] ** 2 / (log_cov[:, SPREAD, SPREAD] * cov[:, 0, 0])
    with_pace = cov[:, 0, 1] ** 2 / (cov[:, 0, 0] * cov[:, 1, 1])
    held = np.sqrt(np.minimum(MOST_SHARED / np.maximum(with_spread + with_pace, 1e-12), 1.0))
    three = np.zeros((len(sds), 3, 3))
    three[:, 0, 0], three[:, 1, 1] = log_cov[:, SPREAD, SPREAD], cov[:, 0, 0]
    three[:, 2, 2] = cov[:, 1, 1]
    three[:, 0, 1] = three[:, 1, 0] = held * log_cov[:, SPREAD, DAY]
    three[:, 1, 2] = three[:, 2, 1] = held * cov[:, 0, 1]
    root = np.linalg.cholesky(three + 1e-8 * np.eye(3))
    logs = np.stack([np.log(sds[:, SPREAD]), mean[:, 0], mean[:, 1]], axis=1)
    corners = np.exp(logs + np.einsum("gij,pj->pgi", root, CORNERS))
    points = tuple(
        (np.stack([corner[:, 0], corner[:, 1], sds[:, DRIFT]], axis=1), corner[:, 2])
        for corner in corners
    )
    return replace(fit, sds=sds, log_cov=log_cov, pace=pace, points=points)
