"""Dates as people write them."""

from datetime import date

import polars as pl
import pytest

from pipeline.intake.parse.dates import BIRTHS, TESTS, Order, read_dates, settle_order

FIFTH_OF_MARCH = [
    "2024-03-05", "2024-3-5", "2024-03-05 10:22:00", "2024-03-05T10:22:11Z", "2024/03/05",
    "2024.03.05", "20240305", "05/03/2024", "05.03.2024", "5.3.24", "5/3/24", "5 Mar 2024",
    "5 March 2024", "Mar 5, 2024", "March 5th 2024", "5-Mar-24", "Mon 5 March 2024",
    "05/03/2024 9:15 AM", "5. März 2024",
]  # fmt: skip
NO_DATES = ["2024-02-30", "31/02/2024", "soon", "24-03-05", "5/3", "2024", "45356"]


def read(text: str, order: Order = "day", is_workbook: bool = False) -> date | None:
    return read_dates(pl.Series([text]), order, TESTS, is_workbook)["date"][0]


@pytest.mark.parametrize("text", FIFTH_OF_MARCH)
def test_a_day_is_read_however_it_is_written(text: str) -> None:
    assert read(text) == date(2024, 3, 5)


@pytest.mark.parametrize("text", NO_DATES)
def test_what_is_no_date_is_not_made_one(text: str) -> None:
    assert read(text) is None


def test_month_first_turns_the_numeric_dates_only() -> None:
    assert read("03/05/2024", "month") == date(2024, 3, 5)
    assert read("2024-03-05", "month") == date(2024, 3, 5)
    assert read("5 Mar 2024", "month") == date(2024, 3, 5)


def test_day_numbers_are_dates_only_in_a_workbook() -> None:
    # 45356 days after 1899-12-30.
    assert read("45356", is_workbook=True) == date(2024, 3, 5)


ORDERS: list[tuple[list[str], Order]] = [
    (["05/03/2024"], "either"),
    (["05/05/2024"], "day"),
    (["05.03.2024"], "day"),
    (["05/03/2024", "13/03/2024"], "day"),
    (["05/03/2024", "03/13/2024"], "month"),
    (["13/03/2024", "03/13/2024"], "both"),
    (["2024-01-01"], "day"),
    (["31/13/2024", "05/03/2024"], "either"),
    (["35/14/2024"], "day"),
    ([f"{day}/03/2024" for day in range(13, 32)] + ["03/13/2024"], "both"),
    ([f"{day}/03/2024" for day in range(13, 32)] + ["14/04/2024", "03/13/2024"], "day"),
]


@pytest.mark.parametrize(("texts", "order"), ORDERS)
def test_the_whole_file_settles_what_comes_first(texts: list[str], order: Order) -> None:
    assert settle_order(pl.Series(texts)) == order


@pytest.mark.parametrize("text", ["35/14/2024", "32/01/2024", "13/13/2024"])
def test_numbers_that_are_no_date_whichever_comes_first_are_told_so(text: str) -> None:
    told = read_dates(pl.Series([text]), "either", TESTS, False)["fault"][0]
    assert told == "is not a date; expected one such as 2024-03-28"


def test_two_digit_years_of_birth_lie_in_the_past() -> None:
    dates = read_dates(pl.Series(["31.12.98", "31.12.08"]), "day", BIRTHS, False)["date"]
    assert dates.to_list() == [date(1998, 12, 31), date(2008, 12, 31)]
