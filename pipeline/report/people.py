"""What people are called on pages that name several."""

import polars as pl

from pipeline.review.week import Week


def names_of(squad: str, week: Week) -> dict[str, str]:
    """Names by athlete id; two athletes of one name are told apart by their ids."""
    own = week.athletes.filter(pl.col("squad") == squad).select("athlete_id", "name")
    own = own.sort("athlete_id")
    shared = set(own.filter(pl.col("name").is_duplicated())["name"])
    return {who: f"{name} ({who})" if name in shared else name for who, name in own.iter_rows()}
