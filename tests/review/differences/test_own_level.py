"""Each side against its own level before a date in the roster."""

from datetime import date
from typing import Any

import polars as pl
import pytest

from pipeline.catalogue import full_catalogue
from pipeline.report.sections.work_done import own_level_line
from pipeline.review.differences.earlier_level import own_levels

MEASURES = full_catalogue().measures
SINCE = date(2026, 3, 1)
ATHLETES = pl.DataFrame({"athlete_id": ["A1", "A2"], "known_since": [SINCE, None]})


def values(measure: str, rows: list[tuple[date, float, float]], who: str = "A1") -> pl.DataFrame:
    long: list[dict[str, Any]] = [
        {
            "athlete_id": who,
            "measure": measure,
            "tested_on": day,
            "side": side,
            "mean_value": value,
            "pain": None,
        }
        for day, left, right in rows
        for side, value in (("left", left), ("right", right))
    ]
    return pl.DataFrame(long, schema_overrides={"pain": pl.Float64})


BEFORE = [(date(2026, 1, 5), 150.0, 160.0), (date(2026, 2, 2), 154.0, 164.0)]


def test_even_sides_that_both_fell_are_both_behind() -> None:
    """Median before: left 152, right 162; now 121.6 and 129.6, 80 of 100 each."""
    frame = values("single_hop", [*BEFORE, (date(2026, 9, 7), 121.6, 129.6)])
    row = own_levels(frame, ATHLETES, MEASURES).row(0, named=True)
    assert (row["left_share"], row["right_share"]) == (pytest.approx(80), pytest.approx(80))
    assert (row["day_count"], row["both_behind"]) == (2, True)
    line = own_level_line(row, "left", MEASURES["single_hop"]).replace("\xa0", " ")
    assert line == (
        "In “Single hop” your left side is at 80 of 100 of what it did before 1 March 2026, your "
        "right at 80. Both sides are still coming back, so both get full work."
    )


def test_one_side_that_is_back_is_not_both_behind() -> None:
    frame = values("single_hop", [*BEFORE, (date(2026, 9, 7), 121.6, 160.0)])
    row = own_levels(frame, ATHLETES, MEASURES).row(0, named=True)
    assert not row["both_behind"]
    assert own_level_line(row, None, MEASURES["single_hop"]).endswith(
        "left side is at 80 of 100 of what it did before 1\xa0March\xa02026, your right at 99."
    )


def test_a_quicker_time_is_the_better_one() -> None:
    rows = [(date(2026, 1, 5), 2.0, 2.0), (date(2026, 9, 7), 2.5, 2.0)]
    row = own_levels(values("timed_hop_6m", rows), ATHLETES, MEASURES).row(0, named=True)
    assert (row["left_share"], row["right_share"]) == (pytest.approx(80), pytest.approx(100))


def test_without_a_date_or_without_a_test_in_the_weeks_before_there_is_no_level() -> None:
    now = (date(2026, 9, 7), 121.6, 129.6)
    assert own_levels(values("single_hop", [*BEFORE, now], "A2"), ATHLETES, MEASURES).is_empty()
    old = [(date(2025, 9, 1), 150.0, 160.0), now]
    assert own_levels(values("single_hop", old), ATHLETES, MEASURES).is_empty()
