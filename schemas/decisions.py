"""The decision sheets of earlier builds, filled in at the meeting."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl


class Decision(pa.DataFrameModel):
    """One row per flag and list that a meeting decided on."""

    flag_id: str = pa.Field(str_length={"min_value": 1}, description="As an earlier build wrote it")
    decision: str = pa.Field(str_length={"min_value": 1}, description="In the meeting's words")
    owner: str = pa.Field(nullable=True, description="Who does it")
    review_on: pl.Date = pa.Field(nullable=True, description="When to look again")
    note: str = pa.Field(nullable=True, description="What else was said")
    listed_on: pl.Date = pa.Field(nullable=True, description="As-of date of the list decided on")
    decided_on: pl.Date = pa.Field(nullable=True, description="Day of `listed_decision`")
    listed_decision: str = pa.Field(nullable=True, description="What stood when the list was made")
    source_file: str = pa.Field(description="Export the row came from")
    source_sheet: str = pa.Field(description="Sheet of that workbook; empty for CSV")
    source_line: int = pa.Field(ge=1, description="Line in that file or sheet, as it numbers them")

    class Config:
        """One rule for the whole frame."""

        strict = True
        ordered = True
        unique: ClassVar[list[str]] = ["flag_id", "listed_on"]
