"""Each side against itself: where it stands, where it stood in its own last weeks, what it lost.

A ratio cannot tell a side that fell from one that rose, nor see both fall together. These are the
sessions' own levels, not smoothed: a sudden loss must not be averaged away.
"""

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from pipeline.estimate.sessions.panel import LEFT, Indices, Numbers, Panel, Truths, sums
from pipeline.estimate.sessions.trial_error import TrialErrors
from pipeline.scales import Z95
from pipeline.settings import EstimateSettings
from schemas.vocabulary import Fall

Falls = npt.NDArray[np.str_]
MOST_SINCE = 3  # sessions since a loss
ROUNDS = 3  # of winsorising the day-to-day changes
SLOW_FROM, SLOW_UNTIL = 42, 182  # days before the newest session that a slow fall is held against
Z_SLOW = 3.0  # a slow fall is looked for in everybody and every week, so its bar is higher
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
    recent_level: Numbers  # own weeks before the newest sessions; nan without any
    change_recent: Numbers  # of the newest sessions: the latest, or those since a loss
    change_recent_se: Numbers
    loss_chance: Numbers  # that the side is truly lower than in its last weeks
    lost_share: Numbers  # of the recent level, positive = lower now
    is_lost: Truths  # beyond the detectable change and the share of the settings
    is_alone: Truths  # while the other side has not fallen
    fall: Falls  # "loss" (alone and sudden), "both_loss" or "slow_loss", of the side that fell most
    fall_share: Numbers  # what was lost in that fall, as `lost_share`


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

    @property
    def days_ago(self) -> Indices:
        """Days before the last session of the same side. Shape [cell]."""
        return self.day[self.ends][self.row] - self.day


@dataclass(frozen=True)
class _Change:
    """The newest sessions of each side against those before, arrays [row]; nan where none is."""

    level: Numbers  # before: the side's own weeks up to its last session then
    change: Numbers  # of the newest sessions' mean
    se: Numbers
    lost: Numbers  # share of the level before
    is_lost: Truths

    def over(self, other: "_Change", rows: Truths) -> "_Change":
        """The other's figures in some rows."""
        return _Change(
            *(
                np.where(rows, getattr(other, field.name), getattr(self, field.name))
                for field in fields(self)
            )
        )


def side_tracks(panel: Panel, errors: TrialErrors, settings: EstimateSettings) -> SideTracks:
    """Each side's newest sessions against those of the weeks before them, and against its first."""
    levels = _levels(panel, errors)
    day_sd = _day_sd(panel, levels, settings)
    variance = levels.variance + day_sd[levels.group] ** 2
    ends, starts = levels.ends, levels.starts
    is_log = panel.standards.is_log[levels.group[ends]]
    changes = [
        _change(levels, variance, is_log, size, settings) for size in range(1, MOST_SINCE + 1)
    ]
    newest = changes[0]
    for change in changes[1:]:  # a loss that the latest sessions confirm, unless the last one is it
        newest = newest.over(change, change.is_lost & ~newest.is_lost)
    alone = _alone(levels, changes, panel.series_count)
    slow = _slow_change(levels, variance, is_log, settings)
    fall, fall_share = _falls(levels, newest, alone, slow, settings)
    again = np.where(ends > starts, 1.0, np.nan)
    since_first = (levels.level[ends] - levels.level[starts]) * again
    first_se = np.sqrt(variance[ends] + variance[starts]) * again
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
        recent_level=newest.level,
        change_recent=newest.change,
        change_recent_se=newest.se,
        loss_chance=ndtr(-newest.change / newest.se),
        lost_share=newest.lost,
        is_lost=newest.is_lost,
        is_alone=alone,
        fall=fall,
        fall_share=fall_share,
    )


def one_sided_loss(tracks: SideTracks, series_count: int) -> Truths:
    """Series in which one side is lost while the other has not fallen. Shape [series]."""
    found = np.zeros(series_count, dtype=np.bool_)
    found[tracks.series[tracks.is_alone]] = True
    return found


def _change(
    levels: _Levels, variance: Numbers, is_log: Truths, size: int, settings: EstimateSettings
) -> _Change:
    """The mean of the newest `size` sessions against the side's own level before them.

    That level is the mean of the recent weeks up to the last session before, so that it neither
    swallows what was lost nor ends where nobody tested for months.
    """
    row, count = levels.row, len(levels.starts)
    from_end = levels.ends[row] - np.arange(len(row))
    is_new = from_end < size
    before = np.maximum(levels.ends - size, levels.starts)
    exists = levels.ends - size >= levels.starts
    last_before = levels.day[before]
    is_old = ~is_new & (levels.day >= (last_before - settings.recent_days)[row])
    old_weight = np.where(is_old & exists[row], 1 / variance, 0.0)
    total = sums(old_weight, row, count)
    total = np.where(total > 0, total, np.nan)
    level = sums(old_weight * levels.level, row, count) / total
    new_weight = np.where(is_new, 1 / variance, 0.0)
    new_total = sums(new_weight, row, count)
    newest = sums(new_weight * levels.level, row, count) / new_total
    change, se = newest - level, np.sqrt(1 / new_total + 1 / total)
    latest = levels.level[levels.ends] - level
    first_new = levels.day[np.minimum(before + 1, levels.ends)]
    is_soon = levels.day[levels.ends] - first_new <= settings.recent_days // 2
    lost, lost_last = _share(change, level, is_log), _share(latest, level, is_log)
    is_lost = (
        is_soon
        & (change < -Z95 * se)
        & (lost > settings.loss_share)
        & (lost_last > settings.loss_share / 2)  # not won back since
    )
    return _Change(level, change, se, lost, is_lost)


def _share(change: Numbers, level: Numbers, is_log: Truths) -> Numbers:
    """What is lost as a share of the level; of a level of zero no share exists."""
    size = np.where(level == 0, np.nan, np.abs(level))
    return np.where(is_log, -np.expm1(np.where(is_log, change, 0.0)), -change / size)


def _alone(levels: _Levels, changes: list[_Change], series_count: int) -> Truths:
    """Sides that are lost while the other, over as many sessions, has not fallen. Shape [row]."""
    series, side = levels.series[levels.ends], levels.side[levels.ends]
    found = np.zeros(len(series), dtype=np.bool_)
    for change in changes:
        steady = np.zeros((2, series_count), dtype=np.bool_)
        steady[side, series] = change.change > -Z95 * change.se
        found |= change.is_lost & steady[1 - side, series]
    return found


def _slow_change(
    levels: _Levels, variance: Numbers, is_log: Truths, settings: EstimateSettings
) -> _Change:
    """The mean of the newest two or three sessions against that of sessions weeks before.

    `is_lost` says that it is beyond its error and half the share of a sudden loss.
    """
    row, count = levels.row, len(levels.starts)
    ago = levels.days_ago
    is_new = (levels.ends[row] - np.arange(len(row)) < MOST_SINCE) & (ago <= settings.recent_days)
    is_old = ~is_new & (ago >= SLOW_FROM) & (ago <= SLOW_UNTIL)
    means, errors, has_two = [], [], np.ones(count, dtype=np.bool_)
    for part in (is_old, is_new):
        weight = np.where(part, 1 / variance, 0.0)
        total = sums(weight, row, count)
        total = np.where(total > 0, total, np.nan)
        means.append(sums(weight * levels.level, row, count) / total)
        errors.append(1 / total)
        has_two &= sums(part.astype(np.float64), row, count) >= 2
    change, se = means[1] - means[0], np.sqrt(errors[0] + errors[1])
    lost = _share(change, means[0], is_log)
    return _Change(
        means[0], change, se, lost,
        has_two & (change < -Z_SLOW * se) & (lost > settings.loss_share / 2),
    )  # fmt: skip


def _falls(
    levels: _Levels, newest: _Change, alone: Truths, slow: _Change, settings: EstimateSettings
) -> tuple[Falls, Numbers]:
    """What kind of fall medical staff are asked about, by the row of the side that fell most.

    One side alone at once; both, one of them by the share of a loss and the other by half of it; or
    one side over weeks, the other by less than half as much.
    """
    fall = np.full(len(levels.starts), "", dtype="<U9")
    share = np.full(len(levels.starts), np.nan)
    key = levels.series[levels.ends] * 2 + levels.side[levels.ends]
    place = np.searchsorted(key, key ^ 1)
    place = np.where(np.append(key, -1)[place] == key ^ 1, place, -1)
    other = np.where(place >= 0, place, np.arange(len(key)))

    def put(name: str, change: _Change, holds: Truths) -> None:
        here = (fall == "") & (fall[other] == "") & holds
        fall[here], share[here] = name, change.lost[here]

    put(Fall.LOSS, newest, alone)
    for change in (newest, slow):
        most = (change.lost > change.lost[other]) | (
            (change.lost == change.lost[other]) & (levels.side[levels.ends] == LEFT)
        )
        also = (change.change < -Z95 * change.se) & (change.lost > settings.loss_share / 2)
        is_both = change.is_lost & (change.lost > settings.loss_share) & also[other] & most
        put(Fall.BOTH_LOSS, change, is_both & (place >= 0))
    put(Fall.SLOW_LOSS, slow, slow.is_lost & (place >= 0) & (slow.lost[other] < slow.lost / 2))
    return fall, share


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
