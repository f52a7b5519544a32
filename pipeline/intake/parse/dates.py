"""Dates as people write them; the whole file settles whether the day or the month comes first."""

from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.catalogue import header_key

Order = Literal["day", "month", "either", "both"]
"""What comes first in 03/04/2024; either: nothing in the file says; both: it contradicts itself."""

TIME = r"(?:[T ,]+[0-9]{1,2}[:.h][0-9]{2}.*)?$"
WEEKDAY = r"(?i)^(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+)"
YEAR_FIRST = r"^([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})" + TIME
COMPACT = r"^((?:19|20)[0-9]{2})([0-9]{2})([0-9]{2})$"
# Two-digit years not between hyphens: 24-03-05 is more often a year first than last.
YEAR_LAST = (
    r"^([0-9]{1,2})\s?([-/.])\s?([0-9]{1,2})\s?(?:[-/.]\s?([0-9]{4})|[/.]\s?([0-9]{2}))" + TIME
)
DAY_NAME = (
    r"(?i)^([0-9]{1,2})(?:st|nd|rd|th)?[-/. ]*(\p{L}{3,9})\.?[-/., ]*([0-9]{4}|[0-9]{2})" + TIME
)
NAME_DAY = r"(?i)^(\p{L}{3,9})\.?[- ]*([0-9]{1,2})(?:st|nd|rd|th)?[-, ]+([0-9]{4}|[0-9]{2})" + TIME
SERIAL = r"^([0-9]{5})(?:\.[0-9]+)?$"  # days since 1899-12-30, as spreadsheets count them
MONTHS = {
    1: ("january", "jan", "januar"),
    2: ("february", "feb", "februar"),
    3: ("march", "mar", "märz", "mär", "mrz"),
    4: ("april", "apr"),
    5: ("may", "mai"),
    6: ("june", "jun", "juni"),
    7: ("july", "jul", "juli"),
    8: ("august", "aug"),
    9: ("september", "sep", "sept"),
    10: ("october", "oct", "oktober", "okt"),
    11: ("november", "nov"),
    12: ("december", "dec", "dezember", "dez"),
}
MONTH_OF = {header_key(name): month for month, names in MONTHS.items() for name in names}
SLIPS = 20  # one date against so many others is a slip of the finger
TEXT = pl.col("text")


@dataclass(frozen=True)
class Span:
    """Dates outside these years are typing errors; `pivot` is the last 2-digit year of 20xx."""

    first_year: int
    last_year: int
    pivot: int


TESTS = Span(1980, 2099, 68)
BIRTHS = Span(1900, 2030, 25)


def settle_order(texts: pl.Series) -> Order:
    """What comes first in the numeric dates of one file; `texts` are all its distinct dates."""
    texts = texts.filter(texts.str.to_date("%Y-%m-%d", strict=False).is_null())
    if texts.is_empty():
        return "day"
    parts = _tidy(texts).select(TEXT.str.extract_groups(YEAR_LAST)).unnest("text")
    first, second = pl.col("1").cast(pl.Int64), pl.col("3").cast(pl.Int64)
    signs = parts.select(
        day=((first > 12) & (second <= 12)).sum(),
        month=((second > 12) & (first <= 12)).sum(),
        # 03.04.2024 is day-first wherever dots are used, and 05/05/2024 is the same either way.
        open=((pl.col("2") != ".") & (first != second) & _is_possible(first, second)).any(),
    )
    day, month, is_open = signs.row(0)
    if min(day, month) * SLIPS > max(day, month):
        return "both"
    if day or month:
        return "day" if day > month else "month"
    return "either" if is_open else "day"


def read_dates(texts: pl.Series, order: Order, span: Span, is_workbook: bool) -> pl.DataFrame:
    """Distinct texts as `date` (Date, null where unreadable) and `fault` (why, null where fine)."""
    plain = texts.str.to_date("%Y-%m-%d", strict=False)
    is_likely = plain.dt.year().is_between(span.first_year, span.last_year)
    if (is_likely.fill_null(False) | texts.is_null()).all():  # as devices write them
        return plain.alias("date").to_frame().with_columns(fault=pl.lit(None, pl.String))
    last = TEXT.str.extract_groups(YEAR_LAST)
    frame = _tidy(texts).with_columns(
        first=TEXT.str.extract_groups(YEAR_FIRST),
        compact=TEXT.str.extract_groups(COMPACT),
        last=last.struct.with_fields(year=pl.coalesce(pl.field("4"), pl.field("5"))),
        day_name=TEXT.str.extract_groups(DAY_NAME),
        name_day=TEXT.str.extract_groups(NAME_DAY),
        serial=TEXT.str.extract(SERIAL, 1).cast(pl.Int32),
    )
    first, second = (pl.col("last").struct.field(name).cast(pl.Int64) for name in ("1", "3"))
    is_numeric = first.is_not_null() & _is_possible(first, second)
    day, month = ("1", "3") if order != "month" else ("3", "1")
    settled = pl.lit(order in ("day", "month"))
    dates = pl.coalesce(
        _date("first", "1", "2", "3", span),
        _date("compact", "1", "2", "3", span),
        pl.when(settled).then(_date("last", "year", month, day, span)),
        _date("day_name", "3", "2", "1", span, is_named=True),
        _date("name_day", "3", "1", "2", span, is_named=True),
        pl.when(pl.lit(is_workbook) & pl.col("serial").is_between(20_000, 80_000)).then(
            pl.date(1899, 12, 30).dt.offset_by(pl.format("{}d", pl.col("serial")))
        ),
    )
    fault = _fault(is_numeric & ~settled, order, span)
    read = frame.with_columns(date=dates).with_columns(fault=fault)
    return read.select(date=pl.when(pl.col("fault").is_null()).then("date"), fault="fault")


def _fault(is_undecided: pl.Expr, order: Order, span: Span) -> pl.Expr:
    """Why a text gives no date; null where it does or is blank."""
    years = f"a year from {span.first_year} to {span.last_year}"
    return (
        pl.when(TEXT.is_null())
        .then(None)
        .when(is_undecided)
        .then(_undecided(order))
        .when(pl.col("date").is_null())
        .then(pl.lit("is not a date; expected one such as 2024-03-28"))
        .when(~pl.col("date").dt.year().is_between(span.first_year, span.last_year))
        .then(pl.lit(f"is not a likely date; expected {years}"))
    )


def _is_possible(first: pl.Expr, second: pl.Expr) -> pl.Expr:
    """Whether two numbers can be a day and a month at all."""
    return (pl.min_horizontal(first, second) <= 12) & (pl.max_horizontal(first, second) <= 31)


def _tidy(texts: pl.Series) -> pl.DataFrame:
    """The texts as `text`, without what stands around a date."""
    frame = texts.alias("text").to_frame()
    return frame.select(TEXT.str.strip_chars().str.replace(WEEKDAY, ""))


def _date(
    groups: str, year: str, month: str, day: str, span: Span, *, is_named: bool = False
) -> pl.Expr:
    part = pl.col(groups).struct
    number = part.field(year).cast(pl.Int32)
    century = pl.when(number <= span.pivot).then(2000).otherwise(1900)
    full = pl.when(part.field(year).str.len_bytes() == 2).then(number + century).otherwise(number)
    months = part.field(month)
    if is_named:
        name = months.str.to_lowercase()
        spelled = name.replace_strict(MONTH_OF, default=None, return_dtype=pl.Int8)
    else:
        spelled = months.cast(pl.Int8, strict=False)
    # Text, then date: a 31 February becomes null instead of an error.
    return pl.format(
        "{}-{}-{}",
        full.cast(pl.String).str.zfill(4),
        spelled.cast(pl.String).str.zfill(2),
        part.field(day).str.zfill(2),
    ).str.to_date("%Y-%m-%d", strict=False)


def _undecided(order: Order) -> pl.Expr:
    first, second = pl.col("last").struct.field("1"), pl.col("last").struct.field("3")
    if order == "both":
        return pl.lit(
            "cannot be read: some dates of this file have the day first and others the month; "
            "expected dates such as 2024-03-28"
        )
    return pl.format(
        "can mean day {}, month {} or the reverse, and no date in this file settles which; "
        "expected dates such as 2024-03-28",
        first,
        second,
    )
