"""What could not be read and bears on somebody's care: the first thing a meeting reads."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.control_characters import visible
from pipeline.report.sections.decisions_made import topic
from pipeline.report.text import decided, words
from pipeline.report.text.phrases import say
from pipeline.review.week import Week
from schemas.vocabulary import BearsOn

SHOWN = 10


def unread_rows(
    refused: pl.DataFrame, athlete_ids: list[str], as_of: date, days: int
) -> pl.DataFrame:
    """Refused rows and cells left blank that bear on the care of these athletes, or of strangers.

    `refused` is `raw_refused`. One row a cell or row; many rows of one file that were refused for
    one reason and name nobody are one (`row_count`). Pain and notes count for so many `days`, as
    they do where they can be read.
    """
    day = pl.col("noted_on")
    is_old = pl.col("bears_on").is_in([BearsOn.PAIN, BearsOn.NOTE]) & (
        day <= as_of - timedelta(days=days)
    )
    about = refused.filter(
        pl.col("bears_on").is_not_null()
        & (pl.col("athlete_id").is_null() | pl.col("athlete_id").is_in(athlete_ids))
        & ~is_old.fill_null(False)
        & (day <= as_of).fill_null(True)
    )
    one = pl.when(pl.col("who").is_null() & ~pl.col("row_kept")).then(pl.lit("all"))
    together = ["file", "sheet", "reason", "bears_on"]
    return (
        about.with_row_index("place")
        .with_columns(pl.coalesce(one, pl.col("place").cast(pl.String)).alias("each"))
        .group_by(*together, "each", maintain_order=True)
        .agg(pl.len().alias("row_count"), pl.all().exclude("place").first())
    )


def unread_lines(
    names: Mapping[str, str], week: Week, shown: int = SHOWN
) -> tuple[tuple[str, ...], int]:
    """Up to `shown` lines for the first page of a squad's pack, and how many more there are."""
    days = week.settings.review.refer_days
    rows = unread_rows(week.refused, list(names), week.as_of, days)
    asked = week.asked.filter(pl.col("athlete_id").is_in(list(names)))
    lines = [
        decided.question(row, names[row["athlete_id"]], topic(row, week), week.catalogue.rules)
        for row in asked.head(shown).iter_rows(named=True)
    ]
    lines += [_line(row, names) for row in rows.head(shown).iter_rows(named=True)]
    return tuple(lines[:shown]), max(0, asked.height + rows.height - shown)


def _line(row: Mapping[str, Any], names: Mapping[str, str]) -> str:
    row = {name: visible(cell) if isinstance(cell, str) else cell for name, cell in row.items()}
    file = (
        say("intake.sheet", file=row["file"], sheet=row["sheet"]) if row["sheet"] else row["file"]
    )
    place = say("unread.place", file=file, line=row["line"])
    who = names.get(row["athlete_id"] or "") or say("unread.nobody")
    if row["athlete_id"] is None and row["who"]:
        who = say("unread.stranger", who=words.cut(row["who"]))
    if row["row_kept"]:
        text = {"who": who, "value": words.cut(row["value"]), "place": place}
        if row["bears_on"] == BearsOn.PAIN:
            return say("unread.pain", **text)
        return say("unread.availability", **text)
    reason = row["reason"]
    if row["column"] and row["value"]:
        found = words.cut(row["value"])
        reason = say("unread.because", column=row["column"], value=found, reason=row["reason"])
    elif row["column"]:
        reason = say("unread.because_blank", column=row["column"], reason=row["reason"])
    if row["row_count"] > 1:
        rows = say("count.row", count=row["row_count"])
        return say("unread.rows", rows=rows, place=place, reason=reason)
    text = {"who": who, "place": place, "reason": reason}
    if row["bears_on"] == BearsOn.PAIN:
        return say("unread.row.pain", **text)
    if row["bears_on"] == BearsOn.NOTE:
        return say("unread.row.note", **text)
    if row["bears_on"] == BearsOn.AVAILABILITY:
        return say("unread.row.person", **text)
    return say("unread.row.decision", **text)
