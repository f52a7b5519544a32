"""What people are called on pages that name several."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.report.text import words
from pipeline.report.text.phrases import say_of
from pipeline.review.week import Week
from schemas.vocabulary import Availability

ROLE_LETTERS = 48


def names_of(squad: str, week: Week) -> dict[str, str]:
    """Names by athlete id; two athletes of one name are told apart by their ids."""
    own = week.athletes.filter(pl.col("squad") == squad).select("athlete_id", "name")
    own = own.sort("athlete_id")
    shared = set(own.filter(pl.col("name").is_duplicated())["name"])
    return {who: f"{name} ({who})" if name in shared else name for who, name in own.iter_rows()}


def role_of(athlete: Mapping[str, Any]) -> str:
    """`wing, modified`: the position, else the id, and the availability where it is not full."""
    parts = [words.cut(athlete["position"] or athlete["athlete_id"], ROLE_LETTERS)]
    if athlete["availability"] != Availability.FULL:
        parts.append(say_of("pack.availability", athlete["availability"]))
    return ", ".join(parts)
