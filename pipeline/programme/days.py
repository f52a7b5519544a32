"""Which of an athlete's own days a plan takes."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import combinations

WEEK = 7


def session_days(
    own: Sequence[int], wanted: int, worth: Callable[[int], float], apart: int = 2
) -> tuple[int | None, ...]:
    """Weekdays (0 is Monday) of the sessions, in the order of the week.

    As many as are wanted with `apart` days between them, those that are worth most, then those most
    evenly apart. Without days of one's own, any: None. `worth` says how well a day fits.
    """
    if not own:
        return (None,) * wanted
    for count in range(min(wanted, len(own)), 0, -1):
        fitting = [days for days in combinations(sorted(own), count) if _apart(days) >= apart]
        if fitting:
            return max(
                fitting,
                key=lambda days: (
                    sum(map(worth, days)), _apart(days), tuple(-day for day in days),
                ),
            )  # fmt: skip
    raise AssertionError("one day alone is always apart enough")


def _apart(days: Sequence[int]) -> int:
    """The least days between two of them, round the week."""
    if len(days) == 1:
        return WEEK
    following = [*days[1:], days[0] + WEEK]
    return min(then - day for day, then in zip(days, following, strict=True))


def next_day(after: date, weekday: int | None) -> date:
    """The first such weekday after a day; any: the day after."""
    if weekday is None:
        return after + timedelta(days=1)
    return after + timedelta(days=(weekday - after.weekday() - 1) % WEEK + 1)
