"""Since when a flag is listed: what was known that day, so that no later test moves it."""

from datetime import date, timedelta
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import polars as pl

from pipeline.review.week import Week
from pipeline.settings import Settings
from tests.raw import trials_of, week

FIRST, WEEKS, PEOPLE = date(2026, 6, 1), 12, 16
DAYS = [FIRST + timedelta(weeks=n) for n in range(WEEKS)]
FROM = 3  # the first week whose list is looked at


@cache
def season() -> tuple[dict[str, Any], ...]:
    """A squad that tests two measures a week: some close, some widen, two lose a side at once.

    Its error grows in the second half, so that what is learned of it later differs from before.
    """
    rng = np.random.default_rng(11)
    rows: list[dict[str, Any]] = []
    for measure, level in (("single_hop", 150.0), ("grip_strength", 40.0)):
        for n in range(PEOPLE):
            begin, slope = 0.09 * rng.normal(), float(rng.choice([0.0, 0.0, 0.012, -0.012]))
            lost = int(rng.integers(5, 10)) if n in (3, 8) and measure == "single_hop" else WEEKS
            for number, day in enumerate(DAYS):
                if rng.random() < 0.12:
                    continue
                d = begin + slope * number - (0.33 if number >= lost else 0.0)
                d += (0.02 if number < 6 else 0.045) * rng.normal()
                left, right = level * np.exp(-d / 2), level * np.exp(d / 2)
                if number >= lost:
                    left, right = level, level * np.exp(d)
                rows += trials_of(measure, [day], left, right, athlete_id=f"P{n:02d}")
    for day, pain in ((DAYS[2], 6.0), (DAYS[5], 5.0), (DAYS[8], 6.0)):
        rows += trials_of("calf_raise_reps", [day], 20, 20, athlete_id="P01", pain=pain)
    for day in DAYS[6:]:
        rows += trials_of("calf_raise_reps", [day], 0, 20, athlete_id="P02")
    return tuple(rows)


@cache
def lists() -> dict[date, Week]:
    """The list of every week, made from what had been read by then."""
    found = {}
    for day in DAYS[FROM:]:
        known = [row for row in season() if row["tested_on"] <= day]
        found[day] = week(day, trials=known)
    return found


def first_days(known: Week) -> dict[str, date]:
    return dict(known.flags.select("flag_id", "first_flagged_on").iter_rows())


def test_the_first_day_of_a_flag_that_stays_listed_never_moves() -> None:
    weeks = list(lists().values())
    stayed = 0
    for before, after in pairwise(weeks):
        was, now = first_days(before), first_days(after)
        both = was.keys() & now.keys()
        assert {one: now[one] for one in both} == {one: was[one] for one in both}
        stayed += len(both)
    assert stayed > 40


def test_a_flag_is_listed_on_its_first_day_and_not_on_the_test_day_before() -> None:
    """But for what could not be known then, as a list of that week never was made."""
    checked = 0
    known = lists()
    last = known[DAYS[-1]].flags.filter(pl.col("first_flagged_on") > DAYS[FROM])
    for flag_id, first in last.select("flag_id", "first_flagged_on").iter_rows():
        assert flag_id in first_days(known[first])
        before = DAYS[DAYS.index(first) - 1]
        assert flag_id not in first_days(known[before])
        checked += 1
    assert checked > 4


def test_every_kind_of_flag_of_the_season_was_there() -> None:
    kinds = {
        (reason, kind)
        for known in lists().values()
        for reason, kind in known.flags.select("reason", "kind").iter_rows()
    }
    assert {("refer", "fall"), ("refer", "pain"), ("retest", "zero")} <= kinds
    assert {("confirmed", "difference"), ("retest", "difference")} <= kinds


def test_pain_again_and_again_has_been_listed_since_its_first_day() -> None:
    flags = lists()[DAYS[-1]].flags.filter(kind="pain")
    assert flags.select("athlete_id", "first_flagged_on", "sign_on").rows() == [
        ("P01", DAYS[2], DAYS[8])
    ]


def test_pain_after_the_last_one_ran_out_is_a_new_flag() -> None:
    days = [DAYS[0], DAYS[0] + timedelta(days=Settings().review.refer_days + 1)]
    rows = [row for day in days for row in trials_of("single_hop", [day], 150, 150, pain=6.0)]
    flags = week(days[1], trials=rows).flags.filter(kind="pain")
    assert flags["first_flagged_on"].to_list() == [days[1]]
