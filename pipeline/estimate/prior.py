"""Who is usual in a squad: expected lead, spread, day-to-day error and drift of each group."""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.mixture import Prior
from pipeline.estimate.panel import (
    BOTH_SIDED,
    LEFT_DOMINANT,
    RIGHT_DOMINANT,
    UNKNOWN,
    Indices,
    Numbers,
    Panel,
)
from pipeline.settings import EstimateSettings


@dataclass(frozen=True)
class SquadFit:
    """What a squad's own data and the catalogue say together; arrays [group] in d units."""

    spread_sd: Numbers  # of true first levels about their expected lead
    day_sd: Numbers  # of d from day to day, beyond the trials' error
    drift_sd: Numbers  # of the level's change in a week
    centre: Numbers  # [group, dominance] prior mean
    centre_variance: Numbers  # [group, dominance] what is not known of it


def dominance_shares(panel: Panel) -> Numbers:
    """How much of the right- and the left-dominant lead each kind of athlete is given.

    Shape [group, dominance, 2]: both-sided athletes half of each, unknown ones by how common
    right-dominant people are.
    """
    shares = np.zeros((panel.group_count, 4, 2))
    shares[:, RIGHT_DOMINANT] = (1, 0)
    shares[:, LEFT_DOMINANT] = (0, 1)
    shares[:, BOTH_SIDED] = 0.5
    right = panel.standards.known_right
    shares[:, UNKNOWN] = np.stack([right, 1 - right], axis=1)
    return shares


def athlete_prior(
    fit: SquadFit, group: Indices, dominance: Indices, settings: EstimateSettings
) -> Prior:
    """Prior of the first level of each given series: a scale mixture of normals."""
    scales = np.array(settings.tail_scales)
    spread = fit.spread_sd[group][:, None] ** 2 * scales
    weights = np.log(np.array(settings.tail_weights) / sum(settings.tail_weights))
    return Prior(
        mean=fit.centre[group, dominance],
        variance=spread + fit.centre_variance[group, dominance][:, None],
        log_weight=np.broadcast_to(weights, spread.shape),
    )


def squad_fit(panel: Panel, settings: EstimateSettings) -> SquadFit:
    """The catalogue's figures alone."""
    standards = panel.standards
    leads = np.stack([standards.lead_right, standards.lead_left], axis=1)
    centre = np.einsum("gdk,gk->gd", dominance_shares(panel), leads)
    return SquadFit(
        spread_sd=standards.side_sd,
        day_sd=settings.day_share * standards.trial_error,
        drift_sd=settings.drift_share * standards.side_sd,
        centre=centre,
        centre_variance=np.zeros_like(centre),
    )
