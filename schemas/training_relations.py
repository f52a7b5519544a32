"""What the relations of the training log promise: their columns, types, keys and ranges."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl


class WorkedSet(pa.DataFrameModel):
    """One row per logged set and side it worked."""

    squad: str
    athlete_id: str
    trained_on: pl.Date
    week_on: pl.Date
    exercise: str
    exercise_name: str
    known_exercise: bool
    laterality: str
    pattern: str
    type: str
    equipment: str
    region: str
    set_number: int
    side: str = pa.Field(isin=["left", "right", "both"])
    reps: float = pa.Field(ge=0)
    load_kg: float = pa.Field(nullable=True)
    moved_kg: float = pa.Field(ge=0)
    exercise_order: int = pa.Field(nullable=True)
    rir: float = pa.Field(nullable=True)
    tempo: str = pa.Field(nullable=True)
    pain: float = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_sets"
        strict = True


class TrainingVolume(pa.DataFrameModel):
    """One row per athlete, week, exercise and side."""

    squad: str
    athlete_id: str
    week_on: pl.Date
    exercise: str
    exercise_name: str
    pattern: str
    type: str
    region: str
    laterality: str
    side: str = pa.Field(isin=["left", "right", "both"])
    session_count: int
    set_count: int
    rep_count: float = pa.Field(ge=0)
    volume_kg: float = pa.Field(ge=0)

    class Config:
        name = "mart_training_volume"
        strict = True
        unique: ClassVar = ["athlete_id", "week_on", "exercise", "side"]


class PatternVolume(pa.DataFrameModel):
    """One row per athlete, week, movement pattern and side."""

    squad: str
    athlete_id: str
    week_on: pl.Date
    region: str
    pattern: str
    side: str = pa.Field(isin=["left", "right", "both"])
    session_count: int
    set_count: int
    rep_count: float = pa.Field(ge=0)
    volume_kg: float = pa.Field(ge=0)

    class Config:
        name = "mart_pattern_volume"
        strict = True
        unique: ClassVar = ["athlete_id", "week_on", "pattern", "side"]


class MuscleVolume(pa.DataFrameModel):
    """One row per athlete, week, muscle group and side."""

    squad: str
    athlete_id: str
    week_on: pl.Date
    muscle: str
    side: str = pa.Field(isin=["left", "right", "both"])
    session_count: int
    set_count: int
    rep_count: float = pa.Field(ge=0)
    volume_kg: float = pa.Field(ge=0)

    class Config:
        name = "mart_muscle_volume"
        strict = True
        unique: ClassVar = ["athlete_id", "week_on", "muscle", "side"]


TRAINING: tuple[type[pa.DataFrameModel], ...] = (
    WorkedSet,
    TrainingVolume,
    PatternVolume,
    MuscleVolume,
)
