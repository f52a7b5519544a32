"""The training log: one set of one exercise."""

import pandera.polars as pa
import polars as pl

from schemas.columns import in_range
from schemas.vocabulary import WorkedSide


class TrainingSet(pa.DataFrameModel):
    """One row per set per side as logged; `both` is a set in which the sides worked together."""

    athlete_id: str = pa.Field(str_length={"min_value": 1}, description="An athlete of the roster")
    trained_on: pl.Date = pa.Field(description="Day of the session")
    exercise: str = pa.Field(
        str_length={"min_value": 1}, description="Id of the dictionary, else the name as logged"
    )
    known_exercise: bool = pa.Field(description="Whether the dictionary has it")
    set_number: int = pa.Field(ge=1, description="1 for the first set of the exercise")
    side: str = pa.Field(isin=list(WorkedSide), description="Side that did the work")
    reps: float = pa.Field(
        nullable=True,
        in_range=in_range("reps"),
        description="On that side; null in a row that says only what hurt, or a note",
    )
    load_kg: float = pa.Field(nullable=True, in_range=in_range("load"), description="As logged")
    exercise_order: int = pa.Field(nullable=True, ge=1, description="Place in the session")
    rir: float = pa.Field(
        nullable=True,
        in_range=in_range("rir"),
        description="Repetitions in reserve, or 10 less the rating of effort",
    )
    tempo: str = pa.Field(nullable=True, description="Lowering-pause-lifting in seconds")
    pain: float = pa.Field(nullable=True, in_range=in_range("pain"), description="0 to 10")
    note: str = pa.Field(nullable=True, description="In the coach's words")
    order_file: str = pa.Field(
        nullable=True,
        description="File and sheet with most rows of the exercise that day; null where the set "
        "is not in it",
    )
    order_line: int = pa.Field(
        nullable=True, ge=1, description="Line there: tells which side was logged first"
    )
    source_file: str = pa.Field(description="Export the row came from")
    source_sheet: str = pa.Field(description="Sheet of that workbook; empty for CSV")
    source_line: int = pa.Field(ge=1, description="Line in that file or sheet, as it numbers them")

    class Config:
        """One rule for the whole frame."""

        strict = True
        ordered = True
