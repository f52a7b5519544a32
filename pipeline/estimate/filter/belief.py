"""What is believed of each row's level, by the newest reading and the part of the prior."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from pipeline.estimate.filter.mixture import Mixture
from pipeline.estimate.filter.readings import QUIET, STATES
from pipeline.estimate.sessions.panel import Indices, Numbers, Truths


@dataclass(frozen=True)
class Moves:
    """How far things go, arrays [row]; variances."""

    drift: Numbers  # of a quiet level, a week
    moving: Numbers  # of a moving one, a week
    wobble: Numbers  # of a closing one, a week
    leap: Numbers  # of a jump
    aim: Numbers  # what closing closes towards

    def at(self, rows: Indices | slice) -> "Moves":
        """Some rows."""
        return Moves(
            self.drift[rows], self.moving[rows], self.wobble[rows], self.leap[rows], self.aim[rows]
        )


@dataclass
class Second:
    """A fixed second variable beside the level: arrays [state, part, row]."""

    mean: Numbers
    variance: Numbers
    shared: Numbers  # covariance with the level


@dataclass
class Belief:
    """What is believed of each row's level: arrays [state, part, row].

    The weights of a row sum to 1.
    """

    weight: Numbers
    mean: Numbers
    variance: Numbers
    lasts: Numbers  # [MOVING - 1 or CLOSING - 1, part, row] chance that the movement goes on
    seconds: list[Second] = field(default_factory=list)

    def first(self, count: int) -> "Belief":
        """The first rows."""
        return self._each(lambda values: values[..., :count])

    def last(self, start: int) -> "Belief":
        """The rows from `start` on."""
        return self._each(lambda values: values[..., start:])

    def joined(self, other: "Belief") -> "Belief":
        """These rows, then the other ones."""
        return self._with(other, lambda mine, its: np.concatenate([mine, its], axis=-1))

    def replaced(self, rows: Truths, other: "Belief") -> "Belief":
        """The other belief in some rows [row]."""
        return self._with(other, lambda mine, its: np.where(rows, its, mine))

    def _each(self, change: Callable[[Numbers], Numbers]) -> "Belief":
        return Belief(
            change(self.weight),
            change(self.mean),
            change(self.variance),
            change(self.lasts),
            [Second(change(s.mean), change(s.variance), change(s.shared)) for s in self.seconds],
        )

    def _with(self, other: "Belief", both: Callable[[Numbers, Numbers], Numbers]) -> "Belief":
        return Belief(
            both(self.weight, other.weight),
            both(self.mean, other.mean),
            both(self.variance, other.variance),
            both(self.lasts, other.lasts),
            [
                Second(
                    both(mine.mean, its.mean),
                    both(mine.variance, its.variance),
                    both(mine.shared, its.shared),
                )
                for mine, its in zip(self.seconds, other.seconds, strict=True)
            ],
        )

    @property
    def rows(self) -> int:
        return int(self.weight.shape[-1])

    def level(self) -> Mixture:
        """The level as a mixture, parts [state and part, row]."""
        return Mixture(flat(self.weight), flat(self.mean), flat(self.variance))


def flat(values: Numbers) -> Numbers:
    return values.reshape(-1, values.shape[-1])


def start(mean: Numbers, variance: Numbers, weight: Numbers) -> Belief:
    """Before the first test: nothing has been read yet. `mean` [row], the rest [part, row]."""
    shape = (STATES, *variance.shape)
    weights = np.zeros(shape)
    weights[QUIET] = weight
    return Belief(
        weights,
        np.broadcast_to(mean, shape).copy(),
        np.broadcast_to(variance, shape).copy(),
        np.zeros((2, *variance.shape)),
    )
