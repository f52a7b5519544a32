"""Which rows of a kind stand: numbered alike, repeats and corrections settled."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.intake.account.ledger import Ledger
from pipeline.intake.rows.people import ROSTER
from pipeline.intake.rows.training_log import KEPT
from pipeline.intake.settle.bears_on_care import settled_cells
from pipeline.intake.settle.fullest_file import with_order
from pipeline.intake.settle.numbering import numbered
from pipeline.intake.settle.versions import Versions, dense_key, settle_versions

ATHLETE_AND_DAY = ("athlete_id", "measured_on")  # on another day it is another measurement
OF_ATHLETE = tuple(name for name in ROSTER if name not in ATHLETE_AND_DAY)
# What names a row of each kind, what makes a version of it, and which of that an export may lack.
VERSIONS = {
    "roster": (ATHLETE_AND_DAY, OF_ATHLETE, OF_ATHLETE),
    "trials": (
        ("athlete", "day", "measure", "side", "is_bare", "trial"),
        ("value", "factor", "pain", "note"),
        ("pain", "note"),
    ),
    "sets": (
        ("athlete", "day", "exercise", "side", "is_bare", "set_number"),
        ("reps", *KEPT),
        KEPT,
    ),
    "film": (("athlete", "day", "exercise", "side", "checkpoint"), ("finding", "note"), ()),
    # Two decisions about one flag on one list are two: the more cautious counts.
    "decisions": (
        ("flag_id", "listed_on", "said"),
        ("owner", "review_on", "review_said", "note", "decided_on", "listed_decision"),
        (),
    ),
}
# The number that rows of a kind carry, and in what equal rows are equal. Rows that hold pain or a
# note and no such value are bare: they are no trial and no set, and never stand for one.
NUMBERED = {"trials": ("trial", ("value",)), "sets": ("set_number", ("reps", "load_kg"))}
SAID = ("pain", "note")  # what tells equal values apart, where an export has it
# Cells that page 1 asks about where they cannot be read, and what names the row they are in.
ASKED = {
    "roster": ("availability", ("athlete_id",)),
    "trials": ("pain", ("athlete", "day", "measure", "side", "trial")),
    "sets": ("pain", ("athlete", "day", "exercise", "side", "set_number")),
}


@dataclass(frozen=True)
class Standing:
    """The rows that stand, how they came to, and rows whose unread cell is asked no more."""

    rows: pl.DataFrame
    versions: Versions
    settled_cells: pl.Series


def standing_rows(kind: str, rows: pl.DataFrame, ledger: Ledger) -> Standing:
    """Settle all rows of one kind of export; the ledger knows which cells were left blank."""
    key, content, lacking = VERSIONS[kind]
    if kind in NUMBERED:
        rows = _numbered(rows, key, *NUMBERED[kind])
    settled = pl.Series("row", [], dtype=pl.UInt32)
    if kind in ASKED:
        column, of = ASKED[kind]
        unread_rows = ledger.rows_without(column)
        if len(unread_rows):
            settled = settled_cells(rows, dense_key(rows, of)[0], column, unread_rows)
    versions = settle_versions(rows, key, content, {name: f"has_{name}" for name in lacking})
    stands = versions.rows
    if kind == "sets":
        stands = with_order(stands, rows, key)
    if kind in NUMBERED:
        stands = _bare_last(stands, key)
    return Standing(stands, versions, settled)


def _numbered(
    rows: pl.DataFrame, key: Sequence[str], number: str, value: Sequence[str]
) -> pl.DataFrame:
    """The rows with a number each; `is_bare` says which of them hold no value."""
    is_bare = rows[value[0]].is_null()
    rows = rows.with_columns(is_bare.alias("is_bare"))
    group = [name for name in key if name != number]
    is_open = rows[number].is_null() | is_bare
    if number == "trial":
        return numbered(rows, number, group, value, is_open, SAID)
    # Several sets under one number: it numbers something else, so they count as they stand.
    inside = dense_key(rows, ("entry", *group))[0]
    numbers, _ = dense_key(rows.select(number, inside=inside), ("inside", number))
    doubles = numbers.is_duplicated()
    if not (is_open | doubles).any():
        return rows
    lost = inside.filter(is_open | doubles).unique()
    return numbered(rows, number, group, value, inside.is_in(lost.implode()), SAID)


def _bare_last(rows: pl.DataFrame, key: Sequence[str]) -> pl.DataFrame:
    """The rows, of which those without a value are numbered after the others."""
    if not rows["is_bare"].any():
        return rows
    *group, _, number = key
    last = pl.col(number).filter(~pl.col("is_bare")).max().over(group).fill_null(0)
    return rows.with_columns(
        pl.when("is_bare").then(last + pl.col(number)).otherwise(number).alias(number)
    )
