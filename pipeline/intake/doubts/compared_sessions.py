"""Sessions as the doubts look at them: side means, differences, and how far each may be off."""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import cache

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline.intake.parse.units import measures
from pipeline.intake.rows.people import People
from pipeline.scales import from_shown, trial_error
from schemas.catalogue_words import Better, LeadBy, Scale

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
SESSION = ("entry", "athlete", "day", "measure")
LEFT, RIGHT = 0, 1
MOST_LISTED = 1 << 16


@dataclass(frozen=True)
class Figures:
    """The catalogue's figures of all measures, by place; differences on the comparison scale.

    That scale is the logarithm for measures compared by a ratio, else the difference unit.
    """

    is_log: npt.NDArray[np.bool_]
    sign: Floats  # +1 where higher is better, else −1
    error: Floats  # of one trial of one side
    side_sd: Floats
    lead_right: Floats  # expected difference, right less left, of right-dominant people
    lead_left: Floats
    by_hand: npt.NDArray[np.bool_]
    has_lead: npt.NDArray[np.bool_]


@cache
def figures() -> Figures:
    """The figures of the catalogue, once."""
    known = measures().all
    return Figures(
        is_log=np.array([m.scale == Scale.LOG for m in known]),
        sign=np.array([-1.0 if m.better == Better.LOWER else 1.0 for m in known]),
        error=np.array([trial_error(m) for m in known]),
        side_sd=np.array([from_shown(m.side_sd, m.formula) for m in known]),
        lead_right=np.array([from_shown(m.lead.right_dominant, m.formula) for m in known]),
        lead_left=-np.array([from_shown(m.lead.left_dominant, m.formula) for m in known]),
        by_hand=np.array([m.lead.by == LeadBy.HAND for m in known]),
        has_lead=np.array([m.lead.by != LeadBy.NONE for m in known]),
    )


@dataclass(frozen=True)
class Sessions:
    """One entry for each file, athlete, day and measure with values of both sides.

    `d` is right less left on the comparison scale, positive where the right side performs
    better; `variance` is what error of trials and of the day leave open about it; `level` is
    the mean of both sides on that scale.
    """

    entry: Ints
    athlete: Ints
    day: Ints
    measure: Ints
    d: Floats
    variance: Floats
    level: Floats

    def without(self, tests: Iterable[tuple[int, int]]) -> "Sessions":
        """The sessions of all but these files and measures."""
        kept = np.ones(len(self.d), dtype=np.bool_)
        for entry, measure in tests:
            kept &= ~((self.entry == entry) & (self.measure == measure))
        return Sessions(**{part.name: getattr(self, part.name)[kept] for part in fields(self)})


def side_sessions(rows: pl.DataFrame, day_share: float) -> Sessions:
    """Mean score of each side and session; sessions with one side only are left out.

    `day_share`: day-to-day SD of a side, as a share of the error of one trial.
    """
    fig = figures()
    measure = rows["measure"].to_numpy().astype(np.int64)
    value = rows["value"].to_numpy().astype(np.float64)
    is_log = fig.is_log[measure]
    is_used = (rows["side"].to_numpy() <= RIGHT) & ~(is_log & (value <= 0))
    rows, measure, value = rows.filter(pl.Series(is_used)), measure[is_used], value[is_used]
    is_log = is_log[is_used]
    score = np.where(is_log, np.log(np.where(is_log, value, 1.0)), value)
    score = np.where(is_log, score, score * rows["factor"].to_numpy()) * fig.sign[measure]
    at = {name: rows[name].to_physical().to_numpy().astype(np.int64) for name in SESSION}
    number = combined(*at.values())
    count = int(number.max(initial=-1)) + 1
    first = np.zeros(count, dtype=np.int64)
    first[number[::-1]] = np.arange(len(number))[::-1]
    is_right = rows["side"].to_numpy() == RIGHT
    n = [np.bincount(number, weights=side, minlength=count) for side in (~is_right, is_right)]
    sums = [
        np.bincount(number, weights=score * side, minlength=count) for side in (~is_right, is_right)
    ]
    both = (n[LEFT] > 0) & (n[RIGHT] > 0)
    left, right = sums[LEFT][both] / n[LEFT][both], sums[RIGHT][both] / n[RIGHT][both]
    at = {name: values[first][both] for name, values in at.items()}
    place = at["measure"]
    trial = fig.error[place] ** 2
    spread = trial * (1 / n[LEFT][both] + 1 / n[RIGHT][both] + 2 * day_share**2)
    return Sessions(**at, d=right - left, variance=spread, level=(left + right) / 2)


def combined(*columns: Ints) -> Ints:
    """Combinations of whole numbers, numbered from 0 in ascending order."""
    key = np.zeros(len(columns[0]), dtype=np.int64)
    size = 1
    for column in columns:
        low = int(column.min(initial=0))
        width = int(column.max(initial=0)) - low + 1
        key = key * width + (column - low)
        size *= width
    if size > 8 * len(key) + MOST_LISTED:
        return np.unique(key, return_inverse=True)[1].astype(np.int64)
    is_there = np.zeros(size, dtype=np.bool_)
    is_there[key] = True
    places: Ints = np.cumsum(is_there) - 1
    return places[key]


def expected_lead(sessions: Sessions, people: People) -> Floats:
    """The difference that dominance lets expect of each session; 0 where it says nothing."""
    fig = figures()
    hand, foot = _dominant(people.hand), _dominant(people.foot)
    by_hand = fig.by_hand[sessions.measure]
    dominant = np.where(by_hand, hand[sessions.athlete], foot[sessions.athlete])
    lead = np.where(dominant > 0, fig.lead_right[sessions.measure], fig.lead_left[sessions.measure])
    return np.where(fig.has_lead[sessions.measure] & (dominant != 0), lead, 0.0)


def _dominant(sides: pl.Series) -> Ints:
    """+1 for the right side, −1 for the left, 0 where both or not known."""
    codes = sides.cast(pl.Int64).replace_strict({0: -1, 1: 1}, default=0, return_dtype=pl.Int64)
    return codes.fill_null(0).to_numpy()
