"""The estimate from end to end, arrays in and arrays out."""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.athletes import History, Today, follow
from pipeline.estimate.filter.pace import paced
from pipeline.estimate.filter.squad_evidence import DAY
from pipeline.estimate.filter.squad_prior import SquadFit, rough_fit, squad_fit
from pipeline.estimate.recent_days import disagreeing
from pipeline.estimate.reference_day import NEVER
from pipeline.estimate.sessions.differences import Differences, differences
from pipeline.estimate.sessions.panel import Indices, Panel, Truths
from pipeline.estimate.sessions.trial_error import TrialErrors, trial_errors
from pipeline.estimate.side_levels import SideTracks, side_tracks
from pipeline.settings import EstimateSettings


@dataclass(frozen=True)
class Work:
    """Everything found on the way, for the tables."""

    panel: Panel
    errors: TrialErrors
    tests: Differences
    fit: SquadFit
    then: History
    now: Today
    sides: SideTracks
    disagree: Truths  # whether the last tests miss the estimate, per row of `now`


def worked(
    panel: Panel,
    as_of_day: int,
    settings: EstimateSettings,
    begun: Indices | None = None,
    followed: Truths | None = None,
) -> Work:
    """Error, prior, filter and both sides' own tracks; days since 1970-01-01.

    `begun` [series]: the day a running block began, or `reference.NEVER`; without it none runs.
    `followed` [series]: whose differences are asked for; without it all are.
    """
    if begun is None:
        begun = np.full(panel.series_count, NEVER)
    errors = trial_errors(panel, settings)
    tests = differences(panel, errors)
    rough = rough_fit(panel, tests, errors.within_sd, settings)
    fit = squad_fit(panel, tests, errors.within_sd, rough, settings)
    fit = paced(panel, tests, fit, settings)
    if followed is not None:
        tests = tests.of(followed)
    then, now = follow(panel, tests, fit, as_of_day, begun, settings)
    day_variance = fit.sds[panel.series_group[tests.series], DAY] ** 2
    return Work(
        panel=panel,
        errors=errors,
        tests=tests,
        fit=fit,
        then=then,
        now=now,
        sides=side_tracks(panel, errors, settings),
        disagree=disagreeing(tests, day_variance, then, now, settings),
    )
