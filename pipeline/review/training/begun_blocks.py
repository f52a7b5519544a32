"""The blocks of training that meetings decided on: whose, what about, from when to when."""

from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.settings import Settings
from schemas.vocabulary import Decision, Family

RUNNING = {"athlete_id": pl.String, "measure": pl.String, "began_on": pl.Date}


@dataclass(frozen=True)
class Start:
    """One decision to train: whose, what, from when to when."""

    flag_id: str
    athlete_id: str
    measure: Measure
    started_on: date
    ends_on: date


def starts(
    decisions: pl.DataFrame, book: Catalogue, as_of: date, settings: Settings
) -> list[Start]:
    """Decisions to train before the as-of date, about a measure that training can change.

    `decisions` are what stands (`stands`). What no exercise trains, such as a leg's length,
    begins none, whatever was decided.
    """
    weeks = int(Doses(book.rules.plan, settings.plan)("length", "weeks"))
    keyed = decisions.filter(
        (pl.col("decision") == Decision.TRAIN)
        & pl.col("family").is_in([Family.DIFFERENCE, Family.RATIO])
    )
    return [
        Start(
            row["flag_id"],
            row["athlete_id"],
            book.measures[row["topic"]],
            row["decided_on"],
            max(row["review_on"] or date.min, row["decided_on"] + timedelta(weeks=weeks)),
        )
        for row in keyed.sort("flag_id").iter_rows(named=True)
        if row["topic"] in book.measures
        and book.coaching.group_of(book.measures[row["topic"]], book.exercises).is_trained
        and row["decided_on"] < as_of
    ]


def running_blocks(
    decisions: pl.DataFrame, book: Catalogue, as_of: date, settings: Settings
) -> pl.DataFrame:
    """One row per athlete and measure with a block that runs at the as-of date: when it began."""
    rows = [
        (start.athlete_id, start.measure.id, start.started_on)
        for start in starts(decisions, book, as_of, settings)
        if start.ends_on >= as_of
    ]
    running = pl.DataFrame(rows, schema=RUNNING, orient="row")
    return running.group_by("athlete_id", "measure").agg(pl.col("began_on").max())
