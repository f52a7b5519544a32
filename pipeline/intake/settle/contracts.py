"""The border: what leaves the intake keeps the contracts of schemas/, row by row."""

from copy import deepcopy
from dataclasses import dataclass
from functools import cache

import numpy as np
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


def checked_rows(frame: pl.DataFrame, model: type[pa.DataFrameModel]) -> Checked:
    """Split rows into those that keep the contract and those that break it.

    Dictionary-encoded columns (Categorical) hold words this program handed out: what holds for
    each of their texts holds for every row, so they are checked once a text and not a million
    times. That keys stand once is not asked again either: versions.py makes it so, and asking
    takes longer than all other checks together.

    A frame, never a lazy one: on a lazy frame pandera checks names and types only. Raises
    pandera's SchemaErrors where whole columns are missing or of another type, or where one of
    those words is wrong: faults of this program, not of the rows.
    """
    coded = tuple(name for name, kind in frame.schema.items() if kind == pl.Categorical)
    words, rest = _schemas(model, coded)
    if coded and frame.height:
        words.validate(_distinct(frame.select(coded)), lazy=True)
    try:
        rest.validate(frame.drop(coded), lazy=True)
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
    model: type[pa.DataFrameModel], coded: tuple[str, ...]
) -> tuple[pa.DataFrameSchema, pa.DataFrameSchema]:
    """The contract of the dictionary-encoded columns, and of all others, without unique keys."""
    schema = deepcopy(model.to_schema())  # pandera hands out one and the same to everybody
    schema.unique = None
    return schema.select_columns(list(coded)), schema.remove_columns(list(coded))


def _distinct(frame: pl.DataFrame) -> pl.DataFrame:
    """Every text of each column at least once, over and over in the shorter ones."""
    texts = [column.unique().cast(pl.String) for column in frame]
    longest = max(map(len, texts))
    return pl.DataFrame([each.gather(np.arange(longest) % len(each)) for each in texts])


def _broken(cases: pl.DataFrame) -> pl.DataFrame:
    check = pl.col("check").str.extract(r"^(\w+)")
    said = check.replace_strict(SAID, default=None, return_dtype=pl.String)
    return cases.select(
        place=pl.col("index").cast(pl.UInt32),
        column=pl.col("column"),
        value=pl.col("failure_case").cast(pl.String),
        reason=pl.coalesce(said, pl.format("fails {}", "check")),
    )
