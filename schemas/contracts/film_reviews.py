"""The film reviews: one thing looked at, on one side, in one film."""

import pandera.polars as pa
import polars as pl

from schemas.columns import COLUMNS


class FilmReview(pa.DataFrameModel):
    """One row per checkpoint of one side of one filmed exercise."""

    athlete_id: str = pa.Field(str_length={"min_value": 1}, description="An athlete of the roster")
    filmed_on: pl.Date = pa.Field(description="Day of the film")
    exercise: str = pa.Field(
        str_length={"min_value": 1}, description="Id of the dictionary, else the name as given"
    )
    side: str = pa.Field(isin=["left", "right", "both"], description="Side looked at")
    checkpoint: str = pa.Field(str_length={"min_value": 1}, description="What was looked at")
    finding: str = pa.Field(isin=COLUMNS["finding"].choices, description="What was seen")
    note: str = pa.Field(nullable=True, description="In the coach's words")
    source_file: str = pa.Field(description="Export the row came from")
    source_sheet: str = pa.Field(description="Sheet of that workbook; empty for CSV")
    source_line: int = pa.Field(ge=1, description="Line in that file or sheet, as it numbers them")

    class Config:
        """One rule for the whole frame."""

        strict = True
        ordered = True
