"""What every kind of flag promises: its columns, each of one meaning, and their ranges.

A kind of flag is one relation, with a class here: the columns of `FlagOfKind` and its own.
"""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.vocabulary import (
    Decision,
    Fall,
    Family,
    FlagKind,
    GirthChange,
    LowerSide,
    Reason,
    Side,
    Status,
    Turn,
    Urgency,
)

SIDES = list(Side)


class FlagOfKind(pa.DataFrameModel):
    """One row per athlete and topic; what follows holds for every kind."""

    squad: str
    athlete_id: str
    topic: str = pa.Field(description="The middle part of the id of its flag")
    first_flagged_on: pl.Date

    class Config:
        strict = True
        unique: ClassVar = ["athlete_id", "topic"]


class FlagDifference(FlagOfKind):
    """One row per athlete and test whose difference stands out."""

    measure: str
    reason: str = pa.Field(isin=[Reason.CONFIRMED, Reason.WIDENING, Reason.RETEST])
    lower_side: str = pa.Field(isin=list(LowerSide))
    estimate: float = pa.Field(description="In `unit`, positive where the right side is better")
    low90: float
    high90: float
    unit: str
    chance_over_line: float = pa.Field(ge=0, le=1)

    class Config:
        name = "flag_difference"


class FlagRatio(FlagOfKind):
    """One row per athlete and ratio inside one limb that is below its own line."""

    measure: str
    lower_side: str = pa.Field(isin=SIDES)
    level: float = pa.Field(description="Of that side")
    low90: float
    high90: float
    unit: str
    line: float
    below_line_chance: float = pa.Field(ge=0, le=1)

    class Config:
        name = "flag_ratio"


class FlagZero(FlagOfKind):
    """One row per athlete and test whose latest day has a side of zeros only."""

    measure: str
    lower_side: str = pa.Field(isin=SIDES)
    other_value: float = pa.Field(gt=0, description="Mean of the other side, in the test's unit")
    tested_on: pl.Date

    class Config:
        name = "flag_zero"


class FlagPain(FlagOfKind):
    """One row per athlete and test or exercise in which pain was noted."""

    measure: str = pa.Field(nullable=True)
    exercise: str = pa.Field(nullable=True)
    pain_level: float = pa.Field(gt=0, le=10)
    side: str = pa.Field(nullable=True, isin=SIDES, description="Null where it is no side's")
    noted_on: pl.Date
    note: str = pa.Field(nullable=True)
    urgency: str = pa.Field(isin=list(Urgency))

    class Config:
        name = "flag_pain"


class FlagFall(FlagOfKind):
    """One row per athlete and test in which a side, or both, lie far below their own weeks."""

    measure: str
    lower_side: str = pa.Field(isin=SIDES, description="The side that fell, or that fell most")
    fall: str = pa.Field(isin=list(Fall))
    lost_percent: float = pa.Field(gt=0)
    tested_on: pl.Date
    urgency: str = pa.Field(isin=list(Urgency))

    class Config:
        name = "flag_fall"


class FlagGirth(FlagOfKind):
    """One row per athlete and girth that changed on one side."""

    measure: str
    lower_side: str = pa.Field(isin=SIDES, description="The side that changed")
    change: str = pa.Field(isin=list(GirthChange))
    change_cm: float = pa.Field(gt=0)
    tested_on: pl.Date
    note: str = pa.Field(nullable=True, description="Of the day of a gain")
    urgency: str = pa.Field(isin=list(Urgency))

    class Config:
        name = "flag_girth"


class FlagNote(FlagOfKind):
    """One row per athlete and sign that words in a note tell of."""

    sign: str
    noted_on: pl.Date
    note: str
    urgency: str = pa.Field(isin=list(Urgency))

    class Config:
        name = "flag_note"


class FlagWritten(FlagOfKind):
    """One row per athlete and topic of which pain or a sign was written beside a decision."""

    sign: str = pa.Field(nullable=True)
    pain_level: float = pa.Field(nullable=True, ge=0, le=10)
    noted_on: pl.Date
    note: str
    urgency: str = pa.Field(isin=list(Urgency))

    class Config:
        name = "flag_written"


class FlagWork(FlagOfKind):
    """One row per athlete and part whose lower side gets clearly less one-sided work."""

    part: str
    measure: str = pa.Field(nullable=True, description="The test that names the lower side")
    lower_side: str = pa.Field(isin=SIDES)
    less_percent: float = pa.Field(gt=0, le=100)

    class Config:
        name = "flag_work"


class FlagOverdue(FlagOfKind):
    """One row per athlete who has not done a test of the squad's routine for long."""

    measure: str = pa.Field(description="The test that waits longest")
    waiting_days: int = pa.Field(gt=0)
    other_measures: pl.List(pl.String)  # type: ignore[valid-type]

    class Config:
        name = "flag_overdue"


class RaisedFlag(FlagOfKind):
    """One row per flag that the data of the day raise."""

    flag_id: str = pa.Field(unique=True)
    family: str = pa.Field(isin=list(Family))
    kind: str = pa.Field(
        isin=list(FlagKind), description="The relation that holds the rest of it, without `flag_`"
    )
    measure: str = pa.Field(nullable=True, description="A test; of work, what names the side")
    part: str = pa.Field(nullable=True, description="Of work alone")
    reason: str = pa.Field(isin=list(Reason))
    lower_side: str = pa.Field(nullable=True, isin=list(LowerSide))
    estimate: float = pa.Field(nullable=True)
    low90: float = pa.Field(nullable=True)
    high90: float = pa.Field(nullable=True)
    unit: str = pa.Field(nullable=True)
    chance_over_line: float = pa.Field(nullable=True, ge=0, le=1)
    sign_on: pl.Date = pa.Field(nullable=True, description="Of a sign for medical staff, its day")
    note: str = pa.Field(nullable=True)
    urgency: str = pa.Field(nullable=True, isin=list(Urgency))
    is_raised: bool = pa.Field(eq=True)

    class Config:
        name = "flags_raised"
        unique: ClassVar = ["athlete_id", "topic", "family"]


class ListedFlag(RaisedFlag):
    """One row per flag of the list, with where it stands (`review/decisions/states.py`)."""

    kind: str = pa.Field(
        nullable=True, isin=list(FlagKind), description="Null where no data raise it"
    )
    subject: str = pa.Field(nullable=True, description="The test, exercise or sign by its name")
    is_raised: bool
    status: str = pa.Field(isin=list(Status))
    decision: str = pa.Field(nullable=True, isin=list(Decision))
    said: str = pa.Field(nullable=True)
    owner: str = pa.Field(nullable=True)
    review_on: pl.Date = pa.Field(nullable=True)
    review_said: str = pa.Field(nullable=True)
    decision_note: str = pa.Field(nullable=True)
    decided_on: pl.Date = pa.Field(nullable=True)
    due_on: pl.Date = pa.Field(nullable=True)
    step: int = pa.Field(nullable=True, ge=1, le=5)
    is_in_force: bool
    asked: pl.List(pl.String)  # type: ignore[valid-type]
    asked_said: str = pa.Field(nullable=True)
    asked_note: str = pa.Field(nullable=True)
    asked_owner: str = pa.Field(nullable=True)
    asked_file: str = pa.Field(nullable=True)
    asked_line: int = pa.Field(nullable=True)
    last_decision: str = pa.Field(nullable=True, isin=list(Decision))
    last_decided_on: pl.Date = pa.Field(nullable=True)
    also_decided: pl.List(pl.String)  # type: ignore[valid-type]
    is_accepted: bool
    turn: str = pa.Field(isin=list(Turn))
    athlete_turn: str = pa.Field(isin=list(Turn), description="Of the first flag of its athlete")
    weeks_open: int
    place: int = pa.Field(ge=1, unique=True, description="In meeting order")

    class Config:
        name = "flags_listed"


class DecidedDay(pa.DataFrameModel):
    """One row per day on which an athlete who was decided about was tested on both sides."""

    athlete_id: str
    measure: str
    tested_on: pl.Date

    class Config:
        name = "decided_days"
        strict = True
        unique: ClassVar = ["athlete_id", "measure", "tested_on"]


class DecidedGrown(pa.DataFrameModel):
    """One row per accepted difference that is larger now than when it was accepted."""

    flag_id: str = pa.Field(unique=True)

    class Config:
        name = "decided_grown"
        strict = True


FLAGS = {
    str(model.to_schema().name): model
    for model in (
        FlagDifference, FlagRatio, FlagZero, FlagPain, FlagFall, FlagGirth, FlagNote, FlagWritten,
        FlagWork, FlagOverdue, RaisedFlag, ListedFlag, DecidedDay, DecidedGrown,
    )
}  # fmt: skip
