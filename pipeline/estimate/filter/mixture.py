"""Mixtures of normals: what is believed of a level, and every chance read from it."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri, owens_t

from pipeline.estimate.sessions.panel import Indices, Numbers

HALLEY_STEPS = 4  # mixtures of few wide and many narrow parts need as many


@dataclass(frozen=True)
class Mixture:
    """Normals with weights, arrays [part, row]; the weights of a row sum to 1.

    Parts come first, so that sums over them run along the rows.
    """

    weight: Numbers
    mean: Numbers
    variance: Numbers


@dataclass(frozen=True)
class Prior:
    """What is believed of a first level before its tests: mean [row], the rest [part, row]."""

    mean: Numbers
    variance: Numbers
    log_weight: Numbers

    def at(self, rows: Indices) -> tuple[Numbers, Numbers, Numbers]:
        """Mean [row], variance and weight [part, row] of some rows."""
        variance = self.variance[:, rows]
        weight = np.exp(self.log_weight)
        return self.mean[rows], variance, np.broadcast_to(weight, variance.shape)


def pooled_pairs(
    pairs: list[tuple[Mixture, Mixture, Numbers]],
) -> tuple[Mixture, Mixture, Numbers]:
    """Equally likely beliefs of two levels, each with their covariance, as one; as `pooled`."""
    first, second = pooled([pair[0] for pair in pairs]), pooled([pair[1] for pair in pairs])
    share, total = _shares([pair[0] for pair in pairs])
    apart = [
        (one.mean - first.mean) * (other.mean - second.mean) + shared
        for one, other, shared in pairs
    ]
    return first, second, np.where(total > 0, (share * np.stack(apart)).sum(axis=0), 0.0)


def _shares(beliefs: list[Mixture]) -> tuple[Numbers, Numbers]:
    """Of each part's weight what each belief gives [belief, part, row], and that weight."""
    weight = np.stack([belief.weight for belief in beliefs])
    total = weight.sum(axis=0)
    return weight / np.where(total > 0, total, 1.0), total


def pooled(beliefs: list[Mixture]) -> Mixture:
    """Equally likely beliefs as one, like parts merged by their moments."""
    share, total = _shares(beliefs)
    mean = np.stack([belief.mean for belief in beliefs])
    centre = (share * mean).sum(axis=0)
    variance = np.stack([belief.variance for belief in beliefs])
    around = (share * (variance + (mean - centre) ** 2)).sum(axis=0)
    return Mixture(total / len(beliefs), centre, np.where(total > 0, around, 1.0))


def side_by_side(beliefs: list[Mixture]) -> Mixture:
    """The rows of all beliefs as those of one."""
    return Mixture(
        np.concatenate([belief.weight for belief in beliefs], axis=1),
        np.concatenate([belief.mean for belief in beliefs], axis=1),
        np.concatenate([belief.variance for belief in beliefs], axis=1),
    )


def mean_of(belief: Mixture) -> Numbers:
    return np.asarray((belief.weight * belief.mean).sum(axis=0))


def sd_of(belief: Mixture) -> Numbers:
    off = belief.mean - mean_of(belief)
    return np.sqrt((belief.weight * (belief.variance + off**2)).sum(axis=0))


def chance_below(belief: Mixture, value: Numbers) -> Numbers:
    """Chance that the level is below `value` [row]."""
    return np.asarray((belief.weight * ndtr((value - belief.mean) / _sds(belief))).sum(axis=0))


def chance_beyond(belief: Mixture, line: Numbers) -> Numbers:
    """Chance that what is believed differs from zero by more than `line`, in either direction."""
    return chance_below(belief, -line) + 1 - chance_below(belief, line)


def quantile(belief: Mixture, chance: float) -> Numbers:
    """The value below which the level lies with this chance: bracketed Halley steps."""
    sd = _sds(belief)
    parts = belief.mean + ndtri(chance) * sd
    low, high = parts.min(axis=0), parts.max(axis=0)
    value = np.clip(mean_of(belief) + ndtri(chance) * sd_of(belief), low, high)
    share = belief.weight / (sd * np.sqrt(2 * np.pi))
    for _ in range(HALLEY_STEPS):
        unit = (value - belief.mean) / sd
        excess = (belief.weight * ndtr(unit)).sum(axis=0) - chance
        density = share * np.exp(-(unit**2) / 2)
        slope, bend = density.sum(axis=0), -(density * unit / sd).sum(axis=0)
        low, high = np.where(excess < 0, value, low), np.where(excess > 0, value, high)
        fall = 2 * slope**2 - excess * bend
        step = value - 2 * excess * slope / np.where(fall > 0, fall, np.inf)
        value = np.where((step >= low) & (step <= high), step, (low + high) / 2)
    return np.asarray(value)


def chance_nearer(
    belief_then: Mixture, belief_now: Mixture, shared: Numbers, lead: Numbers
) -> Numbers:
    """Chance that the level is nearer to `lead` now than then; `shared` [part, row] covariance.

    |now| < |then| where now - then and now + then have opposite signs: two normals with a
    correlation, so sign flips are counted right. Own derivation.
    """
    then, now = belief_then.mean - lead, belief_now.mean - lead
    total = belief_then.variance + belief_now.variance
    fall_sd = np.sqrt(np.maximum(total - 2 * shared, 1e-300))
    sum_sd = np.sqrt(np.maximum(total + 2 * shared, 1e-300))
    across = (belief_now.variance - belief_then.variance) / (fall_sd * sum_sd)
    fall, both = (then - now) / fall_sd, (-then - now) / sum_sd
    joint = both_below(fall, both, np.clip(across, -1, 1))
    return np.asarray((belief_now.weight * (ndtr(fall) + ndtr(both) - 2 * joint)).sum(axis=0))


def both_below(first: Numbers, second: Numbers, correlation: Numbers) -> Numbers:
    """Chance that two standard normals lie below the two bounds (Owen 1956, Ann Math Stat 27)."""
    rest = np.sqrt(np.maximum(1 - correlation**2, 1e-15))
    first, second = _off_zero(first), _off_zero(second)
    one = owens_t(first, (second / first - correlation) / rest)
    two = owens_t(second, (first / second - correlation) / rest)
    apart = np.where(first * second < 0, 0.5, 0.0)
    return np.asarray((ndtr(first) + ndtr(second)) / 2 - one - two - apart)


def _off_zero(value: Numbers) -> Numbers:
    return np.where(np.abs(value) < 1e-12, 1e-12, value)


def _sds(belief: Mixture) -> Numbers:
    return np.sqrt(np.maximum(belief.variance, 1e-300))
