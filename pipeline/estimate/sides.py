"""Each side against itself: where it stands, where it stood in its own last weeks, what it lost.

A ratio cannot tell a side that fell from one that rose, nor see both fall together.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from pipeline.estimate.error import TrialErrors
from pipeline.estimate.panel import LEFT, RIGHT, Indices, Numbers, Panel, Truths, sums
from pipeline.settings import EstimateSettings


@dataclass(frozen=True)
class SideTracks:
    """One row per series and side with data, arrays [row], on the comparison scale."""

    series: Indices
    side: Indices
    level: Numbers  # latest session
    level_se: Numbers
    first_level: Numbers
    session_count: Indices
    recent_level: Numbers  # own last eight weeks before the latest session; nan without any
    change_recent: Numbers
    change_recent_se: Numbers
    lost_share: Numbers  # of the recent level, positive = lower now
    loss_chance: Numbers  # that the side is truly lower than in its last weeks
    is_lost: Truths  # beyond the detectable change and the share of the settings


def side_tracks(
    panel: Panel, errors: TrialErrors, is_log: Truths, settings: EstimateSettings
) -> SideTracks:
    """Latest session of each side against its own sessions of the weeks before."""
    series = panel.session_series[panel.cell_session]
    key = series * 2 + panel.cell_side
    order = np.argsort(key, kind="stable")
    key, series = key[order], series[order]
    day = panel.session_day[panel.cell_session][order]
    group = panel.series_group[series]
    day_variance = (settings.side_day_share * panel.standards.trial_error[group]) ** 2
    level, variance = errors.level[order], errors.variance[order] + day_variance
    starts = np.flatnonzero(np.diff(key, prepend=-1) != 0)
    ends = np.r_[starts[1:], len(key)] - 1
    row = np.cumsum(np.diff(key, prepend=-1) != 0) - 1
    earlier = (day < day[ends][row]) & (day >= day[ends][row] - settings.recent_days)
    weight = np.where(earlier, 1 / variance, 0.0)
    total = sums(weight, row, len(starts))
    recent = sums(weight * level, row, len(starts)) / np.where(total > 0, total, np.nan)
    change = level[ends] - recent
    se = np.sqrt(variance[ends] + 1 / np.where(total > 0, total, np.nan))
    log_row = is_log[group[ends]]
    lost = np.where(log_row, -np.expm1(change), -change / np.abs(recent))
    beyond = (change < -1.96 * se) & (lost > settings.loss_share)
    return SideTracks(
        series=series[ends],
        side=panel.cell_side[order][ends],
        level=level[ends],
        level_se=np.sqrt(variance[ends]),
        first_level=level[starts],
        session_count=(ends - starts + 1).astype(np.int64),
        recent_level=recent,
        change_recent=change,
        change_recent_se=se,
        lost_share=lost,
        loss_chance=ndtr(-change / se),
        is_lost=beyond,
    )


def one_sided_loss(tracks: SideTracks, series_count: int) -> Truths:
    """Series in which one side is lost while the other is steady. Shape [series]."""
    lost = np.zeros((2, series_count), dtype=np.bool_)
    steady = np.zeros((2, series_count), dtype=np.bool_)
    lost[tracks.side, tracks.series] = tracks.is_lost
    held = np.abs(tracks.change_recent) <= 1.96 * tracks.change_recent_se
    steady[tracks.side, tracks.series] = held | (tracks.change_recent > 0)
    return (lost[LEFT] & steady[RIGHT]) | (lost[RIGHT] & steady[LEFT])
