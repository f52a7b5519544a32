"""The models of typed rows: what stands passes, each fault is named, every field is described."""

from datetime import date

import pandera.polars as pa
import polars as pl
import pytest
from pandera.errors import SchemaErrors

from schemas.contracts.decisions import MeetingDecision
from schemas.contracts.film_reviews import FilmReview
from schemas.contracts.roster import Athlete
from schemas.contracts.training_sets import TrainingSet
from schemas.contracts.trials import Trial

DAY = date(2026, 1, 5)
PLACE = {"source_file": "tests.csv", "source_sheet": "", "source_line": 2}
ROWS: dict[type[pa.DataFrameModel], dict[str, object]] = {
    Athlete: {
        "athlete_id": "H01", "name": "Ana", "squad": "Handball", "sex": "female",
        "birth_date": None, "height_cm": 172.0, "body_mass_kg": None, "dominant_hand": "right",
        "dominant_foot": None, "position": None, "availability": None, "known_difference": None,
        "known_side": None, "known_since": None, "left_limb_length_cm": 86.0,
        "right_limb_length_cm": None, "measured_on": DAY, "grew_cm": None,
    },
    Trial: {
        "athlete_id": "H01", "tested_on": DAY, "measure": "single_hop", "side": "left", "trial": 1,
        "value": 150.0, "factor": 1.0, "pain": None, "note": None, "value_given": "1.50",
        "unit_given": "m", "held": False,
    },
    TrainingSet: {
        "athlete_id": "H01", "trained_on": DAY, "exercise": "split_squat", "known_exercise": True,
        "set_number": 1, "side": "left", "reps": 8.0, "load_kg": None, "exercise_order": None,
        "rir": 2.0, "tempo": "3-1-1", "pain": 0.0, "note": None, "order_file": "log.csv",
        "order_line": 2,
    },
    FilmReview: {
        "athlete_id": "H01", "filmed_on": DAY, "exercise": "split_squat", "side": "right",
        "checkpoint": "knee over foot", "finding": "ok", "note": None,
    },
    MeetingDecision: {
        "flag_id": "F1", "decision": "train", "said": "Train!", "step": None, "owner": None,
        "review_on": DAY, "review_said": None, "note": None, "listed_on": DAY, "decided_on": None,
        "listed_decision": None, "is_fresh": False,
    },
}  # fmt: skip
MODELS = pytest.mark.parametrize("model", ROWS, ids=lambda model: model.__name__)


def frame(model: type[pa.DataFrameModel], *changes: dict[str, object]) -> pl.DataFrame:
    """The standing row of a model, once per change."""
    types = {name: column.dtype.type for name, column in model.to_schema().columns.items()}
    rows = [{**ROWS[model], **PLACE, **change} for change in changes or [{}]]
    return pl.DataFrame(rows, schema_overrides=types).select(*types)


def faults(model: type[pa.DataFrameModel], table: pl.DataFrame) -> list[tuple[str, str]]:
    with pytest.raises(SchemaErrors) as broken:
        model.validate(table, lazy=True)
    return sorted({(c, k.split("(")[0]) for c, k in broken.value.failure_cases.select(
        "column", "check").rows()})  # fmt: skip


@MODELS
def test_a_row_as_the_intake_hands_it_over_passes(model: type[pa.DataFrameModel]):
    table = frame(model)
    assert model.validate(table, lazy=True).equals(table)
    empty = table.clear()
    assert model.validate(empty, lazy=True).equals(empty)


@MODELS
def test_every_field_is_described_and_rows_end_with_where_they_came_from(
    model: type[pa.DataFrameModel],
):
    schema = model.to_schema()
    assert (model.__doc__ or "").startswith("One row per")
    assert all(column.description for column in schema.columns.values())
    assert list(schema.columns)[-3:] == list(PLACE)
    assert schema.strict and schema.ordered


@MODELS
def test_a_missing_an_extra_and_a_misplaced_column_are_named(model: type[pa.DataFrameModel]):
    table = frame(model)
    assert faults(model, table.drop("source_line"))[0][1] == "column_in_dataframe"
    assert ("extra", "column_in_schema") in [
        (case, check) for case, check in _cases(model, table.with_columns(pl.lit(1).alias("extra")))
    ]
    assert {check for _, check in faults(model, table[:, ::-1])} == {"column_ordered"}


def _cases(model: type[pa.DataFrameModel], table: pl.DataFrame) -> list[tuple[str, str]]:
    with pytest.raises(SchemaErrors) as broken:
        model.validate(table, lazy=True)
    return broken.value.failure_cases.select("failure_case", "check").rows()


@pytest.mark.parametrize(
    ("model", "column", "value", "check"),
    [
        (Athlete, "athlete_id", "", "str_length"),
        (Athlete, "sex", "x", "isin"),
        (Athlete, "dominant_hand", "L", "isin"),
        (Athlete, "height_cm", 1.72, "in_range"),
        (Athlete, "squad", None, "not_nullable"),
        (Trial, "measure", "moon_jump", "isin"),
        (Trial, "side", "up", "isin"),
        (Trial, "trial", 0, "greater_than_or_equal_to"),
        (Trial, "trial", None, "not_nullable"),
        (Trial, "value", float("nan"), "in_range"),
        (Trial, "value", float("inf"), "in_range"),
        (Trial, "factor", 0.0, "greater_than"),
        (Trial, "pain", 11.0, "in_range"),
        (Trial, "held", None, "not_nullable"),
        (TrainingSet, "set_number", 0, "greater_than_or_equal_to"),
        (TrainingSet, "reps", -1.0, "in_range"),
        (TrainingSet, "load_kg", -5.0, "in_range"),
        (TrainingSet, "rir", 12.0, "in_range"),
        (FilmReview, "finding", "good", "isin"),
        (FilmReview, "checkpoint", "", "str_length"),
        (MeetingDecision, "listed_on", None, "not_nullable"),
    ],
)
def test_one_fault_is_named(model: type[pa.DataFrameModel], column: str, value: object, check: str):
    assert (column, check) in faults(model, frame(model, {column: value}))


@pytest.mark.parametrize(
    "model", [Athlete, Trial, MeetingDecision], ids=lambda model: model.__name__
)
def test_the_same_key_twice_is_named(model: type[pa.DataFrameModel]):
    table = frame(model, {}, {"source_line": 3})
    assert {check for _, check in faults(model, table)} == {"multiple_fields_uniqueness"}


def test_two_sides_trials_and_days_are_different_keys():
    table = frame(Trial, {}, {"side": "right"}, {"trial": 2}, {"tested_on": date(2026, 1, 6)})
    assert Trial.validate(table, lazy=True).height == 4
