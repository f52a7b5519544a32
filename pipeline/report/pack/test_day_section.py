"""The next test day: which tests, and who. The sheet of that day has every cell to fill in."""

from collections.abc import Mapping

import polars as pl

from pipeline.report.page_models import Table
from pipeline.report.text import words
from pipeline.report.text.names import name_of
from pipeline.report.text.phrases import say, titles
from pipeline.review.week import Week
from schemas.plan_words import TestReason

NAMED, SHOWN = 6, 12
ASKED = (
    TestReason.RETEST,
    TestReason.LIST,
    TestReason.RUNNING,
    TestReason.OVERDUE,
)  # reasons that come from the list or a block


def tests_table(due: pl.DataFrame | None, names: Mapping[str, str], week: Week) -> Table:
    """Tests of the next test day, a test a row, in the order of the day.

    `due` is `mart_next_tests`, None where it could not be made. Of very many tests those are shown
    that the list asks for.
    """
    rows = []
    if due is not None:
        own = due.filter(pl.col("athlete_id").is_in(list(names)))
        first = own["tested_on"].min()
        asked = pl.col("because").is_in(ASKED)
        tests = own.group_by("measure", maintain_order=True).agg(
            pl.col("athlete_id").sort_by(asked, descending=True, maintain_order=True),
            asked.sum().alias("asked"),
            pl.col("tested_on").first(),
        )
        shown = (
            tests.with_row_index("place")
            .sort("asked", "place", descending=[True, False])
            .head(SHOWN)
            .sort("place")
        )
        for measure, people, day in shown.select("measure", "athlete_id", "tested_on").iter_rows():
            who = [names[one] for one in people]
            test = name_of(measure, week)
            if day != first:  # the second of two days
                test = say("test_day.on", test=test, day=words.short_day(day, week.as_of))
            rows.append((test, str(len(who)), words.some(who, NAMED)))
    return Table(titles("test_day.head"), tuple(rows), (1,))


def day_title(due: pl.DataFrame | None, squad: str) -> str:
    """`Next test day: Tuesday, 24 November`, or both days; without a day where nobody is due."""
    own = [] if due is None else due.filter(pl.col("squad") == squad)["tested_on"].to_list()
    if not own:
        return say("test_day.title")
    days = [words.day_of_week(day) for day in sorted(set(own))]
    if len(days) == 1:
        return say("test_day.title_of", day=days[0])
    return say("test_day.title_of_two", first=days[0], second=days[1])
