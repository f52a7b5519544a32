"""What the charts show, as the pages' models hold it: numbers in the unit of their measure."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date


@dataclass(frozen=True)
class BalanceRow:
    """One line of a balance chart; numbers in the unit of its measure, positive = right higher."""

    label: str
    unit: str
    estimate: float
    low: float
    high: float
    days: tuple[float, ...]
    lead: float
    error: float  # half width of the band around the lead
    line: float | None
    sentence: str
    is_flagged: bool
    is_size: bool = False  # of a girth or a length, where no side is ahead


@dataclass(frozen=True)
class TrendPoint:
    """One test day of one measure: what was measured, and the smoothed history around it."""

    on: date
    measured: float
    smooth: float
    low: float
    high: float


@dataclass(frozen=True)
class Trend:
    """The history of one measure of one athlete, in the measure's unit."""

    title: str
    described: str  # what it shows, for whoever cannot see it
    unit: str
    points: tuple[TrendPoint, ...]
    line: float | None


@dataclass(frozen=True)
class StripRow:
    """One measure of a squad: where everybody is, in review lines beyond even; + is right ahead."""

    label: str
    sentence: str
    is_flagged: bool
    lead: float
    error: float  # half width of the band around the lead
    others: tuple[float, ...]
    listed: tuple[float, ...]
    is_size: bool


@dataclass(frozen=True)
class SidesRow:
    """Two amounts beside each other: what the left got and what the right."""

    label: str
    sentence: str
    is_flagged: bool
    left: float
    right: float


@dataclass(frozen=True)
class DotRow:
    """A value between 0 and 1 with its interval; None where there is none."""

    label: str
    sentence: str
    is_flagged: bool
    value: float | None
    low: float
    high: float


@dataclass(frozen=True)
class Levels:
    """Each side's own values of one test along time, and the work of each side week by week."""

    title: str
    described: str
    left: tuple[tuple[date, float], ...]
    right: tuple[tuple[date, float], ...]
    said: tuple[str, str]  # of the latest left and right value
    ends: tuple[str, str]  # the largest and the smallest value, as they are printed
    days: tuple[str, str]  # the first and the last
    earlier: tuple[float, float] | None  # the own level of each side, before a date in the roster
    earlier_said: str
    weeks: tuple[tuple[str, float, float], ...]  # day it began, repetitions left and right


def strip_as_shown(row: StripRow) -> StripRow:
    """The strip with its numbers as an eye can tell them apart."""

    def fit(value: float) -> float:
        return round(value, 2) + 0.0

    return replace(
        row, lead=fit(row.lead), error=fit(row.error),
        others=tuple(map(fit, row.others)), listed=tuple(map(fit, row.listed)),
    )  # fmt: skip


def as_shown(row: BalanceRow) -> BalanceRow:
    """The row with its numbers as an eye can tell them apart, so that a page stays the same."""
    numbers = (row.estimate, row.low, row.high, *row.days, row.lead, row.error, row.line or 0.0)
    fit = _fitting(numbers)
    return replace(
        row,
        estimate=fit(row.estimate),
        low=fit(row.low),
        high=fit(row.high),
        days=tuple(map(fit, row.days)),
        lead=fit(row.lead),
        error=fit(row.error),
        line=None if row.line is None else fit(row.line),
    )


def trend_as_shown(trend: Trend) -> Trend:
    """The trend with its numbers as an eye can tell them apart."""
    fit = _fitting(v for p in trend.points for v in (p.measured, p.low, p.high))
    return replace(
        trend,
        points=tuple(
            TrendPoint(p.on, fit(p.measured), fit(p.smooth), fit(p.low), fit(p.high))
            for p in trend.points
        ),
    )


def _fitting(numbers: Iterable[float]) -> Callable[[float], float]:
    """Rounds to the third digit of the largest: less than a dot's width on an axis that long."""
    largest = max(map(abs, numbers), default=0.0)
    places = 2 - math.floor(math.log10(largest)) if largest > 0 else 0
    return lambda number: round(number, places) + 0.0  # never -0.0
