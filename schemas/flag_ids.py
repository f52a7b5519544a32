"""Ids of flags, `<athlete>.<topic>.<family>`: put together and taken apart here, nowhere else.

The topic is a measure, an exercise, a sign of a note or a part of the body. An athlete's id may
hold dots itself, a topic and a family never do.
"""

import polars as pl

from schemas.vocabulary import Family

PARTS = ("athlete_id", "topic", "family")


def flag_id(topic: str | pl.Expr, family: Family) -> pl.Expr:
    """The id of the flag of `athlete_id` about a topic (a column)."""
    return pl.concat_str("athlete_id", pl.lit("."), topic, pl.lit(f".{family}")).alias("flag_id")


def joined(athlete_id: str, topic: str, family: str) -> str:
    """The id of one flag."""
    return f"{athlete_id}.{topic}.{family}"


def parted(text: str) -> tuple[str, str, str] | None:
    """Athlete, topic and family of one id; None where it has no three parts."""
    parts = tuple(part.strip() for part in text.strip().rsplit(".", 2))
    return (parts[0], parts[1], parts[2]) if len(parts) == 3 and all(parts) else None


def part_of(name: str, column: str = "flag_id") -> pl.Expr:
    """One part (`athlete_id`, `topic` or `family`) of a column of ids; null where there is none."""
    return (
        pl.col(column).str.extract(r"^(.+)\.([^.]+)\.([^.]+)$", PARTS.index(name) + 1).alias(name)
    )
