"""The error of a test: how far one trial on one side strays on the same day.

Variances are pooled over athletes and days by degrees of freedom (never SDs averaged, which are
too small by c4) and blended with the catalogue's figure, an inverse-gamma prior. One trial of a
cell may be a stray (a stumble, a slip of the pen): each cell is a mixture of "none is" and "this
one is", so that a botched trial loses its weight without any trial being thrown away.

Trials of one number are tested together. Practice and fatigue move both sides alike and cancel in
the difference; on two plates a shifted load moves them apart. Their correlation is estimated too.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.sessions.panel import Numbers, Panel, by_side, counts, sums
from pipeline.settings import EstimateSettings

ROUNDS = 5  # fixed, so that one squad's figures never depend on another's


@dataclass(frozen=True)
class TrialErrors:
    """Error of one trial per group and what each cell says of its side that day."""

    within_sd: Numbers  # [group] blended
    within_df: Numbers  # [group] degrees of freedom of the squad's own trials
    own_sd: Numbers  # [group] from the squad's own trials alone; nan without repeated trials
    pairing: Numbers  # [group] correlation of the errors of both sides' trials of one number
    plain_mean: Numbers  # [cell] mean of the trials
    level: Numbers  # [cell] mean with strays weighed down, in the middle of its step
    variance: Numbers  # [cell] of the level, from the trials' error and the step
    coarse: Numbers  # [cell] variance from the step alone
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
    level = plain + move * sd
    # What was lifted and the next load are the ends of an interval: its middle, and its variance.
    coarse = panel.cell_step**2 / 12
    return TrialErrors(
        within_sd=np.sqrt(variance),
        within_df=freedom,
        own_sd=np.sqrt(own / np.where(freedom > 0, freedom, np.nan)),
        pairing=_pairing(panel, level, 1 - strays.chance, variance, settings),
        plain_mean=plain,
        level=level + panel.cell_step / 2,
        variance=spread * sd**2 + coarse,
        coarse=coarse,
        stray_chance=strays.chance,
    )


def _cell_sums(panel: Panel, values: Numbers) -> Numbers:
    return sums(values, panel.trial_cell, len(panel.cell_count))


def _strays(panel: Panel, unit: Numbers, settings: EstimateSettings) -> _Strays:
    """Chances of strays; `unit` is each trial minus its cell's mean, in trial errors.

    A usual trial is N(level, 1), a stray N(level -+ shift, spread^2), low far more often than
    high; at most one a cell. The level has a flat prior, so a trial alone on its side and day
    cannot be judged. If one is a stray, the level is the mean of the others. Own derivation.
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
    return _Strays(chance=chance, move=-unit / others, weight=others)


def _levels(panel: Panel, strays: _Strays, size: Numbers) -> tuple[Numbers, Numbers]:
    """Move of each cell's level away from its plain mean and its variance, in trial errors."""
    clean = 1 - _cell_sums(panel, strays.chance)
    mean = _cell_sums(panel, strays.chance * strays.move)
    square = _cell_sums(panel, strays.chance * (strays.move**2 + 1 / strays.weight))
    return mean, clean / size + square - mean**2


def _pairing(
    panel: Panel, level: Numbers, weight: Numbers, variance: Numbers, settings: EstimateSettings
) -> Numbers:
    """Correlation of paired trials' errors per group, pulled to zero by the prior's degrees.

    Deviations from a mean of n hold less than the errors themselves; the expected share of the
    product left in a session's pairs is common (1 - 1/nl - 1/nr + common / (nl nr)).
    """
    left, right = panel.pairs
    session = panel.cell_session[panel.trial_cell[left]]
    off = panel.score - level[panel.trial_cell]
    both = weight[left] * weight[right]
    common = counts(session, panel.session_count)
    left_size, right_size = by_side(panel, panel.cell_count.astype(np.float64), 1.0)
    share = 1 - 1 / left_size - 1 / right_size + common / (left_size * right_size)
    group = panel.series_group[panel.session_series[session]]
    shaping = panel.session_shapes[session]
    product = np.where(shaping, both * off[left] * off[right], 0.0)
    held = np.where(shaping, both * share[session], 0.0)
    total = sums(product, group, panel.group_count)
    df = sums(held, group, panel.group_count)
    found = total / (variance * (df + settings.pairing_df))
    return np.clip(found, -settings.most_pairing, settings.most_pairing)
