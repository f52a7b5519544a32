"""Textbook forms of agreement, as something to hold the estimates against.

Checked against their sources in tests/external.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True)
class MeanSquares:
    """Mean squares of a complete table of `rows` athletes by `columns` days, trials or raters."""

    rows: int
    columns: int
    between: float  # rows
    across: float  # columns
    error: float  # what rows and columns leave
    within: float  # columns and error together

    @property
    def typical_error(self) -> float:
        """SD of one athlete's repeats, the columns' means taken out (Hopkins 2000).

        For two columns the SD of the differences over root two; the same number as the SEM of
        Weir 2005 from the two-way table.
        """
        return float(np.sqrt(self.error))


def mean_squares(table: npt.ArrayLike) -> MeanSquares:
    """Two-way analysis of variance of a complete table, shape [athlete, repeat]."""
    values = np.asarray(table, dtype=np.float64)
    n, k = values.shape
    off = values - values.mean()
    rows = k * (off.mean(axis=1) ** 2).sum()
    columns = n * (off.mean(axis=0) ** 2).sum()
    total = (off**2).sum()
    return MeanSquares(
        rows=n,
        columns=k,
        between=rows / (n - 1),
        across=columns / (k - 1),
        error=max(total - rows - columns, 0.0) / ((n - 1) * (k - 1)),
        within=max(total - rows, 0.0) / (n * (k - 1)),
    )


def icc_forms(table: npt.ArrayLike) -> dict[str, float]:
    """The six intraclass correlations of Shrout & Fleiss 1979, Psychol Bull 86:420-428.

    Keys "1,1", "2,1", "3,1" for one repeat and "1,k", "2,k", "3,k" for the mean of all: one-way,
    two-way with agreement, two-way with consistency.
    """
    m = mean_squares(table)
    n, k = m.rows, m.columns
    shift = (m.across - m.error) / n
    return {
        "1,1": (m.between - m.within) / (m.between + (k - 1) * m.within),
        "2,1": (m.between - m.error) / (m.between + (k - 1) * m.error + k * shift),
        "3,1": (m.between - m.error) / (m.between + (k - 1) * m.error),
        "1,k": (m.between - m.within) / m.between,
        "2,k": (m.between - m.error) / (m.between + shift),
        "3,k": (m.between - m.error) / m.between,
    }
