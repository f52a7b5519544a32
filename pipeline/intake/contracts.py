"""The border: what leaves the intake keeps the contracts of schemas/, row by row."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

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


def checked(
    frame: pl.DataFrame, model: type[pa.DataFrameModel], words: Mapping[str, pl.Series]
) -> Checked:
    """Split rows into those that keep the contract and those that break it.

    `words` are the columns whose texts were handed out by number, with all their texts: what
    holds for these holds for every row, so they are checked once and not a million times. That
    keys stand once is not asked again either: versions.py makes it so, and asking takes longer
    than all other checks together.

    A frame, never a lazy one: on a lazy frame pandera checks names and types only. Raises
    pandera's SchemaErrors where whole columns are missing or of another type, or where one of the
    words is wrong, and ValueError where a row has none: faults of this program, not of the rows.
    """
    schema, rest = _schemas(model, tuple(words))
    for name, texts in words.items():
        schema.select_columns([name]).validate(texts.alias(name).to_frame(), lazy=True)
        if frame[name].null_count():
            raise ValueError(f"rows without {name} came as far as the border")
    try:
        rest.validate(frame.drop(*words), lazy=True)
    except SchemaErrors as found:
        cases = found.failure_cases
        if cases["index"].null_count():
            raise
        broken = _broken(cases)
        places = pl.int_range(frame.height, dtype=pl.UInt32, eager=True)
        return Checked(frame.filter(~places.is_in(broken["place"].to_list())), broken)
    return Checked(frame, pl.DataFrame(schema=BROKEN))


@cache
def _schemas(
    model: type[pa.DataFrameModel], words: tuple[str, ...]
) -> tuple[pa.DataFrameSchema, pa.DataFrameSchema]:
    """The contract without its rule of unique keys, and what of it concerns no words."""
    schema = model.to_schema()
    schema.unique = None
    return schema, schema.remove_columns(list(words))


def _broken(cases: pl.DataFrame) -> pl.DataFrame:
    check = pl.col("check").str.extract(r"^(\w+)")
    said = check.replace_strict(SAID, default=None, return_dtype=pl.String)
    return cases.select(
        place=pl.col("index").cast(pl.UInt32),
        column=pl.col("column"),
        value=pl.col("failure_case").cast(pl.String),
        reason=pl.coalesce(said, pl.format("fails {}", "check")),
    )
