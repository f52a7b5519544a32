"""On which days a squad tests next: on its usual weekday, strength on another."""

from collections import Counter
from datetime import date, timedelta

import polars as pl

from pipeline.review.week import Week

HABIT_WEEKS = 26  # back, in which test days show on which weekday a squad tests
HABIT_DAYS = 2  # on one weekday make it a usual one
WEEK = timedelta(days=7)


def next_test_day(squad: str, week: Week) -> date:
    """The next of the weekday on which a squad usually tests; a week on where none is usual.

    A weekday is usual with at least two test days of the last half year, and as many as any other;
    a day counts by the athletes tested. Where nearly everybody is off it is the nearest other day.
    """
    sessions, as_of = week.sessions.filter(pl.col("squad") == squad), week.as_of
    near = week.catalogue.test_day.near
    since = as_of - HABIT_WEEKS * WEEK
    tested = sessions.filter((pl.col("tested_on") > since) & (pl.col("tested_on") <= as_of))
    days = tested.group_by("tested_on").agg(pl.col("athlete_id").n_unique().alias("athletes"))
    most = max(days["athletes"].to_list(), default=0)
    counts = Counter(
        day.weekday() for day, athletes in days.iter_rows() if 2 * athletes >= most
    )  # half of the largest day: who catches up alone makes no test day of a squad
    usual = [weekday for weekday, count in counts.items() if count >= HABIT_DAYS]
    if not usual:
        return near(as_of + WEEK, as_of)
    chosen = min(usual, key=lambda weekday: (-counts[weekday], weekday))
    return near(as_of + timedelta(days=(chosen - as_of.weekday() - 1) % 7 + 1), as_of)


def second_test_day(squad: str, day: date, week: Week) -> date:
    """The day of strength after a test day: one for the squad, so that a station is set up once.

    It is the first weekday on which the squad usually trains, once the days between have passed.
    """
    rules = week.catalogue.test_day
    least = day + timedelta(days=rules.second_day.days)
    trained = week.sets.filter(
        (pl.col("squad") == squad) & (pl.col("trained_on") > week.as_of - HABIT_WEEKS * WEEK)
    )
    counts = Counter(one.weekday() for one in trained["trained_on"].unique())
    later = [least + timedelta(days=number) for number in range((day + WEEK - least).days)]
    open_ = [one for one in later if not rules.is_off(one)]
    return next((one for one in open_ if counts[one.weekday()] >= HABIT_DAYS), open_[0])
