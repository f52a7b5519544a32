"""The same row twice, and a later row that corrects an earlier one.

Rows stand in the order of their files' natural names, then sheets, then lines (`row`); nothing
here looks at file times, so the order in which files arrive never matters.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

MOST_KEYS = 1 << 62
FEW_LISTED = 32
MOST_LISTED = 1 << 16  # up to so many different values are listed to number them


@dataclass(frozen=True)
class Versions:
    """What stands after repeats and corrections.

    `rows`: one row a key, the version that won. `repeated`: rows of the spreadsheet that say
    nothing new. `corrections`: later and earlier row of every replacement.
    """

    rows: pl.DataFrame
    repeated: pl.Series
    corrections: pl.DataFrame


def dense_key(frame: pl.DataFrame, names: Sequence[str]) -> tuple[pl.Series, int]:
    """One UInt64 for each combination of the columns, equal where all of them are equal.

    Also the number that all keys lie below.
    """
    columns = [_whole(frame[name]) for name in names]
    lows = [int(column.min(initial=0)) for column in columns]
    widths = [int(c.max(initial=0)) - low + 1 for c, low in zip(columns, lows, strict=True)]
    for place in sorted(range(len(widths)), key=lambda place: -widths[place]):
        # Then the days, measures … that occur are numbered, those of the widest span first.
        if math.prod(widths) > 16 * frame.height and FEW_LISTED < widths[place] <= MOST_LISTED:
            columns[place], widths[place] = _listed(columns[place], lows[place], widths[place])
            lows[place] = 0
    key = np.zeros(frame.height, dtype=np.int64)
    size = 1
    for column, low, width in zip(columns, lows, widths, strict=True):
        if size * width > MOST_KEYS:
            key = pl.Series(key).rank("dense").to_numpy().astype(np.int64)
            size = frame.height + 1
        key *= width
        np.add(key, column, out=key, casting="unsafe")
        key -= low
        size *= width
    return pl.Series("key", key.view(np.uint64)), size


def _whole(column: pl.Series) -> npt.NDArray[np.integer]:
    """A column as whole numbers, equal where its values are; null is a value like any other."""
    if column.dtype == pl.Date:
        column = column.to_physical()
    elif column.dtype == pl.Boolean:
        column = column.cast(pl.UInt8)
    elif not column.dtype.is_integer():
        column = column.rank("dense")
    if column.null_count():
        low = column.min()
        column = column.cast(pl.Int64).fill_null(low - 1 if isinstance(low, int) else 0)
    return column.to_numpy()


def _listed(
    values: npt.NDArray[np.integer], low: int, width: int
) -> tuple[npt.NDArray[np.integer], int]:
    """The values that occur numbered from 0, and how many there are."""
    places = values.astype(np.int64) - low
    is_there = np.zeros(width, dtype=np.bool_)
    is_there[places] = True
    number = np.cumsum(is_there) - 1
    return number[places], int(number[-1]) + 1


def _are_unique(keys: pl.Series, size: int) -> bool:
    """Whether every key stands once; `size` is the number all keys lie below."""
    if size > 16 * len(keys) + MOST_LISTED:
        return keys.n_unique() == len(keys)
    is_there = np.zeros(size, dtype=np.bool_)
    is_there[keys.to_numpy()] = True
    return int(np.count_nonzero(is_there)) == len(keys)


def settle_versions(
    rows: pl.DataFrame, key: Sequence[str], content: Sequence[str], kept: Mapping[str, str]
) -> Versions:
    """One row a key: of equal rows the first, of different ones the last.

    `content` are the columns that make a version; `kept` names those that an export may lack
    altogether and the column that says whether it has it: what is lacking stays as it was.
    """
    keys, size = dense_key(rows, key)
    none = pl.Series("row", [], dtype=pl.UInt32)
    pairs = pl.DataFrame(schema={"later": pl.UInt32, "earlier": pl.UInt32})
    if _are_unique(keys, size):
        return Versions(rows, none, pairs)
    is_double = keys.is_duplicated()
    chain = _chained(rows.filter(is_double), keys.filter(is_double), content, kept)
    # Where the last word only repeats, the row that said it first stands.
    winners = chain.filter(~pl.col("is_repeat")).unique("key", keep="last", maintain_order=True)
    corrected = chain.filter(~pl.col("is_first") & ~pl.col("is_repeat"))
    return Versions(
        pl.concat([rows.filter(~is_double), winners.select(rows.columns)]).sort("row"),
        _whole_rows(rows, chain.filter("is_repeat")["row"]),
        corrected.select(later="row", earlier="standing"),
    )


def _chained(
    rows: pl.DataFrame, keys: pl.Series, content: Sequence[str], kept: Mapping[str, str]
) -> pl.DataFrame:
    """Rows of equal key one after the other, with what each changes about the one before."""
    chain = rows.with_columns(keys).sort("key", "row")
    # A row's place counts through the whole frame: counted inside its key, it would fetch the cell
    # of somebody else.
    chain = chain.with_columns(place=pl.int_range(pl.len(), dtype=pl.UInt32))
    chain = chain.with_columns(
        pl.col(name).gather(pl.when(has).then("place").forward_fill().over("key"))
        for name, has in kept.items()
    )
    is_first = (pl.col("key") != pl.col("key").shift(1)).fill_null(True)
    is_same = pl.all_horizontal(pl.col(name).eq_missing(pl.col(name).shift(1)) for name in content)
    return chain.with_columns(is_first=is_first, is_repeat=is_same & ~is_first).with_columns(
        standing=pl.when(~pl.col("is_repeat")).then("row").forward_fill().shift(1)
    )


def _whole_rows(rows: pl.DataFrame, repeats: pl.Series) -> pl.Series:
    """Spreadsheet rows all of whose parts are repeats."""
    counts = repeats.value_counts(name="repeats")
    parts = rows.filter(pl.col("row").is_in(repeats.unique().to_list()))["row"]
    whole = parts.value_counts(name="parts").join(counts, on="row")
    return whole.filter(pl.col("repeats") == pl.col("parts"))["row"].sort()
