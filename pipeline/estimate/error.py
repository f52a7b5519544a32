"""The error of a test: how far one trial on one side strays on the same day.

Variances are pooled over athletes and days by degrees of freedom (never SDs averaged, which are
too small by c4) and blended with the catalogue's figure, an inverse-gamma prior. One trial of a
cell may be a stray (a stumble, a slip of the pen): each cell is a mixture of "none is" and "this
one is", so that a botched trial loses its weight without any trial being thrown away.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.panel import Numbers, Panel, sums
from pipeline.settings import EstimateSettings

ROUNDS = 5  # fixed, so that one squad's figures never depend on another's


@dataclass(frozen=True)
class TrialErrors:
    """Error of one trial per group and what each cell says of its side that day."""

    within_sd: Numbers  # [group] blended
    within_df: Numbers  # [group] degrees of freedom of the squad's own trials
    own_sd: Numbers  # [group] from the squad's own trials alone; nan without repeated trials
    plain_mean: Numbers  # [cell] mean of the trials
    level: Numbers  # [cell] mean with strays weighed down
    variance: Numbers  # [cell] of the level, from the trials' error
    stray_chance: Numbers  # [trial] that it is a stray


@dataclass(frozen=True)
class _Strays:
    """Chance of each trial to be its cell's stray, and what the cell's level would then be."""

    chance: Numbers  # [trial]
    move: Numbers  # [trial] of the level away from the plain mean, in trial errors
    weight: Numbers  # [trial] precision of the level, in 1 / trial error squared


def trial_errors(panel: Panel, settings: EstimateSettings) -> TrialErrors:
    """Pooled within-day error of each group and the level of each cell."""
    cell_group = panel.series_group[panel.session_series[panel.cell_session]]
    size = panel.cell_count.astype(np.float64)
    plain = _cell_sums(panel, panel.score) / size
    off = panel.score - plain[panel.trial_cell]
    squares = _cell_sums(panel, off**2)
    without = off**2 * (1 + 1 / np.maximum(size - 1, 1))[panel.trial_cell]
    shaping = panel.session_shapes[panel.cell_session] & (size > 1)
    usual = panel.standards.trial_error
    variance, own, freedom = usual**2, np.zeros(0), np.zeros(0)
    for _ in range(ROUNDS):
        strays = _strays(panel, off / np.sqrt(variance)[cell_group][panel.trial_cell], settings)
        left = squares - _cell_sums(panel, strays.chance * without)
        df = size - 1 - _cell_sums(panel, strays.chance)
        own = sums(np.where(shaping, left, 0.0), cell_group, panel.group_count)
        freedom = sums(np.where(shaping, df, 0.0), cell_group, panel.group_count)
        variance = (settings.error_df * usual**2 + own) / (settings.error_df + freedom)
    sd = np.sqrt(variance)[cell_group]
    strays = _strays(panel, off / sd[panel.trial_cell], settings)
    move, spread = _levels(panel, strays, size)
    return TrialErrors(
        within_sd=np.sqrt(variance),
        within_df=freedom,
        own_sd=np.sqrt(own / np.where(freedom > 0, freedom, np.nan)),
        plain_mean=plain,
        level=plain + move * sd,
        variance=spread * sd**2,
        stray_chance=strays.chance,
    )


def _cell_sums(panel: Panel, values: Numbers) -> Numbers:
    return sums(values, panel.trial_cell, len(panel.cell_count))


def _strays(panel: Panel, unit: Numbers, settings: EstimateSettings) -> _Strays:
    """Chances of strays; `unit` is each trial minus its cell's mean, in trial errors.

    A usual trial is N(level, 1), a stray N(level -+ shift, spread^2), low far more often than
    high; at most one a cell. The level has a flat prior, so a trial alone on its side and day
    cannot be judged. Own derivation.
    """
    size = panel.cell_count[panel.trial_cell].astype(np.float64)
    others = np.maximum(size - 1, 1.0)
    own = settings.stray_spread**-2
    weight = others + own
    gap = unit * size / others  # trial minus mean of the others
    fixed = np.log(own * size / weight) / 2 + unit * gap / 2
    shares = np.array([settings.stray_low_share, settings.stray_high_share])
    odds = []
    for share, shift in zip(shares, (-settings.stray_shift, settings.stray_shift), strict=True):
        fit = fixed - others * own / weight * (gap - shift) ** 2 / 2 + np.log(share)
        odds.append(np.where(size > 1, np.exp(np.minimum(fit, 300.0)), 0.0))
    either = odds[0] + odds[1]
    chance = either / (1 + _cell_sums(panel, either))[panel.trial_cell]
    shift = np.divide(odds[0] - odds[1], either, out=np.zeros_like(either), where=either > 0)
    move = ((own - 1) * unit + own * settings.stray_shift * shift) / weight
    return _Strays(chance=chance, move=move, weight=weight)


def _levels(panel: Panel, strays: _Strays, size: Numbers) -> tuple[Numbers, Numbers]:
    """Move of each cell's level away from its plain mean and its variance, in trial errors."""
    clean = 1 - _cell_sums(panel, strays.chance)
    mean = _cell_sums(panel, strays.chance * strays.move)
    square = _cell_sums(panel, strays.chance * (strays.move**2 + 1 / strays.weight))
    return mean, clean / size + square - mean**2
