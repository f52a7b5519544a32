"""One signed difference d, and every index in use as a function of it.

Ratio measures: d = ln(right / left), turned round where lower is better, so that positive means
the right side performed better. Difference measures: d = right - left in the measure's own unit.
Limits never travel between indices: 10 % of the better side is 5.3 % of the sum.
"""

from collections.abc import Callable, Sequence
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from schemas.catalogue_words import ErrorKind, Scale
from schemas.vocabulary import Formula

Numbers = npt.NDArray[np.float64]
INTERVAL = 0.90  # chance that what is shown of a true value, `low90` to `high90`, holds it
INTERVAL_SD = 3.2897  # its width where errors are normal, in standard deviations
Z90, Z95 = INTERVAL_SD / 2, 1.96  # errors within which 90 and 95 in 100 lie


class ScaledMeasure(Protocol):
    """What of a catalogue measure these functions read."""

    @property
    def formula(self) -> Any: ...  # its name

    @property
    def scale(self) -> Any: ...  # "log" or "difference"

    @property
    def error(self) -> float: ...

    @property
    def error_kind(self) -> Any: ...  # "pct" or "unit"

    @property
    def expected_men(self) -> tuple[float, float]: ...

    @property
    def expected_women(self) -> tuple[float, float]: ...


def percent_of_better(d: npt.ArrayLike) -> Numbers:
    """Signed percent of the better side: (better - other) / better.

    Impellizzeri and others 2007, Med Sci Sports Exerc 39:2044-2050; closed form own derivation.
    """
    d = np.asarray(d, dtype=np.float64)
    return np.asarray(-100.0 * np.sign(d) * np.expm1(-np.abs(d)))


def bilateral_index(d: npt.ArrayLike) -> Numbers:
    """Signed percent of the sum: (right - left) / (right + left) = tanh(d / 2).

    Listed in Bishop and others 2016, Strength Cond J 38(6):27-32; closed form own derivation.
    """
    return np.asarray(100.0 * np.tanh(np.asarray(d, dtype=np.float64) / 2))


def right_share(d: npt.ArrayLike) -> Numbers:
    """Right side's percent of the total of both."""
    return 50.0 + bilateral_index(d) / 2


def shown(d: npt.ArrayLike, formula: str | Sequence[str]) -> Numbers:
    """d in the unit the measure is shown in; keeps the sign and the order of values.

    `formula` is one name for all values or one name a value.
    """
    d = np.asarray(d, dtype=np.float64)
    if isinstance(formula, str):
        return _SHOWN.get(formula, _as_it_is)(d)
    names = np.asarray(formula, dtype=object)
    choices = [(names == name, index(d)) for name, index in _SHOWN.items()]
    return np.select([hit for hit, _ in choices], [value for _, value in choices], d)


def _as_it_is(d: Numbers) -> Numbers:
    return d


_SHOWN: dict[str, Callable[[Numbers], Numbers]] = {
    "pct_of_best": percent_of_better,
    "bilateral_index": bilateral_index,
}


def slope(formula: str) -> float:
    """How much of the shown unit a small d is: 100 % of the better side, 50 % of the sum.

    An error in d times this is the error in the unit shown, where the sides are about even.
    """
    return {"pct_of_best": 100.0, "bilateral_index": 50.0}.get(formula, 1.0)


def from_shown(value: npt.ArrayLike, formula: str) -> Numbers:
    """The d whose shown value this is: the way back of `shown`, for lines and catalogue figures.

    A percent of 100 or more has no finite d and comes back infinite.
    """
    value = np.asarray(value, dtype=np.float64)
    part = np.minimum(np.abs(value) / 100, 1.0)
    with np.errstate(divide="ignore"):
        if formula == Formula.PCT_OF_BEST:
            return np.asarray(-np.sign(value) * np.log1p(-part))
        if formula == Formula.BILATERAL_INDEX:
            return np.asarray(2.0 * np.sign(value) * np.arctanh(part))
    return value


def trial_error(measure: ScaledMeasure) -> float:
    """The catalogue's error of one trial on one side, on the comparison scale.

    On the log scale a coefficient of variation c is the SD sqrt(ln(1 + c^2)) (log-normal, exact).
    """
    level = (measure.expected_men[0] + measure.expected_women[0]) / 2
    if measure.scale == Scale.LOG:
        share = (
            measure.error / 100 if measure.error_kind == ErrorKind.PCT else measure.error / level
        )
        return float(np.sqrt(np.log1p(share**2)))
    return (
        measure.error * abs(level) / 100 if measure.error_kind == ErrorKind.PCT else measure.error
    )
