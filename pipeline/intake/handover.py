"""Settled rows into the frames the intake hands over, each held against its contract."""

import polars as pl

from pipeline.intake.contracts import checked
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
}
ROSTER = TYPES
CONTRACTS = {
    "roster": (ROSTER, Athlete),
    "trials": (TRIALS, Trial),
    "sets": (SETS, TrainingSet),
    "film": (FILM, FilmReview),
    "decisions": (DECISIONS, Decision),
}
DAYS = {"trials": "tested_on", "sets": "trained_on", "film": "filmed_on"}


def handed_over(name: str, rows: pl.DataFrame, people: People, ledger: Ledger) -> pl.DataFrame:
    """Rows in the columns of their contract; a row that breaks it is refused."""
    columns, model = CONTRACTS[name]
    schema = columns | SOURCE
    if rows.is_empty():
        return pl.DataFrame(schema=schema)
    frame = _spelled(name, rows, people)
    entries = ledger.entries
    frame = frame.with_columns(
        source_file=pl.Series([entry.file for entry in entries]).gather(rows["entry"]),
        source_sheet=pl.Series([entry.sheet for entry in entries]).gather(rows["entry"]),
        source_line=ledger.line_of(rows["row"]),
    )
    typed = frame.select(pl.col(key).cast(kind) for key, kind in schema.items())
    result = checked(typed, model)
    if result.broken.height:
        places = result.broken["place"]
        ledger.faults.append(
            result.broken.with_columns(row=rows["row"].gather(places), place=pl.lit(0)).select(
                pl.col(key).cast(kind) for key, kind in FAULT.items()
            )
        )
    return result.accepted


def _spelled(name: str, rows: pl.DataFrame, people: People) -> pl.DataFrame:
    """Ids and words instead of places."""
    if name in DAYS:
        rows = rows.with_columns(
            athlete_id=people.ids.gather(rows["athlete"]),
            side=pl.Series(SIDES).gather(rows["side"]),
        ).rename({"day": DAYS[name]})
    if name == "trials":
        rows = rows.with_columns(measure=measures().ids.gather(rows["measure"]))
    return rows
