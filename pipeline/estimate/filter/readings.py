"""What may have happened between two tests: the readings of a gap, their chances and their moves.

A difference is quiet (a small drift), moving (at random, fast), closing towards the lead (a share a
week, with some wobble), or has jumped once. Movement starts and stops by chance, at any time
between two tests; the closed forms here are the means over when (own derivation; a multi-process
model after Harrison & Stevens 1976, J R Stat Soc B 38:205-247).
"""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.sessions.panel import Indices, Numbers
from pipeline.settings import EstimateSettings

QUIET, MOVING, CLOSING, JUMPED = range(4)
STATES = 4


@dataclass(frozen=True)
class Fades:
    """How much of a difference is left after closing for a time that is not known."""

    mean: Numbers
    square: Numbers  # mean of the square

    @property
    def variance(self) -> Numbers:
        return np.maximum(self.square - self.mean**2, 0.0)


@dataclass(frozen=True)
class Stretch:
    """Movement within a gap; arrays of the gaps' shape."""

    weeks: Numbers  # expected time of it
    lasts: Numbers  # chance that it goes on at the end
    fade: Fades


@dataclass(frozen=True)
class Gaps:
    """Times without a test, one entry each."""

    weeks: Numbers
    start: Numbers  # chance that movement starts, if there is none at first
    jump: Numbers  # chance of a jump
    begun: dict[int, Stretch]  # MOVING and CLOSING that started within
    going: dict[int, Stretch]  # the same, there at first

    def at(self, places: Indices | slice) -> "Gaps":
        """Some of the gaps."""

        def some(parts: dict[int, Stretch]) -> dict[int, Stretch]:
            return {
                state: Stretch(
                    part.weeks[places],
                    part.lasts[places],
                    Fades(part.fade.mean[places], part.fade.square[places]),
                )
                for state, part in parts.items()
            }

        return Gaps(
            self.weeks[places],
            self.start[places],
            self.jump[places],
            some(self.begun),
            some(self.going),
        )


def gaps(weeks: Numbers, pace: Numbers, settings: EstimateSettings) -> Gaps:
    """Readings of times of so many weeks; `pace` multiplies how often anything starts or jumps."""
    speeds = {
        MOVING: (settings.moving_stop_rate, 0.0),
        CLOSING: (settings.closing_stop_rate, settings.closing_rate),
    }
    return Gaps(
        weeks=weeks,
        start=-np.expm1(-settings.start_rate * pace * weeks),
        jump=-np.expm1(-settings.jump_rate * pace * weeks),
        begun={state: _begun(weeks, *speed) for state, speed in speeds.items()},
        going={state: _going(weeks, *speed) for state, speed in speeds.items()},
    )


def _going(weeks: Numbers, stop: float, rate: float) -> Stretch:
    """There at first, and stopping at `stop` a week while exp(-rate t) is left."""

    def left(share: float) -> Numbers:  # mean of exp(-share t)
        total = stop + share
        return (stop + share * np.exp(-total * weeks)) / total

    return Stretch(
        weeks=-np.expm1(-stop * weeks) / stop,
        lasts=np.exp(-stop * weeks),
        fade=Fades(left(rate), left(2 * rate)),
    )


def _begun(weeks: Numbers, stop: float, rate: float) -> Stretch:
    """Started at any time within alike: the mean of `_going` over what was left of the time."""

    def left(share: float) -> Numbers:
        total = stop + share
        return (stop + share * _mean_decay(total * weeks)) / total

    lasts = _mean_decay(stop * weeks)
    return Stretch(weeks=(1 - lasts) / stop, lasts=lasts, fade=Fades(left(rate), left(2 * rate)))


def _mean_decay(time: Numbers) -> Numbers:
    """Mean of exp(-t) for t uniform from 0 to `time`."""
    safe = np.maximum(time, 1e-12)
    return -np.expm1(-safe) / safe
