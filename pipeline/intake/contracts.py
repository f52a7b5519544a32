"""The border: what leaves the intake keeps the contracts of schemas/, row by row."""

from dataclasses import dataclass

import pandera.polars as pa
import polars as pl
from pandera.errors import SchemaErrors


@dataclass(frozen=True)
class Checked:
    """`accepted` keeps the contract; `broken` names row place, column, value and reason."""

    accepted: pl.DataFrame
    broken: pl.DataFrame


BROKEN = {"place": pl.UInt32, "column": pl.String, "value": pl.String, "reason": pl.String}
SAID = {
    "isin": "is not one of the words allowed",
    "in_range": "is outside the range allowed",
    "greater_than": "is too small",
    "greater_than_or_equal_to": "is too small",
    "less_than_or_equal_to": "is too large",
    "str_length": "is blank or too long",
    "not_nullable": "is blank",
    "multiple_fields_uniqueness": "stands there twice",
}


def checked(frame: pl.DataFrame, model: type[pa.DataFrameModel]) -> Checked:
    """Split rows into those that keep the contract and those that break it.

    That keys stand once is not asked again: versions.py makes it so, and asking takes longer than
    all other checks together. A frame, never a lazy one: on a lazy frame pandera checks names and
    types only. Raises pandera's SchemaErrors where whole columns are missing or of another type,
    which is a fault of this program and not of the rows.
    """
    schema = model.to_schema()
    schema.unique = None
    try:
        return Checked(schema.validate(frame, lazy=True), pl.DataFrame(schema=BROKEN))
    except SchemaErrors as found:
        cases = found.failure_cases
        if cases["index"].null_count():
            raise
        broken = _broken(frame, cases)
        keeps = ~pl.int_range(frame.height, dtype=pl.UInt32, eager=True).is_in(
            broken["place"].to_list()
        )
        return Checked(frame.filter(keeps), broken)


def _broken(frame: pl.DataFrame, cases: pl.DataFrame) -> pl.DataFrame:
    check = pl.col("check").str.extract(r"^(\w+)")
    said = check.replace_strict(SAID, default=None, return_dtype=pl.String)
    return cases.select(
        place=pl.col("index").cast(pl.UInt32),
        column=pl.col("column"),
        value=pl.col("failure_case").cast(pl.String),
        reason=pl.coalesce(said, pl.format("fails {}", "check")),
    )
