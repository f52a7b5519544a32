"""Whom a refused row or a cell left blank is about, and whether it bears on their care.

Nobody may be told that all is well while something about pain, availability, a note or a decision
could not be read.
"""

from collections.abc import Sequence
from typing import Protocol

import polars as pl

from pipeline.intake.account.faults import FAULT, Faults
from pipeline.intake.account.ledger import REFUSED, Ledger, Run
from pipeline.intake.parse.pain import pain_of
from pipeline.intake.parse.values import read_words
from pipeline.intake.recognise.tables import Table
from pipeline.intake.rows.cells import Reader
from pipeline.intake.rows.people import People
from schemas.contracts.flag_ids import part_of
from schemas.vocabulary import BearsOn, Export

# Cells left blank that bear on somebody's care, by our name of the column. Those of decisions are
# asked about beside their flags, until a later list answers (`review/decisions/standing.py`).
BEARING = {
    "pain": BearsOn.PAIN,
    "availability": BearsOn.AVAILABILITY,
}
# What a refused row of these kinds bears on, whatever its cells hold.
OF_KIND: dict[str, BearsOn] = {
    Export.ROSTER: BearsOn.AVAILABILITY,
    Export.DECISIONS: BearsOn.DECISION,
}
UNREAD = {
    **REFUSED,
    "who": pl.String,  # the cell that says whom the row is about, as it stands
    "athlete_id": pl.String,  # of the roster; null where it is nobody there
    "noted_on": pl.Date,  # day of the row; null where it has none
    "bears_on": pl.String,  # `BearsOn`; null where on none of them
}


ABOUT = ("row", "who", "athlete_id", "noted_on", "bears_on")
DAYS = ("tested_on", "trained_on", "filmed_on", "listed_on")


SAME = ("kind", "who", "original", "about", "value", "bears_on")  # in which a repeat is one


class Placed(Protocol):
    """A table and the place of its rows in the account."""

    @property
    def table(self) -> Table:
        """The table."""

    @property
    def reader(self) -> Reader:
        """How its file is read."""

    @property
    def run(self) -> Run:
        """Where its rows stand."""


def settled_cells(
    rows: pl.DataFrame, keys: pl.Series, name: str, unread_rows: pl.Series
) -> pl.Series:
    """Rows whose unread cell in this column another row of their key has settled since (UInt32).

    `rows` holds all versions, with `has_<name>`; `keys` says which belong together. A later row
    that says something, or the same unread cell once more, settles what stood before.
    """
    is_unread = pl.col("row").is_in(unread_rows.implode())
    is_said = pl.col(f"has_{name}") & pl.col(name).is_not_null()  # a blank cell answers nothing
    frame = rows.select("row", is_unread.alias("is_unread"), is_said.alias("is_said"))
    frame = frame.with_columns(keys)
    last = (
        frame.filter(pl.col("is_said") | pl.col("is_unread"))
        .group_by("key")
        .agg(pl.col("row").max().alias("last"))
    )
    still = frame.filter("is_unread").join(last, on="key").filter(pl.col("row") == pl.col("last"))
    return unread_rows.filter(
        unread_rows.is_in(rows["row"].implode()) & ~unread_rows.is_in(still["row"].implode())
    )


def unread(
    ledger: Ledger, placed: Sequence[Placed], people: People, settled: pl.Series
) -> pl.DataFrame:
    """Refused rows and cells left blank in the order of the files; columns of `UNREAD`.

    Cells left blank of the `settled` rows bear on nobody any more; of a row that stands in several
    files, as devices export everything again each week, the last is asked about.
    """
    refused = ledger.refused()
    if refused.is_empty():
        return pl.DataFrame(schema=UNREAD)
    parts = [_about_table(refused, one, people) for one in placed]
    told = pl.concat([part for part in parts if part is not None] or [_nothing()])
    is_stray = ~pl.col("row").is_in(told["row"].implode())
    return (
        refused.join(told.unique("row"), on="row", how="left", maintain_order="left")
        .with_columns(
            bears_on=pl.when(pl.col("row_kept") & pl.col("row").is_in(settled.implode()))
            .then(None)
            .when("row_kept")
            .then(pl.col("about").replace_strict(BEARING, default=None, return_dtype=pl.String))
            # A row that no table holds may have said anything.
            .when(is_stray & (pl.col("kind") != ""))
            .then(
                pl.col("kind").replace_strict(OF_KIND, default=BearsOn.NOTE, return_dtype=pl.String)
            )
            .otherwise("bears_on")
        )
        .with_columns(
            pl.when(pl.struct(SAME).is_last_distinct()).then("bears_on").alias("bears_on")
        )
        .select(pl.col(name).cast(kind) for name, kind in UNREAD.items())
    )


def _nothing() -> pl.DataFrame:
    return pl.DataFrame(schema={name: {**FAULT, **UNREAD}[name] for name in ABOUT})


def _about_table(refused: pl.DataFrame, placed: Placed, people: People) -> pl.DataFrame | None:
    start, height = placed.run.start, placed.run.cells.height
    rows = refused["row"].filter(refused["row"].is_between(start, start + height, closed="left"))
    if rows.is_empty():
        return None
    inside, table = rows - start, placed.table

    def cells(name: str) -> pl.Series:
        column = table.column(name)
        if column is None:
            return pl.Series(name, [None], dtype=pl.String).new_from_index(0, len(inside))
        return read_words(table.text(column).gather(inside)).rows.alias(name)

    who = cells("flag_id" if table.kind == Export.DECISIONS else "athlete_id")
    ids = who
    if table.kind == Export.DECISIONS:
        ids = who.alias("flag_id").to_frame().select(part_of("athlete_id")).to_series()
    said, note = cells("pain"), cells("note")
    pain = pain_of(said)
    hurts = said.is_not_null() & (pain.is_null() | (pain > 0))
    bears_on = pl.select(
        pl.when(pl.lit(table.kind in OF_KIND))
        .then(pl.lit(OF_KIND.get(table.kind)))
        .when(hurts)
        .then(pl.lit(BearsOn.PAIN))
        .when(note.is_not_null())
        .then(pl.lit(BearsOn.NOTE))
    ).to_series()
    if len(bears_on) != len(rows):  # one answer for all rows
        bears_on = bears_on.new_from_index(0, len(rows))
    place = people.find(ids)
    return pl.DataFrame(
        {
            "row": rows,
            "who": who,
            "athlete_id": people.ids.gather(place),
            "noted_on": _days(placed, inside),
            "bears_on": bears_on.cast(pl.String),
        }
    )


def _days(placed: Placed, rows: pl.Series) -> pl.Series:
    """Days of these rows of a table, null where it has none or they cannot be read."""
    column = next((c for c in placed.table.reading.columns if c.name in DAYS), None)
    if column is None:
        return pl.Series([None], dtype=pl.Date).new_from_index(0, len(rows))
    words = read_words(placed.table.text(column).gather(rows))
    return placed.reader.dates(column, words, Faults(frozenset()))
