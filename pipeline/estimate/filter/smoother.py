"""Every level in the light of all tests: the filter's steps taken back (Kim 1994)."""

import numpy as np

from pipeline.estimate.filter.belief import flat, start
from pipeline.estimate.filter.course import Course, Point, Step, steps
from pipeline.estimate.filter.mixture import Mixture, side_by_side
from pipeline.estimate.filter.readings import QUIET, STATES
from pipeline.estimate.filter.switching_filter import INTO, ODD, SIZES, SOURCE
from pipeline.estimate.sessions.panel import Indices, Numbers

OUT_OF = [np.flatnonzero(state == SOURCE) for state in range(STATES)]
USUAL = np.flatnonzero(~ODD[INTO[QUIET]])


def smoothed(course: Course, point: Point, rows: Indices) -> tuple[Mixture, Numbers]:
    """The level of each slot in the light of all tests, and how far each test was from foretold.

    Slots in the order of `Layout.slots_of`; the second in SDs of the forecast if nothing new began.
    """
    taken = list(steps(course, point, rows, start(*point.prior.at(rows))))
    surprise = []
    for step in taken:
        weight, mean, variance = step.forecast
        if step.parts is not None:
            weight, mean, variance = (flat(part[USUAL]) for part in step.forecast)
        share = weight / weight.sum(axis=0)
        centre = (share * mean).sum(axis=0)
        spread = (share * (variance + (mean - centre) ** 2)).sum(axis=0)
        surprise.append((course.d[step.slots] - centre) / np.sqrt(spread + step.error))
    return side_by_side(_back_through(taken)), np.concatenate(surprise)


def _back_through(taken: list[Step]) -> list[Mixture]:
    """The levels of each step, from the last step to the first."""
    found = [_copied(step.after.level()) for step in taken]
    for number in reversed(range(1, len(taken))):
        step, later = taken[number], found[number]
        if step.parts is None:
            continue
        size = len(step.slots)
        shape = step.after.weight.shape
        own = step.after.weight
        ratio = later.weight.reshape(shape) / np.where(own > 0, own, 1.0)
        chance = step.parts.weight * np.repeat(ratio, SIZES, axis=0)
        level, spread = step.before.mean[SOURCE], step.before.variance[SOURCE]
        _, foretold, wide = step.forecast
        share = step.parts.factor * spread / wide
        level = level + share * (np.repeat(later.mean.reshape(shape), SIZES, axis=0) - foretold)
        spread = spread + share**2 * (
            np.repeat(later.variance.reshape(shape), SIZES, axis=0) - wide
        )
        total = _back(chance)
        safe = np.where(total > 0, total, 1.0)
        middle = _back(chance * level) / safe
        around = _back(chance * (spread + (level - middle[SOURCE]) ** 2)) / safe
        around = np.where(total > 0, np.maximum(around, 1e-300), 1.0)
        for whole, part in zip(
            (found[number - 1].weight, found[number - 1].mean, found[number - 1].variance),
            (total, middle, around),
            strict=True,
        ):
            whole[:, :size] = flat(part)
    return found


def _back(values: Numbers) -> Numbers:
    """Sums over the branches of each reading before."""
    return np.stack([values[branches].sum(axis=0) for branches in OUT_OF])


def _copied(belief: Mixture) -> Mixture:
    return Mixture(belief.weight.copy(), belief.mean.copy(), belief.variance.copy())
