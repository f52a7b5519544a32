"""Ids of flags, `<athlete>.<topic>.<family>`, as people type them: put together and taken apart.

Those of the list are made in `flags_raised`, beside their parts in columns of their own.

The topic is a measure, an exercise, a sign of a note or a part of the body. An athlete's id may
hold dots itself, a topic and a family never do.
"""

import polars as pl

PARTS = ("athlete_id", "topic", "family")


def joined(athlete_id: str, topic: str, family: str) -> str:
    """The id of one flag."""
    return f"{athlete_id}.{topic}.{family}"


def parted(text: str) -> tuple[str, str, str] | None:
    """Athlete, topic and family of one id; None where it has no three parts."""
    parts = tuple(part.strip() for part in text.strip().rsplit(".", 2))
    return (parts[0], parts[1], parts[2]) if len(parts) == 3 and all(parts) else None


def part_of(name: str) -> pl.Expr:
    """One part (`athlete_id`, `topic` or `family`) of `flag_id`; null where there is none."""
    ids = pl.col("flag_id")
    return ids.str.extract(r"^(.+)\.([^.]+)\.([^.]+)$", PARTS.index(name) + 1).alias(name)
