"""How large each side difference is, how sure that is, and what changed.

`estimate` is the whole of it: trials in, frames out, all differences as d (see `scales`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate import frames
from pipeline.estimate.error import trial_errors
from pipeline.estimate.levels import differences, follow, history, today
from pipeline.estimate.prior import squad_fit
from pipeline.estimate.reliability import agreement_of_tests, reliability_frame
from pipeline.estimate.sides import side_tracks
from pipeline.settings import Settings


@dataclass(frozen=True)
class Estimates:
    """All results as frames, one row per key, sorted by it; d units throughout, never percent.

    errors (squad, measure), days (athlete_id, measure, tested_on), today (athlete_id, measure),
    sides (athlete_id, measure, side), reliability (squad, measure), agreement (squad, measure,
    other_measure).
    """

    errors: pl.DataFrame
    days: pl.DataFrame
    today: pl.DataFrame
    sides: pl.DataFrame
    reliability: pl.DataFrame
    agreement: pl.DataFrame


def estimate(
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
    settings: Settings,
) -> Estimates:
    """Every athlete's side differences at the as-of date and on each test day before it.

    `trials`: squad, athlete_id, measure, tested_on, side (left or right), trial, score (higher is
    better), shapes. `athletes`: athlete_id, squad, dominant_hand, dominant_foot, shapes. Rows may
    come in any order.
    """
    panel, keys = frames.read_panel(trials, athletes, measures, as_of, settings)
    errors = trial_errors(panel, settings.estimate)
    tests = differences(panel, errors)
    fit = squad_fit(panel, settings.estimate)
    tracks = follow(panel, tests, fit, settings.estimate)
    as_of_day = (as_of - date(1970, 1, 1)).days
    now = today(panel, fit, tracks, tests, as_of_day, settings.estimate)
    is_log = frames.log_groups(keys, measures)
    sided = side_tracks(panel, errors, is_log, settings.estimate)
    error_frame = frames.error_frame(panel, keys, errors, fit, tests)
    today_rows = frames.today_frame(panel, keys, errors, tests, fit, now, sided, error_frame)
    return Estimates(
        errors=error_frame,
        days=frames.days_frame(
            panel,
            keys,
            errors,
            tests,
            history(panel, tests, fit, tracks, settings.estimate),
            settings.estimate,
        ),
        today=today_rows,
        sides=frames.sides_frame(keys, sided),
        reliability=reliability_frame(panel, errors, tests, error_frame, is_log),
        agreement=agreement_of_tests(today_rows),
    )
