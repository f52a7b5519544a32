"""Who is usual in a squad: expected lead, spread, day-to-day error and drift of each group.

Three SDs a group (spread of true differences, day-to-day error, drift in a week) have log-normal
priors about the catalogue's figures and are found by integrating the marginal likelihood of the
squad's tests over a grid, the lead being integrated out; that is restricted maximum likelihood
with a prior. This first fit gives everybody one drift; `estimate/filter/pace.py` then finds how
often people change. What stays unknown of the figures is carried on as four equally likely points,
so a small squad gets honestly wide intervals and the spread can never collapse to zero.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.filter.mixture import Prior
from pipeline.estimate.filter.squad_evidence import (
    Scan,
    Shaping,
    lead_shares,
    log_sds,
    scan,
    shaping_of,
    tail_logs,
)
from pipeline.estimate.sessions.differences import Differences
from pipeline.estimate.sessions.panel import UNKNOWN, Indices, Numbers, Panel
from pipeline.settings import EstimateSettings

FIRST_GRID, FINER_GRID = (5, 4, 4), (5, 3, 3)  # nodes for spread, day-to-day error, drift
FINER_ROUNDS = 2
# A finer grid keeps this share of the coarser one's width, so that its nodes reach half-way from
# the best node to its neighbours, wherever between them the peak may be.
LEAST_SHRINK = np.array([0.25, 0.5, 0.5])


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


def rough_fit(
    panel: Panel, tests: Differences, within_sd: Numbers, settings: EstimateSettings
) -> SquadFit:
    """Leads and SDs of every group from a first, coarse grid over all that is usual."""
    shaping = shaping_of(panel, tests, within_sd, settings)
    widths = np.broadcast_to(log_sds(settings), shaping.middle.shape)
    found = scan(shaping, shaping.middle, widths, FIRST_GRID, shaping.leads)
    return _squad_fit(panel, shaping, found)


def squad_fit(
    panel: Panel,
    tests: Differences,
    within_sd: Numbers,
    rough: SquadFit,
    settings: EstimateSettings,
) -> SquadFit:
    """Leads and SDs of every group from ever finer grids about a rough fit."""
    shaping = shaping_of(panel, tests, within_sd, settings)
    fit = rough
    for _ in range(FINER_ROUNDS):
        widths = np.maximum(fit.log_widths, LEAST_SHRINK * fit.grid_widths)
        found = scan(shaping, np.log(fit.sds), widths, FINER_GRID, fit.leads)
        fit = _squad_fit(panel, shaping, found)
    return fit


def _squad_fit(panel: Panel, shaping: Shaping, scan: Scan) -> SquadFit:
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
        log_weight=tail_logs(settings),
    )
