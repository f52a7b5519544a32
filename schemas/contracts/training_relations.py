"""What the relations of the training log promise: their columns, types, keys and ranges."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.catalogue_words import Laterality, LiftType
from schemas.contracts.next_relations import NextSet, NextTest, PlanStep
from schemas.plan_words import BlockVerdict, LogState
from schemas.vocabulary import OTHER, REGIONS, Side, WorkedSide


class WorkedSet(pa.DataFrameModel):
    """One row per logged set and side it worked."""

    squad: str
    athlete_id: str
    trained_on: pl.Date
    week_on: pl.Date
    exercise: str
    exercise_name: str
    known_exercise: bool
    laterality: str = pa.Field(isin=list(Laterality))
    pattern: str
    type: str = pa.Field(isin=[*map(str, LiftType), OTHER])
    equipment: str
    region: str = pa.Field(isin=[*REGIONS, OTHER])
    part: str
    set_number: int
    side: str = pa.Field(isin=list(WorkedSide))
    reps: float = pa.Field(ge=0)
    load_kg: float = pa.Field(nullable=True)
    moved_kg: float = pa.Field(ge=0)
    exercise_order: int = pa.Field(nullable=True)
    rir: float = pa.Field(nullable=True)
    tempo: str = pa.Field(nullable=True)
    pain: float = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    order_file: str = pa.Field(nullable=True)
    order_line: int = pa.Field(nullable=True)
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_sets"
        strict = True


class LogRemark(pa.DataFrameModel):
    """One row per logged row and side that holds pain or a note, whether or not a set was done."""

    squad: str
    athlete_id: str
    trained_on: pl.Date
    exercise: str
    side: str = pa.Field(isin=list(WorkedSide))
    pain: float = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_log_remarks"
        strict = True


class LogPair(pa.DataFrameModel):
    """One row per pair of sets, left and right, that can be compared."""

    squad: str
    athlete_id: str
    trained_on: pl.Date
    exercise: str
    measure: str = pa.Field(str_startswith="est_1rm:")
    place: int = pa.Field(ge=1)
    left_kg: float = pa.Field(gt=0)
    right_kg: float = pa.Field(gt=0)
    left_reps: float = pa.Field(ge=1)
    right_reps: float = pa.Field(ge=1)
    left_epley_kg: float = pa.Field(gt=0)
    right_epley_kg: float = pa.Field(gt=0)
    left_brzycki_kg: float = pa.Field(gt=0)
    right_brzycki_kg: float = pa.Field(gt=0)
    is_equal_load: bool
    left_load_kg: float = pa.Field(gt=0)
    right_load_kg: float = pa.Field(gt=0)
    left_step: float = pa.Field(gt=0)
    right_step: float = pa.Field(gt=0)
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int
    right_source_file: str
    right_source_sheet: str = pa.Field(nullable=True)
    right_source_line: int

    class Config:
        name = "stg_log_pairs"
        strict = True
        unique: ClassVar = ["athlete_id", "trained_on", "exercise", "place"]


class LogStrength(pa.DataFrameModel):
    """One row per athlete, exercise, day on which a plateau began, and side."""

    athlete_id: str
    tested_on: pl.Date
    measure: str = pa.Field(str_startswith="est_1rm:")
    side: str = pa.Field(isin=list(Side))
    trial: int = pa.Field(eq=1)
    value: float = pa.Field(gt=0)
    step: float = pa.Field(gt=0)
    factor: float = pa.Field(eq=1)
    pain: float = pa.Field(nullable=True)
    note: str = pa.Field(nullable=True)
    held: bool
    source_file: str
    source_sheet: str = pa.Field(nullable=True)
    source_line: int

    class Config:
        name = "stg_log_strength"
        strict = True
        unique: ClassVar = ["athlete_id", "tested_on", "measure", "side"]


class LogLoads(pa.DataFrameModel):
    """One row per athlete and one-sided exercise with comparable sets."""

    squad: str
    athlete_id: str
    exercise: str
    measure: str
    session_count: int = pa.Field(ge=1)
    pair_count: int = pa.Field(ge=1)
    equal_share: float = pa.Field(ge=0, le=1)
    is_by_design: bool

    class Config:
        name = "mart_log_loads"
        strict = True
        unique: ClassVar = ["athlete_id", "exercise"]


TRAINING: tuple[type[pa.DataFrameModel], ...] = (
    WorkedSet,
    LogRemark,
    LogPair,
    LogStrength,
    LogLoads,
)


class WorkBySide(pa.DataFrameModel):
    """One row per athlete and part of the body, or exercise that nobody can place.

    One-sided work of the last weeks.
    """

    squad: str
    athlete_id: str
    part: str
    session_count: int = pa.Field(ge=1)
    left_sets: int = pa.Field(ge=0)
    right_sets: int = pa.Field(ge=0)
    left_reps: float = pa.Field(ge=0)
    right_reps: float = pa.Field(ge=0)
    left_volume: float = pa.Field(ge=0)
    right_volume: float = pa.Field(ge=0)
    load_ratio: float = pa.Field(nullable=True, gt=0)
    equal_load_share: float = pa.Field(nullable=True, ge=0, le=1)

    class Config:
        name = "mart_work_by_side"
        strict = True
        unique: ClassVar = ["athlete_id", "part"]


class WorkHabits(pa.DataFrameModel):
    """One row per athlete and week: how the work was done."""

    squad: str
    athlete_id: str
    week_on: pl.Date
    session_count: int = pa.Field(ge=0)
    left_sets: int = pa.Field(ge=0)
    right_sets: int = pa.Field(ge=0)
    left_reps: float = pa.Field(nullable=True, ge=0)
    right_reps: float = pa.Field(nullable=True, ge=0)
    left_volume_kg: float = pa.Field(nullable=True, ge=0)
    right_volume_kg: float = pa.Field(nullable=True, ge=0)
    left_jump: float = pa.Field(nullable=True, ge=-1)
    right_jump: float = pa.Field(nullable=True, ge=-1)
    side_order_count: int = pa.Field(ge=0)
    lower_first_count: int = pa.Field(ge=0)
    order_count: int = pa.Field(ge=0)
    order_kept_count: int = pa.Field(ge=0)
    lower_session_count: int = pa.Field(ge=0)
    extra_session_count: int = pa.Field(ge=0)
    extra_set_count: int = pa.Field(ge=0)
    extra_at_end_count: int = pa.Field(ge=0)
    other_more_count: int = pa.Field(ge=0)
    tempo_set_count: int = pa.Field(ge=0)
    slow_set_count: int = pa.Field(ge=0)
    choice_set_count: int = pa.Field(ge=0)
    own_load_set_count: int = pa.Field(ge=0)
    filmed_count: int = pa.Field(ge=0)
    film_difference_count: int = pa.Field(ge=0)

    class Config:
        name = "mart_work_habits"
        strict = True
        unique: ClassVar = ["athlete_id", "week_on"]


class BlockOutcome(pa.DataFrameModel):
    """One row per decision to train about a measure: planned, done, what happened."""

    flag_id: str
    squad: str
    athlete_id: str
    measure: str
    region: str = pa.Field(isin=REGIONS)
    lower_side: str = pa.Field(isin=list(Side))
    started_on: pl.Date
    ends_on: pl.Date
    weeks_in: float = pa.Field(gt=0)
    log_state: str = pa.Field(isin=list(LogState))
    logged_weeks: float = pa.Field(nullable=True, gt=0)
    planned_sessions: float = pa.Field(nullable=True, gt=0)
    done_sessions: int = pa.Field(nullable=True, ge=0)
    planned_extras: float = pa.Field(nullable=True, ge=0)
    done_extras: int = pa.Field(nullable=True, ge=0)
    adherence: float = pa.Field(nullable=True, ge=0, le=1)
    extra_sets_per_week: float = pa.Field(nullable=True, ge=0)
    observed_then_d: float
    expected_d: float
    latest_d: float = pa.Field(nullable=True)
    latest_se_d: float = pa.Field(nullable=True, gt=0)
    change_in_lines: float = pa.Field(nullable=True)
    chance_smaller: float = pa.Field(nullable=True, ge=0, le=1)
    lower_change: float = pa.Field(nullable=True)
    other_change: float = pa.Field(nullable=True)
    clear_days: int = pa.Field(ge=0)
    verdict: str = pa.Field(isin=list(BlockVerdict))

    class Config:
        name = "mart_block_outcomes"
        strict = True
        unique: ClassVar = ["flag_id"]


# Made by the review, not by SQL; kept in the warehouse beside the others.
REVIEWED: tuple[type[pa.DataFrameModel], ...] = (
    WorkBySide,
    WorkHabits,
    BlockOutcome,
    PlanStep,
    NextTest,
    NextSet,
)
