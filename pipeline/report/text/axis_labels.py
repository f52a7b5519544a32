"""Axes of the charts: which ticks, and what stands at them."""

from datetime import date

from pipeline.report.text import words
from pipeline.report.text.phrases import say


def balance_labels(reach: float, unit: str) -> dict[float, str]:
    """The size of a difference at each tick; which side it is stands at the ends."""
    return {tick: _tick(tick, unit) if tick else "0" for tick in _ticks(reach, unit)}


def trend_labels(reach: float, unit: str) -> dict[float, str]:
    """The side that is ahead and by how much at each tick."""
    return {
        tick: say("chart.right" if tick > 0 else "chart.left", amount=_tick(tick, unit))
        if tick
        else say("chart.middle")
        for tick in _ticks(reach, unit)
    }


def _tick(value: float, unit: str) -> str:
    return words.with_unit(words.marked(f"{abs(value):g}"), unit)


def _ticks(reach: float, unit: str) -> list[float]:
    """At most two round steps on each side of zero, none finer than the tests are."""
    finest = 10.0 ** -words.DECIMALS.get(unit, 1)
    for magnitude in (0.01, 0.1, 1.0, 10.0, 100.0):
        for step in (1, 2, 2.5, 5):
            size = step * magnitude
            is_printed_whole = abs(size / finest - round(size / finest)) < 1e-6
            if reach / size < 3 and is_printed_whole and round(size / finest) >= 1:
                count = int(reach / size)
                return [round(n * size, 6) for n in range(-count, count + 1)]
    return [0.0]


def day_labels(first: date, last: date) -> dict[float, str]:
    """The first and last day of a trend, as numbers of days; a long one has one between."""
    middle = first + (last - first) / 2
    days = [first, middle, last] if (last - first).days > 40 else [first, last]
    return {day.toordinal(): words.short_day(day, last) for day in days}
