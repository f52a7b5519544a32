"""What every relation of the warehouse promises: its columns, types, key and ranges.

`nullable` columns may hold null, which means unknown. A test builds the warehouse from the sample
exports and holds every relation against its class here.
"""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.contracts.training_relations import TRAINING
from schemas.vocabulary import (
    NORMAL_STEP,
    Availability,
    Decision,
    Finding,
    Sex,
    Side,
    WorkedSide,
)


class Athlete(pa.DataFrameModel):
    """One row per athlete of the roster."""

    athlete_id: str
    name: str
    squad: str
    sex: str = pa.Field(nullable=True, isin=list(Sex))
    birth_date: pl.Date = pa.Field(nullable=True)
    height_cm: float = pa.Field(nullable=True)
    body_mass_kg: float = pa.Field(nullable=True)
    dominant_hand: str = pa.Field(nullable=True, isin=list(WorkedSide))
    dominant_foot: str = pa.Field(nullable=True, isin=list(WorkedSide))
    position: str = pa.Field(nullable=True)
    availability: str = pa.Field(isin=list(Availability))
    known_difference: str = pa.Field(nullable=True)
    known_side: str = pa.Field(nullable=True, isin=list(WorkedSide))
    known_since: pl.Date = pa.Field(nullable=True)
    left_limb_length_cm: float = pa.Field(nullable=True)
    right_limb_length_cm: float = pa.Field(nullable=True)
    grew_cm: float = pa.Field(nullable=True)
    shapes: bool
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_athletes"
        strict = True
        unique: ClassVar = ["athlete_id"]


class PartTrial(pa.DataFrameModel):
    """One row per trial of a measure that others are computed from."""

    athlete_id: str
    tested_on: pl.Date
    measure: str
    side: str = pa.Field(isin=list(WorkedSide))
    attempt: int = pa.Field(ge=1)
    value: float
    pain: float = pa.Field(nullable=True)
    held: bool
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_part_trials"
        strict = True
        unique: ClassVar = ["athlete_id", "tested_on", "measure", "side", "attempt"]


class DerivedTrial(pa.DataFrameModel):
    """One row per attempt and side of a measure computed from its parts."""

    athlete_id: str
    tested_on: pl.Date
    measure: str
    side: str = pa.Field(isin=list(Side))
    trial: int = pa.Field(ge=1)
    value: float
    factor: float = pa.Field(gt=0)
    pain: float = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    held: bool
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_derived_trials"
        strict = True
        unique: ClassVar = ["athlete_id", "tested_on", "measure", "side", "trial"]


class ScoredTrial(pa.DataFrameModel):
    """One row per trial and side, measured or derived, with its score.

    Without a value it is no trial: its pain and note are all it tells.
    """

    squad: str
    athlete_id: str
    measure: str
    tested_on: pl.Date
    side: str = pa.Field(isin=list(WorkedSide))
    trial: int = pa.Field(ge=1)
    value: float = pa.Field(nullable=True)
    factor: float = pa.Field(gt=0)
    score: float = pa.Field(nullable=True)
    step: float = pa.Field(ge=0)
    pain: float = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    held: bool
    is_derived: bool
    shapes: bool
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_trials"
        strict = True
        unique: ClassVar = [
            "athlete_id", "tested_on", "measure", "side", "trial", "is_derived",
        ]  # fmt: skip


class TrialUnit(pa.DataFrameModel):
    """One row per squad and test: the unit in which it was last written down, where one was."""

    squad: str
    measure: str
    unit: str

    class Config:
        name = "stg_trial_units"
        strict = True
        unique: ClassVar = ["squad", "measure"]


class FilmCheckpoint(pa.DataFrameModel):
    """One row per film checkpoint of an exercise and side."""

    athlete_id: str
    squad: str
    filmed_on: pl.Date
    exercise: str
    exercise_name: str
    side: str = pa.Field(isin=list(WorkedSide))
    checkpoint: str
    finding: str = pa.Field(isin=list(Finding))
    note: str = pa.Field(nullable=True)
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_film"
        strict = True


class SaidOfFlag(pa.DataFrameModel):
    """One row per flag, list and thing that was said of it."""

    flag_id: str
    decision: str = pa.Field(isin=list(Decision), nullable=True)
    said: str = pa.Field(nullable=True)
    step: int = pa.Field(ge=1, le=NORMAL_STEP, nullable=True)
    owner: str = pa.Field(nullable=True)
    review_on: pl.Date = pa.Field(nullable=True)
    review_said: str = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    listed_on: pl.Date
    decided_on: pl.Date = pa.Field(nullable=True)
    listed_decision: str = pa.Field(isin=list(Decision), nullable=True)
    is_fresh: bool
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_decisions"
        strict = True


class SideValue(pa.DataFrameModel):
    """One row per athlete, measure, day and side."""

    squad: str
    athlete_id: str
    measure: str
    tested_on: pl.Date
    side: str = pa.Field(isin=list(Side))
    trial_count: int = pa.Field(ge=1)
    mean_value: float
    best_value: float
    mean_score: float
    score_variance: float = pa.Field(nullable=True)
    pain: float = pa.Field(nullable=True)
    shapes: bool

    class Config:
        name = "mart_side_values"
        strict = True
        unique: ClassVar = ["athlete_id", "measure", "tested_on", "side"]


class DayAsymmetry(pa.DataFrameModel):
    """One row per athlete, measure and day on which both sides were tested."""

    squad: str
    athlete_id: str
    measure: str
    tested_on: pl.Date
    left_trial_count: int
    right_trial_count: int
    left_value: float
    right_value: float
    left_best_value: float = pa.Field(nullable=True)
    right_best_value: float = pa.Field(nullable=True)
    d: float
    pain: float = pa.Field(nullable=True)
    shapes: bool

    class Config:
        name = "mart_day_asymmetry"
        strict = True
        unique: ClassVar = ["athlete_id", "measure", "tested_on"]


class TestCoverage(pa.DataFrameModel):
    """One row per squad, athlete and measure the squad uses."""

    squad: str
    athlete_id: str
    measure: str
    session_count: int
    last_tested_on: pl.Date = pa.Field(nullable=True)
    squad_last_tested_on: pl.Date
    squad_day_count: int
    tested_athlete_count: int
    squad_athlete_count: int

    class Config:
        name = "mart_test_coverage"
        strict = True
        unique: ClassVar = ["athlete_id", "measure"]


_MODELS: tuple[type[pa.DataFrameModel], ...] = (
    Athlete,
    PartTrial,
    DerivedTrial,
    ScoredTrial,
    TrialUnit,
    FilmCheckpoint,
    SaidOfFlag,
    SideValue,
    DayAsymmetry,
    TestCoverage,
    *TRAINING,
)
RELATIONS = {str(model.to_schema().name): model for model in _MODELS}
