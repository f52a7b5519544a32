"""The side tests: one attempt, on one side, on one day."""

import tomllib
from pathlib import Path
from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.columns import in_range
from schemas.vocabulary import WorkedSide

MEASURES = sorted(
    measure
    for path in (Path(__file__).parents[1] / "measures").glob("*.toml")
    for measure in tomllib.loads(path.read_text(encoding="utf-8"))
)


class Trial(pa.DataFrameModel):
    """One row per attempt per side, in the catalogue's unit: no averaging, no rounding.

    A row without a value is no trial: a test that was not done, or broken off, and said to hurt.
    """

    athlete_id: str = pa.Field(str_length={"min_value": 1}, description="An athlete of the roster")
    tested_on: pl.Date = pa.Field(description="Day of the test")
    measure: str = pa.Field(isin=MEASURES, description="Id of the catalogue")
    side: str = pa.Field(isin=list(WorkedSide), description="both: a test, or pain, without sides")
    trial: int = pa.Field(ge=1, description="1 for the first attempt of that side that day")
    value: float = pa.Field(
        nullable=True,
        in_range={"min_value": -1e9, "max_value": 1e9},
        description="In the unit of the measure; null where the side was not tested but pain or a "
        "note stand beside it",
    )
    factor: float = pa.Field(gt=0, le=10, description="Difference unit per unit; reach: cm per %LL")
    pain: float = pa.Field(nullable=True, in_range=in_range("pain"), description="0 to 10")
    note: str = pa.Field(nullable=True, description="In the tester's words")
    value_given: str = pa.Field(nullable=True, description="The cell as it was typed")
    unit_given: str = pa.Field(nullable=True, description="The unit as it was typed")
    held: bool = pa.Field(description="The whole file is in doubt: kept out of every estimate")
    source_file: str = pa.Field(description="Export the row came from")
    source_sheet: str = pa.Field(description="Sheet of that workbook; empty for CSV")
    source_line: int = pa.Field(ge=1, description="Line in that file or sheet, as it numbers them")

    class Config:
        """One rule for the whole frame."""

        strict = True
        ordered = True
        unique: ClassVar[list[str]] = ["athlete_id", "tested_on", "measure", "side", "trial"]
