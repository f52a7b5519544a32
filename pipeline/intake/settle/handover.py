"""Settled rows into the frames the intake hands over, each held against its contract."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.intake.account.faults import FAULT
from pipeline.intake.account.ledger import Ledger
from pipeline.intake.parse.units import measures
from pipeline.intake.rows.people import TYPES, People
from pipeline.intake.rows.sides import SIDES
from pipeline.intake.settle.contracts import checked_rows
from schemas.columns import COLUMNS
from schemas.contracts.decisions import MeetingDecision
from schemas.contracts.film_reviews import FilmReview
from schemas.contracts.roster import Athlete
from schemas.contracts.training_sets import TrainingSet
from schemas.contracts.trials import Trial

WORD = pl.Categorical()  # of few different texts: a number a row, and each text once
SOURCE = {"source_file": WORD, "source_sheet": WORD, "source_line": pl.Int64}
TRIALS = {
    "athlete_id": WORD,
    "tested_on": pl.Date,
    "measure": WORD,
    "side": WORD,
    "trial": pl.Int64,
    "value": pl.Float64,
    "factor": pl.Float64,
    "pain": pl.Float64,
    "note": pl.String,
    "value_given": pl.String,
    "unit_given": WORD,
    "held": pl.Boolean,
}
SETS = {
    "athlete_id": WORD,
    "trained_on": pl.Date,
    "exercise": pl.String,
    "known_exercise": pl.Boolean,
    "set_number": pl.Int64,
    "side": WORD,
    "reps": pl.Float64,
    "load_kg": pl.Float64,
    "exercise_order": pl.Int64,
    "rir": pl.Float64,
    "tempo": pl.String,
    "pain": pl.Float64,
    "note": pl.String,
    "order_file": WORD,
    "order_line": pl.Int64,
}
FILM = {
    "athlete_id": WORD,
    "filmed_on": pl.Date,
    "exercise": pl.String,
    "side": WORD,
    "checkpoint": pl.String,
    "finding": pl.String,
    "note": pl.String,
}
DECISIONS = {
    "flag_id": pl.String,
    "decision": pl.String,
    "said": pl.String,
    "step": pl.Int64,
    "owner": pl.String,
    "review_on": pl.Date,
    "review_said": pl.String,
    "note": pl.String,
    "listed_on": pl.Date,
    "decided_on": pl.Date,
    "listed_decision": pl.String,
    "is_fresh": pl.Boolean,
}
ROSTER = TYPES | {"grew_cm": pl.Float64}
CONTRACTS: dict[str, tuple[dict[str, Any], Any]] = {
    "roster": (ROSTER, Athlete),
    "trials": (TRIALS, Trial),
    "sets": (SETS, TrainingSet),
    "film": (FILM, FilmReview),
    "decisions": (DECISIONS, MeetingDecision),
}
# Letters that a page can bear; what is longer is cut, and the remark says so. A value is one as it
# was typed.
LONGEST = {
    "value_given" if column.name == "value" else column.name: column.longest
    for column in COLUMNS.values()
    if column.longest is not None
}
PLACES = {"athlete_id": "athlete", "side": "side", "measure": "measure"}
DAYS = {"trials": "tested_on", "sets": "trained_on", "film": "filmed_on"}


@dataclass(frozen=True)
class Intake:
    """What the exports hold; every frame of rows ends in source_file, source_sheet, source_line.

    Blank text is null. Of corrected rows only the version that stands is here, repeats are gone.
    """

    files: pl.DataFrame
    refused: pl.DataFrame
    roster: pl.DataFrame
    trials: pl.DataFrame
    sets: pl.DataFrame
    film: pl.DataFrame
    decisions: pl.DataFrame
    doubts: pl.DataFrame

    @property
    def file_names(self) -> list[str]:
        """Names of the files that were found, each once."""
        return self.files["file"].unique(maintain_order=True).to_list()


def handed_over(
    name: str, rows: pl.DataFrame, people: People, ledger: Ledger, held: pl.Series
) -> pl.DataFrame:
    """Rows in the columns of their contract; a row that breaks it is refused.

    `held` says which of the trials are held out of the estimates.
    """
    columns, model = CONTRACTS[name]
    schema = columns | SOURCE
    if rows.is_empty():
        return pl.DataFrame(schema=schema)
    if name == "trials":
        rows = rows.with_columns(held)
    rows = _bearable(rows, ledger)
    spelled = _spelled(name, rows, people, ledger)
    result = checked_rows(spelled.select(_typed(schema)), model)
    if result.broken.height:
        places = result.broken["place"]
        broken = result.broken.with_columns(
            row=rows["row"].gather(places),
            place=pl.lit(0),
            about=pl.lit(""),
            row_kept=pl.lit(False),
        )
        ledger.faults.append(broken.select(_typed(FAULT)))
    return result.accepted


def _bearable(rows: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """The rows with no text longer than a page can bear."""
    for name, most in LONGEST.items():
        if rows.schema.get(name) != pl.String:
            continue
        is_long = (rows[name].str.len_bytes() > most).fill_null(False)
        if is_long.any():
            is_long &= (rows[name].str.len_chars() > most).fill_null(False)
        if not is_long.any():
            continue
        for entry, count in rows["entry"].filter(is_long).value_counts(sort=True).rows():
            cells = f"{count} cell{'s' if count > 1 else ''}"
            ledger.remark(entry, f"{name} is longer than {most} letters in {cells}; cut there")
        cut = pl.col(name).str.slice(0, most - 1) + "…"
        rows = rows.with_columns(pl.when(is_long).then(cut).otherwise(name).alias(name))
    return rows


def _typed(schema: Mapping[str, Any]) -> list[pl.Expr]:
    return [pl.col(name).cast(kind) for name, kind in schema.items()]


def _spelled(name: str, rows: pl.DataFrame, people: People, ledger: Ledger) -> pl.DataFrame:
    """Ids, words and sources instead of places; all columns at once, so that cores share them."""

    def word(texts: pl.Series, place: str) -> pl.Expr:
        return pl.lit(texts.cast(WORD)).gather(pl.col(place))

    spelled = {
        "source_file": word(pl.Series([entry.file for entry in ledger.entries]), "entry"),
        "source_sheet": word(pl.Series([entry.sheet for entry in ledger.entries]), "entry"),
    }
    names = pl.Series([ledger.names(number) for number in range(len(ledger.entries))])
    if name in DAYS:
        texts = {
            "athlete_id": people.ids,
            "side": pl.Series(SIDES, dtype=pl.String),
            "measure": measures().ids,
        }
        spelled |= {key: word(texts[key], at) for key, at in PLACES.items() if at in rows.columns}
        spelled[DAYS[name]] = pl.col("day")
    if name == "sets":
        spelled["order_file"] = word(names, "order_entry")
    return rows.with_columns(source_line="line", **spelled)
