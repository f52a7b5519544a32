"""The history of decisions: who decided what when, and what came of it."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.report.page_models import Table
from pipeline.report.text import words
from pipeline.report.text.names import name_of
from pipeline.report.text.phrases import say, say_of, titles
from pipeline.review.week import Week
from schemas.vocabulary import Family


def history_table(names: Mapping[str, str], week: Week) -> Table:
    """Every decision about these athletes, the newest first: what came of it."""
    own = week.decided.filter(pl.col("athlete_id").is_in(list(names))).sort(
        "decided_on", "athlete_id", "flag_id", "place", descending=[True, False, False, True]
    )
    rows = []
    for row in own.iter_rows(named=True):
        ended = words.short_day(row["ended_on"], week.as_of) if row["ended_on"] else ""
        became = say_of("decided.became", row["became"])
        rows.append(
            (
                words.short_day(row["decided_on"], week.as_of),
                names[row["athlete_id"]],
                topic(row, week),
                str(row["decision"]),
                row["owner"] or "–",
                words.short_day(row["review_on"], week.as_of) if row["review_on"] else "–",
                words.cut(row["note"] or "–"),
                say("decided.on", became=became, day=ended) if ended else became,
            )
        )
    return Table(titles("decided.head"), tuple(rows), ())


def topic(row: Mapping[str, Any], week: Week) -> str:
    """The short name of what a flag is about."""
    name = str(row["topic"])
    if row["family"] == Family.TRAINING:
        part = name.removesuffix("_body")
        return words.one_sided_work("other:other" if part == "other" else part)
    return name_of(name, week)
