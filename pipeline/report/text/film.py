"""What the latest film review found, in words an athlete reads."""

from datetime import date

import polars as pl

from pipeline.report.text import words
from pipeline.report.text.phrases import say
from schemas.vocabulary import Finding


def film_lines(film: pl.DataFrame, as_of: date, *, with_notes: bool) -> list[str]:
    """What the latest film review found, exercise by exercise."""
    if film.is_empty():
        return []
    latest = film.filter(pl.col("filmed_on") == film["filmed_on"].max()).sort(
        "exercise_name", "checkpoint", "side"
    )
    lines = [
        say(
            "film.point",
            exercise=row["exercise_name"],
            side=words.side_name(row["side"]),
            checkpoint=row["checkpoint"].rstrip(".!?:;, "),  # the sentence ends by itself
        )
        + (f" ({row['note']})" if row["note"] and with_notes else "")
        for row in latest.filter(pl.col("finding") == Finding.ADJUST).iter_rows(named=True)
    ]
    day = words.short_day(latest["filmed_on"][0], as_of)
    if lines:
        return [say("film.points", day=day, points="; ".join(lines))]
    seen = set(latest["side"])
    if {"left", "right"} <= seen or "both" in seen:
        return [say("film.fine", day=day)]
    return [say("film.fine_side", day=day, side=words.side_name(latest["side"][0]))]
