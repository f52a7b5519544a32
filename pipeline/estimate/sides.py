"""Each side against itself: where it stands, where it stood in its own last weeks, what it lost.

A ratio cannot tell a side that fell from one that rose, nor see both fall together. These are the
sessions' own levels, not smoothed: a sudden loss must not be averaged away.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from pipeline.estimate.error import TrialErrors
from pipeline.estimate.panel import LEFT, RIGHT, Indices, Numbers, Panel, Truths, sums
from pipeline.settings import EstimateSettings

ROUNDS = 3  # of winsorising the day-to-day changes
WIDEST = 2.5  # SDs at which a change is cut while the usual change is estimated


@dataclass(frozen=True)
class SideTracks:
    """One row per series and side with data, arrays [row], on the comparison scale."""

    series: Indices
    side: Indices
    session_count: Indices
    last_session: Indices  # place in the panel
    level: Numbers  # latest session
    level_se: Numbers
    first_level: Numbers
    change_first: Numbers  # latest minus first session; nan with one session
    change_first_se: Numbers
    fall_chance: Numbers  # that the side is truly lower than at its first session
    recent_level: Numbers  # own last weeks before the latest session; nan without any
    change_recent: Numbers
    change_recent_se: Numbers
    loss_chance: Numbers  # that the side is truly lower than in its last weeks
    lost_share: Numbers  # of the recent level, positive = lower now
    is_lost: Truths  # beyond the detectable change and the share of the settings


@dataclass(frozen=True)
class _Levels:
    """Cells ordered by series, side and day; arrays [cell]."""

    row: Indices  # which series and side
    starts: Indices  # [row]
    ends: Indices  # [row] last cell
    series: Indices
    side: Indices
    group: Indices
    session: Indices  # place in the panel
    day: Indices
    level: Numbers
    variance: Numbers  # of the level, from the trials' error
    shapes: Truths


def side_tracks(panel: Panel, errors: TrialErrors, settings: EstimateSettings) -> SideTracks:
    """Latest session of each side against its first one and those of the weeks before it."""
    levels = _levels(panel, errors)
    day_sd = _day_sd(panel, levels, settings)
    variance = levels.variance + day_sd[levels.group] ** 2
    ends, starts, row = levels.ends, levels.starts, levels.row
    last_day = levels.day[ends][row]
    earlier = (levels.day < last_day) & (levels.day >= last_day - settings.recent_days)
    weight = np.where(earlier, 1 / variance, 0.0)
    total = sums(weight, row, len(starts))
    total = np.where(total > 0, total, np.nan)
    recent = sums(weight * levels.level, row, len(starts)) / total
    change = levels.level[ends] - recent
    se = np.sqrt(variance[ends] + 1 / total)
    again = np.where(ends > starts, 1.0, np.nan)
    since_first = (levels.level[ends] - levels.level[starts]) * again
    first_se = np.sqrt(variance[ends] + variance[starts]) * again
    is_log = panel.standards.is_log[levels.group[ends]]
    # A share of a level of zero (a joint that lacks nothing) does not exist.
    size = np.where(recent == 0, np.nan, np.abs(recent))
    lost = np.where(is_log, -np.expm1(np.where(is_log, change, 0.0)), -change / size)
    return SideTracks(
        series=levels.series[ends],
        side=levels.side[ends],
        session_count=ends - starts + 1,
        last_session=levels.session[ends],
        level=levels.level[ends],
        level_se=np.sqrt(variance[ends]),
        first_level=levels.level[starts],
        change_first=since_first,
        change_first_se=first_se,
        fall_chance=ndtr(-since_first / first_se),
        recent_level=recent,
        change_recent=change,
        change_recent_se=se,
        loss_chance=ndtr(-change / se),
        lost_share=lost,
        is_lost=(change < -1.96 * se) & (lost > settings.loss_share),
    )


def one_sided_loss(tracks: SideTracks, series_count: int) -> Truths:
    """Series in which one side is lost while the other has not fallen. Shape [series]."""
    lost = np.zeros((2, series_count), dtype=np.bool_)
    steady = np.zeros((2, series_count), dtype=np.bool_)
    lost[tracks.side, tracks.series] = tracks.is_lost
    steady[tracks.side, tracks.series] = tracks.change_recent > -1.96 * tracks.change_recent_se
    return (lost[LEFT] & steady[RIGHT]) | (lost[RIGHT] & steady[LEFT])


def _levels(panel: Panel, errors: TrialErrors) -> _Levels:
    series = panel.session_series[panel.cell_session]
    order = np.argsort(series * 2 + panel.cell_side, kind="stable")
    series, side = series[order], panel.cell_side[order]
    new = np.diff(series * 2 + side, prepend=-1) != 0
    starts = np.flatnonzero(new)
    return _Levels(
        row=np.cumsum(new) - 1,
        starts=starts,
        ends=np.append(starts[1:], len(series))[: len(starts)] - 1,
        series=series,
        side=side,
        group=panel.series_group[series],
        session=panel.cell_session[order],
        day=panel.session_day[panel.cell_session][order],
        level=errors.level[order],
        variance=errors.variance[order],
        shapes=panel.session_shapes[panel.cell_session][order],
    )


def _day_sd(panel: Panel, levels: _Levels, settings: EstimateSettings) -> Numbers:
    """Day-to-day SD of one side's level beyond the trials' error, per group.

    From changes between sessions at most the recent weeks apart, half their square less the
    trials' variance, blended with the catalogue's share by degrees of freedom; large changes are
    cut, so that a true loss does not raise the bar it is measured by.
    """
    usual = (settings.side_day_share * panel.standards.trial_error) ** 2
    near = np.flatnonzero(
        (levels.row[1:] == levels.row[:-1])
        & (np.diff(levels.day) <= settings.recent_days)
        & levels.shapes[1:]
        & levels.shapes[:-1]
    )
    square = (levels.level[near + 1] - levels.level[near]) ** 2
    trials = levels.variance[near + 1] + levels.variance[near]
    group = levels.group[near]
    variance = usual
    df = sums(np.ones(len(near)), group, panel.group_count)
    for _ in range(ROUNDS):
        cut = np.minimum(square, WIDEST**2 * (2 * variance[group] + trials))
        total = sums((cut - trials) / 2, group, panel.group_count)
        variance = (settings.error_df * usual + total) / (settings.error_df + df)
        variance = np.maximum(variance, usual * settings.least_day_share**2)
    return np.sqrt(variance)
