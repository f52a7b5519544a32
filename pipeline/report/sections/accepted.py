"""What meetings have accepted: silent, and named here."""

from collections.abc import Mapping

import polars as pl

from pipeline.report.page_models import Table
from pipeline.report.text import words
from pipeline.report.text.names import name_of
from pipeline.report.text.phrases import say, titles
from pipeline.review.week import Week
from schemas.vocabulary import Reason


def accepted_table(squad: str, names: Mapping[str, str], week: Week) -> Table:
    """Each accepted flag of a squad: whose, what, since when, until when, why."""
    rows = []
    for row in week.accepted.filter(pl.col("squad") == squad).iter_rows(named=True):
        what = name_of(row["subject"], week)
        if row["reason"] == Reason.TRAINING:
            what = words.capital(words.one_sided_work(row["part"]))
        until = words.short_day(row["due_on"], week.as_of) if row["due_on"] else "–"
        rows.append(
            (
                names[row["athlete_id"]],
                what,
                words.short_day(row["decided_on"], week.as_of) if row["decided_on"] else "–",
                until,
                words.cut(row["decision_note"] or row["said"] or "–"),
            )
        )
    return Table(titles("accepted.head"), tuple(rows), ())


def accepted_line(squad: str, names: Mapping[str, str], week: Week) -> str:
    """One line of the pack: how many differences are accepted, and whose."""
    own = week.accepted.filter(pl.col("squad") == squad)
    whose = [names[who] for who in own["athlete_id"].unique(maintain_order=True)]
    if not whose:
        return ""
    return say("since.accepted", count=own.height, names=words.some(whose))
