"""Days of a meeting's sheet that have no year, or are said as a span of time."""

import re
from collections.abc import Iterable
from datetime import date, timedelta

from pipeline.intake.parse.dates import MONTH_OF, Order

NUMERIC = re.compile(r"^(\d{1,2})\s?([-/.])\s?(\d{1,2})\.?$")
DAY_NAME = re.compile(r"^(\d{1,2})(?:st|nd|rd|th)?[-/. ]*(?:of )?([^\W\d_]{3,9})\.?$")
NAME_DAY = re.compile(r"^([^\W\d_]{3,9})\.?[- ]*(\d{1,2})(?:st|nd|rd|th)?\.?$")
WEEKDAY = re.compile(r"^(?:on\s+)?(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+")
SPAN = re.compile(r"^(?:in\s+|after\s+|\+\s*)?(\d{1,2})\s*(d|days?|w|wks?|weeks?)\.?(?:\s+time)?$")
NO_DAY = "is not a date; expected one such as 2024-03-28, 28 March or 28/3"
LAST_YEARS = 8  # 29 February comes within so many years


def settled(texts: Iterable[str], order: Order) -> Order:
    """What comes first in 13/11, by the days without a year and those with one of the file."""
    pairs = [(int(m[1]), int(m[3])) for text in texts if (m := NUMERIC.match(_plain(text)))]
    is_day = any(first > 12 >= second for first, second in pairs)
    is_month = any(second > 12 >= first for first, second in pairs)
    if is_day and is_month:
        return "both"
    return "day" if is_day else "month" if is_month else order


def read_day(text: str, after: date, order: Order, *, is_order_known: bool) -> date | str:
    """The next such day after `after`, else why it cannot be told."""
    plain = _plain(text)
    if found := SPAN.match(plain):
        days = int(found[1]) * (7 if found[2].startswith("w") else 1)
        return after + timedelta(days=days)
    if found := DAY_NAME.match(plain):
        return _next(after, int(found[1]), MONTH_OF.get(found[2]))
    if found := NAME_DAY.match(plain):
        return _next(after, int(found[2]), MONTH_OF.get(found[1]))
    found = NUMERIC.match(plain)
    if found is None:
        return NO_DAY
    first, second = int(found[1]), int(found[3])
    if found[2] == "." or first > 12 or first == second:
        return _next(after, first, second)
    if second > 12:
        return _next(after, second, first)
    if not is_order_known or order not in ("day", "month"):
        return (
            f"can mean day {first}, month {second} or the reverse; "
            "expected one such as 2024-03-28 or 28 March"
        )
    return _next(after, first, second) if order == "day" else _next(after, second, first)


def _plain(text: str) -> str:
    return WEEKDAY.sub("", text.strip().casefold())


def _next(after: date, day: int, month: int | None) -> date | str:
    for year in range(after.year, after.year + LAST_YEARS + 1):
        try:
            found = date(year, month or 0, day)
        except ValueError:
            continue
        if found > after:
            return found
    return NO_DAY
