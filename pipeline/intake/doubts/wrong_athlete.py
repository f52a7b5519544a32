"""Sessions whose values fit another athlete far better than the one they are filed under."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.intake.doubts.compared_sessions import Floats, Ints, Sessions, combined, figures
from pipeline.settings import IntakeSettings

# What a level may move between sessions besides error, as a share of it; from memory.
DRIFT, DRIFT_OF_SIZE = 0.08, 0.03
FAR = 5.0  # mean squared distance from the own level, in errors, from which a session is strange
NEAR = 1.5  # and that from another athlete's level up to which it fits


@dataclass(frozen=True)
class Stranger:
    """A session filed under one athlete that fits another."""

    entry: int
    day: int
    athlete: int
    fits: int
    tests: int


def find_strangers(sessions: Sessions, settings: IntakeSettings) -> list[Stranger]:
    """Sessions far from the athlete's own other levels and near those of someone else."""
    if not len(sessions.d):
        return []
    mean, count = _levels(sessions)
    own_count = count[sessions.athlete, sessions.measure]
    total = mean[sessions.athlete, sessions.measure] * own_count
    # Of two sessions that contradict each other the earlier one is left in peace.
    has_other = (own_count > 2) | ((own_count == 2) & ~_is_first(sessions))
    own = (total - sessions.level) / np.maximum(own_count - 1, 1)
    scale = _scale(sessions)
    distance = np.where(has_other, ((sessions.level - own) / scale) ** 2, 0.0)
    group = combined(sessions.entry, sessions.day, sessions.athlete)
    tests = np.bincount(group, weights=has_other)
    is_far = np.bincount(group, weights=distance) > FAR * np.maximum(tests, 1)
    found: list[Stranger] = []
    for number in np.flatnonzero(is_far & (tests >= settings.stranger_tests)):
        rows = np.flatnonzero((group == number) & has_other)
        fits = _best_other(sessions, rows, mean, scale)
        if fits is not None:
            first = rows[0]
            at = int(sessions.entry[first]), int(sessions.day[first]), int(sessions.athlete[first])
            found.append(Stranger(*at, fits, len(rows)))
    return found


def _is_first(s: Sessions) -> npt.NDArray[np.bool_]:
    """Whether a session is the first of its athlete and test, by file and then day."""
    order = np.lexsort((s.day, s.entry))
    _, first = np.unique(combined(s.athlete, s.measure)[order], return_index=True)
    is_first = np.zeros(len(order), dtype=np.bool_)
    is_first[order[first]] = True
    return is_first


def _levels(s: Sessions) -> tuple[Floats, Floats]:
    """Mean level and number of sessions of every athlete (rows) in every measure (columns)."""
    shape = int(s.athlete.max()) + 1, len(figures().error)
    cell = s.athlete * shape[1] + s.measure
    size = shape[0] * shape[1]
    count = np.bincount(cell, minlength=size).astype(np.float64)
    total = np.bincount(cell, weights=s.level, minlength=size)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return mean.reshape(shape), count.reshape(shape)


def _scale(s: Sessions) -> Floats:
    fig = figures()
    drift = np.where(fig.is_log[s.measure], DRIFT, DRIFT_OF_SIZE * np.abs(s.level))
    return np.sqrt(fig.error[s.measure] ** 2 + drift**2)


def _best_other(s: Sessions, rows: Ints, mean: Floats, scale: Floats) -> int | None:
    """The other athlete whose levels these are, if there is one."""
    theirs = mean[:, s.measure[rows]]
    distance = (((s.level[rows] - theirs) / scale[rows]) ** 2).mean(axis=1)
    distance[s.athlete[rows[0]]] = np.inf
    distance = np.where(np.isnan(distance), np.inf, distance)
    best = int(np.argmin(distance))
    return best if distance[best] < NEAR else None
