"""The decision sheets of earlier builds, filled in at the meeting."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.vocabulary import NORMAL_STEP, Decision


class MeetingDecision(pa.DataFrameModel):
    """One row per flag and list that a meeting decided on."""

    flag_id: str = pa.Field(str_length={"min_value": 1}, description="As an earlier build wrote it")
    decision: str = pa.Field(
        isin=list(Decision), nullable=True, description="What was decided, where it could be read"
    )
    said: str = pa.Field(nullable=True, description="The same in the meeting's words")
    step: int = pa.Field(
        ge=1, le=NORMAL_STEP, nullable=True, description="Step of a graded return, if named"
    )
    owner: str = pa.Field(nullable=True, description="Who does it")
    review_on: pl.Date = pa.Field(nullable=True, description="When to look again")
    review_said: str = pa.Field(nullable=True, description="The same, where it could not be read")
    note: str = pa.Field(nullable=True, description="What else was said")
    listed_on: pl.Date = pa.Field(description="As-of date of the list decided on")
    decided_on: pl.Date = pa.Field(nullable=True, description="Day of `listed_decision`")
    listed_decision: str = pa.Field(
        isin=list(Decision), nullable=True, description="What stood when the list was made"
    )
    is_fresh: bool = pa.Field(description="The sheet knows days of decisions, and none of this one")
    source_file: str = pa.Field(description="Export the row came from")
    source_sheet: str = pa.Field(description="Sheet of that workbook; empty for CSV")
    source_line: int = pa.Field(ge=1, description="Line in that file or sheet, as it numbers them")

    class Config:
        """One rule for the whole frame."""

        strict = True
        ordered = True
        unique: ClassVar[list[str]] = ["flag_id", "listed_on", "said"]
