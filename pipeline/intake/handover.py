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
DAYS = {"trials": "tested_on", "sets": "trained_on", "film": "filmed_on"}


def handed_over(
    name: str, rows: pl.DataFrame, people: People, ledger: Ledger, pool: Executor
) -> pl.DataFrame:
    """Rows in the columns of their contract; a row that breaks it is refused."""
    columns, model = CONTRACTS[name]
    schema = columns | SOURCE
    if rows.is_empty():
        return pl.DataFrame(schema=schema)

    def finish(part: pl.DataFrame) -> Checked:
        return checked(_spelled(name, part, people, ledger).select(_typed(schema)), model)

    parts = list(rows.iter_slices(SLICE))
    results = list(pool.map(finish, parts))
    for part, result in zip(parts, results, strict=True):
        if result.broken.height:
            places = result.broken["place"]
            broken = result.broken.with_columns(row=part["row"].gather(places), place=pl.lit(0))
            ledger.faults.append(broken.select(_typed(FAULT)))
    return pl.concat([result.accepted for result in results])


def _typed(schema: Mapping[str, Any]) -> list[pl.Expr]:
    return [pl.col(name).cast(kind) for name, kind in schema.items()]


def _spelled(name: str, rows: pl.DataFrame, people: People, ledger: Ledger) -> pl.DataFrame:
    """Ids, words and sources instead of places; all columns at once, so that cores share them."""

    def word(words: pl.Series, place: str) -> pl.Expr:
        return pl.lit(words).gather(pl.col(place))

    files = pl.Series([entry.file for entry in ledger.entries])
    sheets = pl.Series([entry.sheet for entry in ledger.entries])
    if rows["entry"].n_unique() == 1:
        entry = rows["entry"][0]
        spelled = {"source_file": pl.lit(files[entry]), "source_sheet": pl.lit(sheets[entry])}
    else:
        spelled = {"source_file": word(files, "entry"), "source_sheet": word(sheets, "entry")}
    if name in DAYS:
        spelled["athlete_id"] = word(people.ids, "athlete")
        spelled["side"] = word(pl.Series(SIDES), "side")
        spelled[DAYS[name]] = pl.col("day")
    if name == "trials":
        spelled["measure"] = word(measures().ids, "measure")
    return rows.with_columns(source_line="line", **spelled)
