"""Parquet files: typed columns as the text a spreadsheet would show, under their header."""

import io
from collections.abc import Collection
from datetime import time
from typing import Any

import polars as pl

from pipeline.intake.read.delimited import WIDE_FILE
from pipeline.intake.read.grids import (
    HEAD_ROWS,
    LEFT_OUT,
    LINE,
    MOST_CELLS,
    MOST_LINES,
    MOST_TEXT,
    TOO_MUCH,
    WIDEST,
    Grid,
    UnreadableFile,
    cell_name,
    coded_type,
    is_panic,
    seen_cells,
    too_long,
)
from pipeline.intake.read.parquet_sizes import NotParquet, sizes_of

BROKEN = "not a Parquet file that can be read; export it again, or as CSV"


def open_parquet(name: str, data: bytes) -> Grid:
    """The grid of a Parquet file; the names of its columns stand in line 1.

    Raises UnreadableFile with a plain sentence where the bytes are no table of plain cells.
    """
    frame = _frame(data)
    names = frame.columns
    for column, kind in frame.schema.items():
        if kind.is_nested() or kind in (pl.Binary, pl.Duration, pl.Object):
            raise UnreadableFile(f"the column {column} holds no plain cells; export it as CSV")
    cells = frame.select(_as_text(place, column, frame) for place, column in enumerate(names))
    del frame
    header = pl.DataFrame([names], schema=cells.schema, orient="row")
    whole = pl.concat([header, cells]).rechunk().with_row_index(LINE, offset=1)
    if why := too_long(whole):
        raise UnreadableFile(why)
    seen = seen_cells(whole)
    remarks = () if seen.equals(whole) else (LEFT_OUT,)
    head = [[cell or "" for cell in row] for row in seen.drop(LINE).head(HEAD_ROWS).rows()]

    def load(coded: Collection[int]) -> pl.DataFrame:
        return seen.with_columns(
            pl.col(cell_name(place)).cast(coded_type()) for place in coded if place < len(names)
        )

    return Grid(name, "", head, load, remarks=remarks)


def _frame(data: bytes) -> pl.DataFrame:
    """All columns, once their number and the number of rows are known to be bearable."""
    try:
        sizes = sizes_of(data)
        if sizes.values > MOST_CELLS or sizes.unpacked > MOST_TEXT:
            raise UnreadableFile(TOO_MUCH)
        scan = pl.scan_parquet(io.BytesIO(data))
        schema = scan.collect_schema()
        width = len(schema)
        if width > WIDEST:
            raise UnreadableFile(WIDE_FILE)
        height = scan.select(pl.len()).collect().item()
        if height > MOST_LINES or width * height > MOST_CELLS:
            raise UnreadableFile(TOO_MUCH)
        frame = scan.collect()
        if sum(map(_size_of_text, frame)) > MOST_TEXT:
            raise UnreadableFile(TOO_MUCH)  # a long text of a dictionary, in very many rows
        return frame
    except NotParquet:
        raise UnreadableFile(BROKEN) from None
    except (pl.exceptions.PolarsError, OSError, ValueError, MemoryError):
        raise UnreadableFile(BROKEN) from None
    except BaseException as broken:
        if is_panic(broken):
            raise UnreadableFile(BROKEN) from None
        raise


def _size_of_text(column: pl.Series) -> int:
    """Bytes of all texts of a column, without writing each text of a dictionary out."""
    if column.dtype == pl.String:
        return int(column.str.len_bytes().cast(pl.Int64).sum())
    if not isinstance(column.dtype, pl.Categorical | pl.Enum):
        return 0
    listed: Any = column.dtype.categories
    texts: pl.Series = listed if isinstance(listed, pl.Series) else listed.to_series()
    codes = column.to_physical().drop_nulls()
    return int(texts.str.len_bytes().gather(codes).cast(pl.Int64).sum())


def _as_text(place: int, name: str, frame: pl.DataFrame) -> pl.Expr:
    """Cells as text, null where blank: whole numbers without decimals, days without a time."""
    cells, kind = pl.col(name), frame.schema[name]
    text = cells.cast(pl.String)
    if kind.is_float():
        # A missing whole number makes other programs write the whole column as decimals.
        is_whole = (cells == cells.round()) & (cells.abs() < 1e15)
        whole = cells.cast(pl.Int64, strict=False).cast(pl.String)
        text = pl.when(is_whole).then(whole).otherwise(cells.fill_nan(None).cast(pl.String))
    elif isinstance(kind, pl.Datetime):
        wall = cells.dt.replace_time_zone(None)
        are_days = bool((frame[name].drop_nulls().dt.time() == time(0)).all())
        text = wall.dt.strftime("%Y-%m-%d" if are_days else "%Y-%m-%d %H:%M:%S")
    return pl.when(text != "").then(text).alias(cell_name(place))
