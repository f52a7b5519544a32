"""Where the headers of a grid stand, over one row or two, and what they say."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.grids import HEAD_ROWS, LINE
from pipeline.intake.kinds import Recognition, first_column_keys, recognise
from pipeline.intake.values import keys_of

MANY_ROWS = 100_000  # from here on only dictionary-encoded columns are searched for headers


@dataclass(frozen=True)
class Header:
    """Where a header stands: index of its first row, how many rows it takes, what it says."""

    row: int
    height: int
    reading: Recognition
    cells: tuple[str, ...]


def head_rows(frame: pl.DataFrame) -> list[tuple[str, ...]]:
    """The first rows of a grid, as far down as a header is looked for."""
    return [_filled(row) for row in frame.head(HEAD_ROWS).drop(LINE).rows()]


def first_header(head: Sequence[Sequence[str]]) -> Header | None:
    """The first row, or pair of rows, that is the full header of some kind of export."""
    for row in range(len(head)):
        header = header_at(head, row)
        if header is not None and header.reading.is_complete:
            return header
    return None


def header_at(head: Sequence[Sequence[str]], row: int) -> Header | None:
    """The header beginning at this row, over one or two rows, if there is one."""
    cells = tuple(head[row])
    alone = recognise(cells)
    single = Header(row, 1, alone, cells) if alone else None
    below = tuple(head[row + 1]) if row + 1 < len(head) else ()
    if not any(cell.strip() for cell in below):
        return single
    both = _joined(cells, below)
    joined = recognise(both)
    if joined is None or not joined.is_complete or not _continues(below, joined, cells):
        return single
    is_better = alone is None or not alone.is_complete or len(joined.columns) > len(alone.columns)
    return Header(row, 2, joined, both) if is_better or _is_unit_row(below) else single


def _continues(below: Sequence[str], joined: Recognition, cells: Sequence[str]) -> bool:
    """Whether the second row belongs to the header: it names no athlete."""
    first = next(
        (column.place for column in joined.columns if column.name in ("athlete_id", "flag_id")), 0
    )
    under = below[first].strip() if first < len(below) else ""
    above = cells[first].strip() if first < len(cells) else ""
    return not under or not above


def _is_unit_row(cells: Sequence[str]) -> bool:
    filled = [cell.strip(" ()[]") for cell in cells if cell.strip()]
    return bool(filled) and all(catalogue().find_unit(cell) for cell in filled)


def _joined(upper: Sequence[str], lower: Sequence[str]) -> tuple[str, ...]:
    """Two header rows as one: a merged cell above counts for every cell below it."""
    cells: list[str] = []
    current = ""
    for place in range(max(len(upper), len(lower))):
        above = upper[place].strip() if place < len(upper) else ""
        below = lower[place].strip() if place < len(lower) else ""
        current = above or current
        if not below:
            cells.append(above)
        elif _is_unit_row([below]) and not below.isdigit():
            cells.append(f"{above or current} ({below.strip(' ()[]')})")
        else:
            cells.append(f"{current} {below}".strip())
    return tuple(cells)


def later_headers(frame: pl.DataFrame, first: Header) -> list[Header]:
    """Headers of further tables below the first one."""
    start = first.row + first.height
    names = [name for name in frame.columns if name != LINE]
    if frame.height > MANY_ROWS:
        names = [name for name in names if isinstance(frame.schema[name], pl.Categorical)]
    texts = _distinct(frame.select(names))
    every = pl.concat([pl.Series(dtype=pl.String), *texts.values()])
    first_keys = every.filter(keys_of(every).is_in(list(first_column_keys())))
    rows: set[int] = set()
    if len(first_keys):
        for name in names:
            known = texts[name].filter(texts[name].is_in(first_keys.to_list()))
            if len(known):
                cells = frame[name].cast(pl.String)
                rows.update(cells.is_in(known.to_list()).fill_null(False).arg_true())
    headers: list[Header] = []
    for row in sorted(row for row in rows if row >= start):
        head = [_cells(frame, row + step) for step in range(2) if row + step < frame.height]
        header = header_at(head, 0)
        if header is not None and header.reading.is_complete:
            headers.append(replace(header, row=row))
    return headers


def _distinct(cells: pl.DataFrame) -> dict[str, pl.Series]:
    """The texts of each column, each once; of an encoded one all that its dictionary holds."""
    encoded = {
        name: kind.categories.to_series()
        for name, kind in cells.schema.items()
        if isinstance(kind, pl.Categorical)
    }
    plain = cells.drop(encoded).select(pl.all().unique().implode())
    return encoded | {column.name: column.explode() for column in plain}


def _cells(frame: pl.DataFrame, row: int) -> tuple[str, ...]:
    return _filled(frame.drop(LINE).row(row))


def _filled(row: Sequence[str | None]) -> tuple[str, ...]:
    cells = ["" if cell is None else str(cell) for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    return tuple(cells)


def before_titles(frame: pl.DataFrame, header_row: int) -> int:
    """Where the table above ends: before the title lines and blank lines of the next header."""
    row = header_row
    while row > 0 and sum(bool(cell.strip()) for cell in _cells(frame, row - 1)) <= 1:
        row -= 1
    return row
