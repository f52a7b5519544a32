"""What the relations of the coming week promise: the next test day, and the sets of the cards."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.contracts.own_sheets import TRIALS
from schemas.vocabulary import CountedIn, Side, StepPart, TestReason, WorkedSide


class NextTest(pa.DataFrameModel):
    """One row per athlete and test of the squad's next test day."""

    squad: str
    athlete_id: str
    name: str
    tested_on: pl.Date
    station: str
    measure: str
    because: str = pa.Field(isin=list(TestReason))
    about: str
    first_side: str = pa.Field(isin=list(Side))
    trial_count: int = pa.Field(ge=1, le=TRIALS)
    unit: str

    class Config:
        name = "mart_next_tests"
        strict = True
        unique: ClassVar = ["athlete_id", "measure"]


class NextSet(pa.DataFrameModel):
    """One row per planned set and side of the coming week of an athlete's card."""

    squad: str
    athlete_id: str
    name: str
    trained_on: pl.Date
    session: str
    exercise_order: int = pa.Field(ge=1)
    part: str = pa.Field(isin=list(StepPart))
    exercise: str
    exercise_name: str
    set_number: int = pa.Field(ge=1)
    side: str = pa.Field(isin=list(WorkedSide))
    planned_reps: int = pa.Field(ge=1)
    reps_unit: str = pa.Field(isin=list(CountedIn))
    planned_load_kg: float = pa.Field(nullable=True, gt=0)

    class Config:
        name = "mart_next_sets"
        strict = True
        unique: ClassVar = ["athlete_id", "trained_on", "session", "exercise", "side", "set_number"]
