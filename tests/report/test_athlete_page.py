"""What an athlete finds where on the report, from one week to the next."""

from dataclasses import replace

import polars as pl
import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.write_pages import athlete_pages
from pipeline.review.week import Week
from tests.raw import trials_of, week
from tests.review.test_flags import AS_OF, DAYS, squad

TESTS = ("grip_strength", "single_hop", "triple_hop")


@pytest.fixture(scope="module")
def known() -> Week:
    return week(
        AS_OF,
        trials=[row for name in TESTS for row in squad(name) + trials_of(name, DAYS, 150, 150)],
    )


@pytest.mark.parametrize(
    ("chances", "rows"),
    [
        ((0.02, 0.01, 0.03), "Grip strength, Single hop, Triple hop"),  # nothing has happened:
        ((0.01, 0.03, 0.02), "Grip strength, Single hop, Triple hop"),  # each keeps its row
        ((0.01, 0.02, 0.31), "Triple hop, Grip strength, Single hop"),
        ((0.94, 0.99, 0.97), "Single hop, Triple hop, Grip strength"),
    ],
)
def test_rows_change_places_only_where_it_says_something(
    known: Week, chances: tuple[float, ...], rows: str
) -> None:
    given = pl.col("measure").replace_strict(dict(zip(TESTS, chances, strict=True)))
    given_week = replace(
        known, findings=known.findings.with_columns(given.alias("chance_over_line"))
    )
    page = dict(athlete_pages(given_week, blocks(given_week)))["A1"].make()
    assert ", ".join(row.label for row in page.balance) == rows
