"""The estimate from end to end, arrays in and arrays out."""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.differences import Differences, differences
from pipeline.estimate.error import TrialErrors, trial_errors
from pipeline.estimate.levels import History, Today, follow
from pipeline.estimate.pace import paced
from pipeline.estimate.panel import Indices, Panel, Truths
from pipeline.estimate.prior import DAY, SquadFit, rough_fit, squad_fit
from pipeline.estimate.recent import disagreeing
from pipeline.estimate.reference import NEVER
from pipeline.estimate.sides import SideTracks, side_tracks
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
    panel: Panel, as_of_day: int, settings: EstimateSettings, begun: Indices | None = None
) -> Work:
    """Error, prior, filter and both sides' own tracks; days since 1970-01-01.

    `begun` [series]: the day a running block began, or `reference.NEVER`; without it none runs.
    """
    if begun is None:
        begun = np.full(panel.series_count, NEVER)
    errors = trial_errors(panel, settings)
    tests = differences(panel, errors)
    rough = rough_fit(panel, tests, errors.within_sd, settings)
    fit = squad_fit(panel, tests, errors.within_sd, rough, settings)
    fit = paced(panel, tests, fit, settings)
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
