"""What the relations of what comes next promise: test day, plans, the sets of the cards."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.contracts.own_sheets import TRIALS
from schemas.plan_words import CountedIn, Plan, StepPart, TestReason
from schemas.vocabulary import Side, StepSide, WorkedSide


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


class PlanStep(pa.DataFrameModel):
    """One row per athlete, session and step of the next block; without steps one row a block."""

    squad: str
    athlete_id: str
    plan: str = pa.Field(isin=list(Plan))
    because_of: str = pa.Field(nullable=True)
    lower_side: str = pa.Field(nullable=True, isin=list(Side))
    starts_on: pl.Date = pa.Field(nullable=True)
    weeks: int = pa.Field(nullable=True, ge=1)
    sessions_per_week: int = pa.Field(nullable=True, ge=1)
    session: str = pa.Field(nullable=True)
    weekday: str = pa.Field(nullable=True)
    step: int = pa.Field(nullable=True, ge=1)
    part: str = pa.Field(nullable=True, isin=list(StepPart))
    exercise: str = pa.Field(nullable=True)
    side: str = pa.Field(nullable=True, isin=list(StepSide))
    sets: int = pa.Field(nullable=True, ge=1)
    reps: int = pa.Field(nullable=True, ge=1)
    reps_unit: str = pa.Field(nullable=True, isin=list(CountedIn))
    extra_reps: int = pa.Field(nullable=True, ge=1)
    load_kg: float = pa.Field(nullable=True, gt=0)
    seconds_down: int = pa.Field(nullable=True, ge=1)
    reps_in_reserve: int = pa.Field(nullable=True, ge=2)
    rest_s: int = pa.Field(nullable=True, ge=1)
    cue: str = pa.Field(nullable=True)
    retest_on: pl.Date = pa.Field(nullable=True)

    class Config:
        name = "mart_plans"
        strict = True
        unique: ClassVar = ["athlete_id", "session", "step"]
