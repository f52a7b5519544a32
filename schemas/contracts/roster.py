"""The squad lists: who is tested, and what is known of each person."""

from typing import ClassVar

import pandera.polars as pa
import polars as pl

from schemas.columns import in_range
from schemas.vocabulary import Availability, Sex, WorkedSide


class Athlete(pa.DataFrameModel):
    """One row per athlete: the version of the roster that stands."""

    athlete_id: str = pa.Field(str_length={"min_value": 1}, description="As the exports spell it")
    name: str = pa.Field(str_length={"min_value": 1}, description="As it stands on the reports")
    squad: str = pa.Field(str_length={"min_value": 1}, description="Team or training group")
    sex: str = pa.Field(nullable=True, isin=list(Sex), description="As given")
    birth_date: pl.Date = pa.Field(nullable=True, description="Decides who is under age")
    height_cm: float = pa.Field(
        nullable=True, in_range=in_range("height_cm"), description="Standing"
    )
    body_mass_kg: float = pa.Field(
        nullable=True, in_range=in_range("body_mass_kg"), description="Latest known"
    )
    dominant_hand: str = pa.Field(
        nullable=True, isin=list(WorkedSide), description="Writing or throwing hand"
    )
    dominant_foot: str = pa.Field(nullable=True, isin=list(WorkedSide), description="Kicking foot")
    position: str = pa.Field(nullable=True, description="Role in the game or event")
    availability: str = pa.Field(
        nullable=True,
        isin=list(Availability),
        description="Today; unclear: what stands there could not be read",
    )
    known_difference: str = pa.Field(nullable=True, description="Structural note, in free words")
    known_side: str = pa.Field(
        nullable=True, isin=list(WorkedSide), description="Side the note is about"
    )
    known_since: pl.Date = pa.Field(nullable=True, description="First day of it")
    left_limb_length_cm: float = pa.Field(
        nullable=True, in_range=in_range("left_limb_length_cm"), description="Scales reach"
    )
    right_limb_length_cm: float = pa.Field(
        nullable=True, in_range=in_range("right_limb_length_cm"), description="Scales reach"
    )
    measured_on: pl.Date = pa.Field(nullable=True, description="Day of height and body mass")
    grew_cm: float = pa.Field(
        nullable=True, description="Most gained in a quarter, by the last two quarters"
    )
    source_file: str = pa.Field(description="Export the row came from")
    source_sheet: str = pa.Field(description="Sheet of that workbook; empty for CSV")
    source_line: int = pa.Field(ge=1, description="Line in that file or sheet, as it numbers them")

    class Config:
        """One rule for the whole frame."""

        strict = True
        ordered = True
        unique: ClassVar[list[str]] = ["athlete_id"]
