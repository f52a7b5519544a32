"""What a squad's tests say of its leads and SDs: the marginal likelihood over a grid of SDs."""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

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
CENTRE_ROUNDS = 4  # of the EM steps for the lead under the mixture prior


@dataclass(frozen=True)
class Shaping:
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


@dataclass(frozen=True)
class Scan:
    """Posterior of the log SDs over a grid, the leads at its mean, and each row's hold on them."""

    mean: Numbers  # [group, 3]
    cov: Numbers  # [group, 3, 3]
    leads: Numbers  # [group, 2]
    lead_cov: Numbers  # [group, 2, 2]
    precision: Numbers  # [row] of its centre
    score: Numbers  # [row]
    widths: Numbers  # [group, 3] SDs of the grid


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


def tail_logs(settings: EstimateSettings) -> Numbers:
    """Logs of the parts' weights, shape [part, 1]."""
    return np.log(np.array(settings.tail_weights)[:, None] / sum(settings.tail_weights))


def log_sds(settings: EstimateSettings) -> Numbers:
    return np.array([settings.spread_log_sd, settings.day_log_sd, settings.drift_log_sd])


def shaping_of(
    panel: Panel, tests: Differences, within_sd: Numbers, settings: EstimateSettings
) -> Shaping:
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
    return Shaping(
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


def scan(
    shaping: Shaping, middle: Numbers, widths: Numbers, grid: tuple[int, int, int], leads: Numbers
) -> Scan:
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
            off = (point - shaping.middle) / log_sds(shaping.settings)
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
    return Scan(mean, cov, leads, lead_cov, precision, score, widths)


def _start(shaping: Shaping, point: Numbers) -> StartEvidence:
    """What the tests say of each first level if these were the log SDs."""
    sds = np.exp(point)
    return start_evidence(
        shaping.plan,
        shaping.d,
        shaping.variance + sds[shaping.slot_group, DAY] ** 2,
        sds[shaping.slot_group, DRIFT] ** 2 * shaping.plan.weeks,
    )


def _centres(shaping: Shaping, leads: Numbers) -> Numbers:
    """The lead that each athlete is expected to have. Shape [row]."""
    return np.asarray((shaping.shares * leads[shaping.row_group]).sum(axis=1))


def _parts(
    shaping: Shaping, start: StartEvidence, spread: Numbers, mean: Numbers
) -> tuple[Numbers, Numbers, Numbers]:
    """Log likelihood of each row about its centre `mean`, the precision and score held for that."""
    variance = np.outer(shaping.settings.tail_scales, (spread**2)[shaping.row_group])
    info, score = start.info, start.score
    grown = 1 + info * variance
    fit = (info * mean**2 - 2 * score * mean - score**2 * variance) / grown
    logs = tail_logs(shaping.settings) - (np.log(grown) + fit) / 2
    top = logs.max(axis=0)
    parts = np.exp(logs - top)
    total = parts.sum(axis=0)
    held = (parts / grown).sum(axis=0) / total
    height = top + np.log(total) - (start.log_spread + start.square) / 2
    return height, info * held, score * held


def _lead_information(shaping: Shaping, precision: Numbers) -> Numbers:
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


def _evidence(shaping: Shaping, start: StartEvidence, spread: Numbers, leads: Numbers) -> Numbers:
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


def _by_lead(shaping: Shaping, values: Numbers) -> Numbers:
    """Values of the rows summed by what each is given of the two leads. Shape [group, 2]."""
    parts = [sums(values * share, shaping.row_group, shaping.groups) for share in shaping.shares.T]
    return np.stack(parts, axis=1)


def _leads(shaping: Shaping, precision: Numbers, score: Numbers) -> tuple[Numbers, Numbers]:
    """The leads that the rows' precisions and scores ask for (one EM step), with covariance."""
    prior = shaping.lead_precision[:, None] * shaping.leads
    cov: Numbers = np.linalg.inv(_lead_information(shaping, precision)).astype(np.float64)
    return np.einsum("gij,gj->gi", cov, _by_lead(shaping, score) + prior), cov
