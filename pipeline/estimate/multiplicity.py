"""How much of a list of findings is noise."""

import numpy as np
import numpy.typing as npt

from pipeline.estimate.sessions.panel import Numbers


def expected_noise(chances: npt.ArrayLike) -> float:
    """How many of the listed findings are expected to be noise: the sum of 1 - chance.

    `chances` are probabilities that each finding is true (own derivation: expectations add).
    """
    return float((1.0 - np.asarray(chances, dtype=np.float64)).sum())


def adjusted_p(p: npt.ArrayLike) -> Numbers:
    """p-values adjusted for the false discovery rate, in the order given.

    Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300: the smallest of m p(j) / j over all
    ranks j from the own one on.
    """
    values = np.asarray(p, dtype=np.float64)
    order = np.argsort(values, kind="stable")
    count = len(values)
    scaled = values[order] * count / np.arange(1, count + 1)
    adjusted = np.empty(count)
    adjusted[order] = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    return adjusted
