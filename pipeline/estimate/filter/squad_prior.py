"""Who is usual in a squad: expected lead, spread, day-to-day error and drift of each group.

Three SDs a group (spread of true differences, day-to-day error, drift in a week) have log-normal
priors about the catalogue's figures and are found by integrating the marginal likelihood of the
squad's tests over a grid, the lead being integrated out; that is restricted maximum likelihood
with a prior. This first fit gives everybody one drift; `estimate/filter/pace.py` then finds how
often people change. What stays unknown of the figures is carried on as four equally likely points,
so a small squad gets honestly wide intervals and the spread can never collapse to zero.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from pipeline.estimate.filter.mixture import Prior
from pipeline.estimate.filter.tracker import Layout, StartEvidence, layout, start_evidence
from pipeline.estimate.sessions.differences import Differences
from pipeline.estimate.sessions.panel import (
    BOTH_SIDED,
    LEFT_DOMINANT,
    RIGHT_DOMINANT,
    UNKNOWN,
    Indices,
    Numbers,
    Panel,
    sums,
)
from pipeline.settings import EstimateSettings

SPREAD, DAY, DRIFT = 0, 1, 2
FIRST_GRID, FINER_GRID = (5, 4, 4), (5, 3, 3)  # nodes for spread, day-to-day error, drift
FINER_ROUNDS = 2
# A finer grid keeps this share of the coarser one's width, so that its nodes reach half-way from
# the best node to its neighbours, wherever between them the peak may be.
LEAST_SHRINK = np.array([0.25, 0.5, 0.5])
CENTRE_ROUNDS = 4  # of the EM steps for the lead under the mixture prior


@dataclass(frozen=True)
class SquadFit:
    """What a squad's own tests and the catalogue say together; d units, arrays [group, ...].

    An athlete's own tests shape the squad's lead but not his own prior: `centre` and
    `centre_variance` leave them out, so that nothing is counted twice.
    """

    sds: Numbers  # [group, 3] SPREAD, DAY, DRIFT at their middle (log scale)
    log_cov: Numbers  # [group, 3, 3] of their logs
    grid_widths: Numbers  # [group, 3] SDs of the grid they were found on
    leads: Numbers  # [group, 2] prior means of right- and left-dominant athletes
    class_centre: Numbers  # [group, dominance] prior mean
    centre: Numbers  # [series] prior mean from everybody else
    centre_variance: Numbers  # [series] what is not known of it
    pace: Numbers  # [group] how often people start to move or jump, of the usual
    points: tuple[tuple[Numbers, Numbers], ...]  # equally likely SDs [group, 3] and paces [group]

    @property
    def log_widths(self) -> Numbers:
        """SDs of the SDs' logs, shape [group, 3]."""
        return np.sqrt(np.diagonal(self.log_cov, axis1=1, axis2=2))


@dataclass(frozen=True)
class _Shaping:
    """The tests that shape the priors, laid out for the filter, and what is assumed of them."""

    plan: Layout
    d: Numbers  # [slot]
    variance: Numbers  # [slot] from the trials' error
    slot_group: Indices
    row_group: Indices
    shares: Numbers  # [row, 2] of the right- and the left-dominant lead
    leads: Numbers  # [group, 2] the catalogue's
    lead_precision: Numbers  # [group]
    middle: Numbers  # [group, 3] logs of the usual SDs
    groups: int
    settings: EstimateSettings


def rough_fit(
    panel: Panel, tests: Differences, within_sd: Numbers, settings: EstimateSettings
) -> SquadFit:
    """Leads and SDs of every group from a first, coarse grid over all that is usual."""
    shaping = _shaping(panel, tests, within_sd, settings)
    widths = np.broadcast_to(_log_sds(settings), shaping.middle.shape)
    scan = _scan(shaping, shaping.middle, widths, FIRST_GRID, shaping.leads)
    return _squad_fit(panel, shaping, scan)


@dataclass(frozen=True)
class _Scan:
    """Posterior of the log SDs over a grid, the leads at its mean, and each row's hold on them."""

    mean: Numbers  # [group, 3]
    cov: Numbers  # [group, 3, 3]
    leads: Numbers  # [group, 2]
    lead_cov: Numbers  # [group, 2, 2]
    precision: Numbers  # [row] of its centre
    score: Numbers  # [row]
    widths: Numbers  # [group, 3] SDs of the grid


def squad_fit(
    panel: Panel,
    tests: Differences,
    within_sd: Numbers,
    rough: SquadFit,
    settings: EstimateSettings,
) -> SquadFit:
    """Leads and SDs of every group from ever finer grids about a rough fit."""
    shaping = _shaping(panel, tests, within_sd, settings)
    fit = rough
    for _ in range(FINER_ROUNDS):
        widths = np.maximum(fit.log_widths, LEAST_SHRINK * fit.grid_widths)
        scan = _scan(shaping, np.log(fit.sds), widths, FINER_GRID, fit.leads)
        fit = _squad_fit(panel, shaping, scan)
    return fit


def _squad_fit(panel: Panel, shaping: _Shaping, scan: _Scan) -> SquadFit:
    shares = lead_shares(panel)
    group, dominance = panel.series_group, panel.series_dominance
    own = shares[group, dominance]
    centre = (own * scan.leads[group]).sum(axis=1)
    variance = np.einsum("sk,skl,sl->s", own, scan.lead_cov[group], own)
    held, pull = np.zeros(panel.series_count), np.zeros(panel.series_count)
    held[shaping.plan.order], pull[shaping.plan.order] = scan.precision, scan.score
    left = 1 - held * variance  # the athlete's own tests taken out again
    right = panel.standards.known_right
    apart = scan.leads[:, 0] - scan.leads[:, 1]
    either = np.where(panel.standards.has_lead, right * (1 - right) * apart**2, 0.0)
    return SquadFit(
        sds=np.exp(scan.mean),
        log_cov=scan.cov,
        grid_widths=scan.widths,
        leads=scan.leads,
        class_centre=np.einsum("gdk,gk->gd", shares, scan.leads),
        centre=(centre - variance * pull) / left,
        centre_variance=variance / left + np.where(dominance == UNKNOWN, either[group], 0.0),
        pace=np.ones(panel.group_count),
        points=(),
    )


def lead_shares(panel: Panel) -> Numbers:
    """How much of the right- and the left-dominant lead each kind of athlete is given.

    Shape [group, dominance, 2]: both-sided athletes half of each, unknown ones by how common
    right-dominant people are. Measures without a lead have one common centre, held first.
    """
    right = np.where(panel.standards.has_lead, panel.standards.known_right, 1.0)
    shares = np.zeros((panel.group_count, 4, 2))
    shares[:, RIGHT_DOMINANT] = (1, 0)
    shares[:, LEFT_DOMINANT] = (0, 1)
    shares[:, BOTH_SIDED] = 0.5
    shares[:, UNKNOWN] = np.stack([right, 1 - right], axis=1)
    shares[~panel.standards.has_lead] = (1, 0)
    return shares


def athlete_prior(
    panel: Panel, fit: SquadFit, spread: Numbers, series: Indices, settings: EstimateSettings
) -> Prior:
    """Prior of the first level of each given series: a scale mixture of normals.

    `spread` [group] is one of the fit's points.
    """
    square = spread[panel.series_group[series]] ** 2
    return Prior(
        mean=fit.centre[series],
        variance=np.outer(settings.tail_scales, square) + fit.centre_variance[series],
        log_weight=_tail_logs(settings),
    )


def _tail_logs(settings: EstimateSettings) -> Numbers:
    """Logs of the parts' weights, shape [part, 1]."""
    return np.log(np.array(settings.tail_weights)[:, None] / sum(settings.tail_weights))


def _log_sds(settings: EstimateSettings) -> Numbers:
    return np.array([settings.spread_log_sd, settings.day_log_sd, settings.drift_log_sd])


def _shaping(
    panel: Panel, tests: Differences, within_sd: Numbers, settings: EstimateSettings
) -> _Shaping:
    used = tests.shapes
    plan = layout(tests.series[used], tests.day[used])
    standards = panel.standards
    leads = np.stack([standards.lead_right, standards.lead_left], axis=1)
    row_group = panel.series_group[plan.order]
    usual = [
        standards.side_sd,
        settings.day_share * within_sd,
        settings.drift_share * standards.side_sd,
    ]
    return _Shaping(
        plan=plan,
        d=tests.d[used][plan.test],
        variance=tests.variance[used][plan.test],
        slot_group=panel.series_group[plan.track],
        row_group=row_group,
        shares=lead_shares(panel)[row_group, panel.series_dominance[plan.order]],
        leads=np.where(standards.has_lead[:, None], leads, 0.0),
        lead_precision=1
        / (
            (settings.lead_share * standards.side_sd) ** 2
            + np.where(
                standards.has_lead, (settings.lead_doubt * np.abs(leads).max(axis=1)) ** 2, 0.0
            )
        ),
        middle=np.log(np.stack(usual, axis=1)),
        groups=panel.group_count,
        settings=settings,
    )


def _scan(
    shaping: _Shaping, middle: Numbers, widths: Numbers, grid: tuple[int, int, int], leads: Numbers
) -> _Scan:
    """Posterior of the log SDs by Gauss-Hermite quadrature about N(middle, widths^2).

    Repeated about its own result it adapts to the posterior (Naylor & Smith 1982, Appl Stat
    31:214-225): nodes where the posterior is, each weighed by posterior over normal density.
    """
    lines = [list(zip(*hermegauss(size), strict=True)) for size in grid]
    points, heights = [], []
    for (day, day_weight), (drift, drift_weight) in product(lines[DAY], lines[DRIFT]):
        start = _start(shaping, middle + widths * np.array([0.0, day, drift]))
        for spread, spread_weight in lines[SPREAD]:
            node = np.array([spread, day, drift])
            point = middle + widths * node
            points.append(point)
            off = (point - shaping.middle) / _log_sds(shaping.settings)
            evidence = _evidence(shaping, start, np.exp(point[:, SPREAD]), leads)
            share = np.log(spread_weight * day_weight * drift_weight) + (node**2).sum() / 2
            heights.append(evidence - (off**2).sum(axis=1) / 2 + share)
    where, height = np.array(points), np.array(heights)
    weight = np.exp(height - height.max(axis=0))
    weight /= weight.sum(axis=0)
    mean = np.einsum("ng,ngi->gi", weight, where)
    cov = np.einsum("ng,ngi,ngj->gij", weight, where - mean, where - mean)
    start = _start(shaping, mean)
    spread = np.exp(mean[:, SPREAD])
    for _ in range(CENTRE_ROUNDS):
        _, precision, score = _parts(shaping, start, spread, _centres(shaping, leads))
        leads, lead_cov = _leads(shaping, precision, score)
    return _Scan(mean, cov, leads, lead_cov, precision, score, widths)


def _start(shaping: _Shaping, point: Numbers) -> StartEvidence:
    """What the tests say of each first level if these were the log SDs."""
    sds = np.exp(point)
    return start_evidence(
        shaping.plan,
        shaping.d,
        shaping.variance + sds[shaping.slot_group, DAY] ** 2,
        sds[shaping.slot_group, DRIFT] ** 2 * shaping.plan.weeks,
    )


def _centres(shaping: _Shaping, leads: Numbers) -> Numbers:
    """The lead that each athlete is expected to have. Shape [row]."""
    return np.asarray((shaping.shares * leads[shaping.row_group]).sum(axis=1))


def _parts(
    shaping: _Shaping, start: StartEvidence, spread: Numbers, mean: Numbers
) -> tuple[Numbers, Numbers, Numbers]:
    """Log likelihood of each row about its centre `mean`, the precision and score held for that."""
    variance = np.outer(shaping.settings.tail_scales, (spread**2)[shaping.row_group])
    info, score = start.info, start.score
    grown = 1 + info * variance
    fit = (info * mean**2 - 2 * score * mean - score**2 * variance) / grown
    logs = _tail_logs(shaping.settings) - (np.log(grown) + fit) / 2
    top = logs.max(axis=0)
    parts = np.exp(logs - top)
    total = parts.sum(axis=0)
    held = (parts / grown).sum(axis=0) / total
    height = top + np.log(total) - (start.log_spread + start.square) / 2
    return height, info * held, score * held


def _lead_information(shaping: _Shaping, precision: Numbers) -> Numbers:
    """Precision of the two leads, shape [group, 2, 2], prior included."""
    first, second = shaping.shares.T
    found = np.zeros((shaping.groups, 2, 2))
    for (row, column), share in {
        (0, 0): first * first,
        (0, 1): first * second,
        (1, 1): second * second,
    }.items():
        found[:, row, column] = sums(precision * share, shaping.row_group, shaping.groups)
    found[:, 1, 0] = found[:, 0, 1]
    return found + shaping.lead_precision[:, None, None] * np.eye(2)


def _evidence(shaping: _Shaping, start: StartEvidence, spread: Numbers, leads: Numbers) -> Numbers:
    """Log marginal likelihood of each group, the leads integrated out; constants left out.

    Laplace from `leads`, which need not be the best ones at these SDs: the step to those counts,
    and with ordinary tails the result is exact.
    """
    mean = _centres(shaping, leads)
    height, precision, score = _parts(shaping, start, spread, mean)
    found = _lead_information(shaping, precision)
    pull = _by_lead(shaping, score - precision * mean)
    pull += shaping.lead_precision[:, None] * (shaping.leads - leads)
    first, second = pull.T
    own, shared, other = found[:, 0, 0], found[:, 0, 1], found[:, 1, 1]
    det = own * other - shared**2
    step = (other * first**2 - 2 * shared * first * second + own * second**2) / det
    return sums(height, shaping.row_group, shaping.groups) + (step - np.log(det)) / 2


def _by_lead(shaping: _Shaping, values: Numbers) -> Numbers:
    """Values of the rows summed by what each is given of the two leads. Shape [group, 2]."""
    parts = [sums(values * share, shaping.row_group, shaping.groups) for share in shaping.shares.T]
    return np.stack(parts, axis=1)


def _leads(shaping: _Shaping, precision: Numbers, score: Numbers) -> tuple[Numbers, Numbers]:
    """The leads that the rows' precisions and scores ask for (one EM step), with covariance."""
    prior = shaping.lead_precision[:, None] * shaping.leads
    cov: Numbers = np.linalg.inv(_lead_information(shaping, precision)).astype(np.float64)
    return np.einsum("gij,gj->gi", cov, _by_lead(shaping, score) + prior), cov
