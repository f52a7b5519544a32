"""How much of a list of findings is noise."""

import numpy as np
import numpy.typing as npt


def expected_noise(chances: npt.ArrayLike) -> float:
    """How many of the listed findings are expected to be noise: the sum of 1 - chance.

    `chances` are probabilities that each finding is true (own derivation: expectations add).
    """
    return float((1.0 - np.asarray(chances, dtype=np.float64)).sum())
