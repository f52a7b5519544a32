"""Settled rows into the frames the intake hands over, each held against its contract."""

from collections.abc import Mapping
from concurrent.futures import Executor
from typing import Any

import polars as pl

from pipeline.intake.contracts import Checked, checked
from pipeline.intake.ledger import FAULT, Ledger
from pipeline.intake.people import TYPES, People
from pipeline.intake.sides import SIDES
from pipeline.intake.units import measures
from schemas.decisions import Decision
from schemas.film_reviews import FilmReview
from schemas.roster import Athlete
from schemas.training_sets import TrainingSet
from schemas.trials import Trial

SOURCE = {"source_file": pl.String, "source_sheet": pl.String, "source_line": pl.Int64}
TRIALS = {
    "athlete_id": pl.String,
    "tested_on": pl.Date,
    "measure": pl.String,
    "side": pl.String,
    "trial": pl.Int64,
    "value": pl.Float64,
    "factor": pl.Float64,
    "pain": pl.Float64,
    "note": pl.String,
    "value_given": pl.String,
    "unit_given": pl.String,
    "held": pl.Boolean,
}
SETS = {
    "athlete_id": pl.String,
    "trained_on": pl.Date,
    "exercise": pl.String,
    "known_exercise": pl.Boolean,
    "set_number": pl.Int64,
    "side": pl.String,
    "reps": pl.Float64,
    "load_kg": pl.Float64,
    "exercise_order": pl.Int64,
    "rir": pl.Float64,
    "tempo": pl.String,
    "pain": pl.Float64,
    "note": pl.String,
}
FILM = {
    "athlete_id": pl.String,
    "filmed_on": pl.Date,
    "exercise": pl.String,
    "side": pl.String,
    "checkpoint": pl.String,
    "finding": pl.String,
    "note": pl.String,
}
DECISIONS = {
    "flag_id": pl.String,
    "decision": pl.String,
    "owner": pl.String,
    "review_on": pl.Date,
    "note": pl.String,
    "listed_on": pl.Date,
}
ROSTER = TYPES
CONTRACTS = {
    "roster": (ROSTER, Athlete),
    "trials": (TRIALS, Trial),
    "sets": (SETS, TrainingSet),
    "film": (FILM, FilmReview),
    "decisions": (DECISIONS, Decision),
}
SLICE = 500_000  # rows checked in one piece
PLACES = {"athlete_id": "athlete", "side": "side", "measure": "measure"}
DAYS = {"trials": "tested_on", "sets": "trained_on", "film": "filmed_on"}


def handed_over(
    name: str,
    rows: pl.DataFrame,
    people: People,
    ledger: Ledger,
    pool: Executor,
    held: pl.Series | None = None,
) -> pl.DataFrame:
    """Rows in the columns of their contract; a row that breaks it is refused.

    `held` says which rows are held out of the estimates, where there are such rows.
    """
    columns, model = CONTRACTS[name]
    schema = columns | SOURCE
    if rows.is_empty():
        return pl.DataFrame(schema=schema)
    words = _words(name, people)

    def finish(start: int) -> tuple[pl.DataFrame, Checked]:
        part = rows.slice(start, SLICE)
        is_held = pl.lit(False) if held is None else held.slice(start, SLICE)
        spelled = _spelled(name, part.with_columns(held=is_held), words, ledger)
        return part, checked(spelled.select(_typed(schema)), model, words)

    results = list(pool.map(finish, range(0, rows.height, SLICE)))
    for part, result in results:
        if result.broken.height:
            places = result.broken["place"]
            broken = result.broken.with_columns(row=part["row"].gather(places), place=pl.lit(0))
            ledger.faults.append(broken.select(_typed(FAULT)))
    return pl.concat([result.accepted for _, result in results])


def _typed(schema: Mapping[str, Any]) -> list[pl.Expr]:
    return [pl.col(name).cast(kind) for name, kind in schema.items()]


def _words(name: str, people: People) -> dict[str, pl.Series]:
    """Columns that stand in the rows as places, and the texts they are places of."""
    if name not in DAYS:
        return {}
    words = {"athlete_id": people.ids, "side": pl.Series(SIDES)}
    return words | {"measure": measures().ids} if name == "trials" else words


def _spelled(
    name: str, rows: pl.DataFrame, words: Mapping[str, pl.Series], ledger: Ledger
) -> pl.DataFrame:
    """Ids, words and sources instead of places; all columns at once, so that cores share them."""

    def word(texts: pl.Series, place: str) -> pl.Expr:
        return pl.lit(texts).gather(pl.col(place))

    files = pl.Series([entry.file for entry in ledger.entries])
    sheets = pl.Series([entry.sheet for entry in ledger.entries])
    entry, last = rows["entry"].min(), rows["entry"].max()
    if isinstance(entry, int) and entry == last:
        spelled = {"source_file": pl.lit(files[entry]), "source_sheet": pl.lit(sheets[entry])}
    else:
        spelled = {"source_file": word(files, "entry"), "source_sheet": word(sheets, "entry")}
    spelled |= {column: word(texts, PLACES[column]) for column, texts in words.items()}
    if name in DAYS:
        spelled[DAYS[name]] = pl.col("day")
    return rows.with_columns(source_line="line", **spelled)
