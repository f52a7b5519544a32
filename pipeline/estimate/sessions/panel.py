"""The trials of all squads as flat arrays: trials in cells, cells in sessions, sessions in series.

A cell is one side of one session, a session one day of one athlete and measure, a series one
athlete and measure, a group one squad and measure. Everything is ordered by group, athlete, day,
side and trial, so each level is a run of the level below.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]

LEFT, RIGHT = 0, 1
RIGHT_DOMINANT, LEFT_DOMINANT, BOTH_SIDED, UNKNOWN = 0, 1, 2, 3


@dataclass(frozen=True)
class Standards:
    """What the catalogue says of each group's measure, on the comparison scale; arrays [group]."""

    trial_error: Numbers
    side_sd: Numbers
    lead_right: Numbers  # expected d of a right-dominant athlete
    lead_left: Numbers
    has_lead: Truths  # whether dominance matters for this measure
    known_right: Numbers  # share of right-dominant people among those of unknown dominance
    line: Numbers
    is_log: Truths  # whether scores are logarithms


@dataclass(frozen=True)
class Panel:
    """All trials and where each belongs; see the module's first lines for the words."""

    score: Numbers  # [trial]
    trial_cell: Indices  # [trial]
    pairs: tuple[Indices, Indices]  # left and right trial of one session and number
    cell_count: Indices  # [cell] trials
    cell_session: Indices  # [cell]
    cell_side: Indices  # [cell] LEFT or RIGHT
    cell_step: Numbers  # [cell] how far beyond its score a side may be, as loads come in steps
    session_series: Indices  # [session]
    session_day: Indices  # [session] days since 1970-01-01
    session_shapes: Truths  # [session] whether it shapes error and prior
    series_group: Indices  # [series]
    series_dominance: Indices  # [series] RIGHT_DOMINANT, LEFT_DOMINANT, BOTH_SIDED or UNKNOWN
    standards: Standards

    @property
    def group_count(self) -> int:
        return len(self.standards.line)

    @property
    def series_count(self) -> int:
        return len(self.series_group)

    @property
    def session_count(self) -> int:
        return len(self.session_series)


def sums(values: Numbers, owner: Indices, count: int) -> Numbers:
    """Sum of values per owner; owners without a value get 0. Shape [count]."""
    return np.bincount(owner, weights=values, minlength=count).astype(np.float64)


def counts(owner: Indices, count: int) -> Numbers:
    """Number of entries per owner. Shape [count]."""
    return np.bincount(owner, minlength=count).astype(np.float64)


def by_side(panel: Panel, values: Numbers, missing: float = np.nan) -> tuple[Numbers, Numbers]:
    """One value a cell -> (left, right), one value a session each; `missing` where untested."""
    both = np.full((2, panel.session_count), missing)
    both[panel.cell_side, panel.cell_session] = values
    return both[LEFT], both[RIGHT]
