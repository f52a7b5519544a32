"""Where the headers of a grid stand, over one row or several, and what they say."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.catalogue import catalogue, header_key
from pipeline.intake.parse.values import keys_of
from pipeline.intake.read.grids import HEAD_ROWS, LINE
from pipeline.intake.recognise.kinds import Recognition, first_column_keys, is_header, recognise

MOST_ROWS = 3  # of one header: the test, the side and the number of the trial
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
    """The first row, or rows, that are the full header of some kind of export."""
    for row in range(len(head)):
        header = header_at(head, row)
        if header is not None and header.reading.is_complete:
            return header
    return None


def header_at(head: Sequence[Sequence[str]], row: int) -> Header | None:
    """The header beginning at this row, over as many rows as say more, if there is one."""
    cells = tuple(head[row])
    alone = recognise(cells)
    best = Header(row, 1, alone, cells) if alone else None
    for height in range(2, MOST_ROWS + 1):
        rows = head[row : row + height]
        if len(rows) < height or not any(cell.strip() for cell in rows[-1]):
            break
        joined = _joined(rows)
        reading = recognise(joined)
        if reading is None or not reading.is_complete or not _continues(rows, reading):
            continue
        is_better = len(reading.columns) > max(_known(best), _known(header_at(rows, 1)))
        is_next = best is not None and best.height == height - 1
        if is_better or (is_next and _is_unit_row(rows[-1])):
            best = Header(row, height, reading, joined)
    return best


def _known(header: Header | None) -> int:
    """How many columns a full header knows; 0 where there is none."""
    return len(header.reading.columns) if header and header.reading.is_complete else 0


def _continues(rows: Sequence[Sequence[str]], joined: Recognition) -> bool:
    """Whether the last row belongs to the header: it names no athlete."""
    first = next(
        (column.place for column in joined.columns if column.name in ("athlete_id", "flag_id")), 0
    )
    *above, below = (row[first].strip() if first < len(row) else "" for row in rows)
    return not below or not any(above) or header_key(below) in first_column_keys()


def _is_unit_row(cells: Sequence[str]) -> bool:
    filled = [cell.strip(" ()[]") for cell in cells if cell.strip()]
    return bool(filled) and all(catalogue().find_unit(cell) for cell in filled)


def _joined(rows: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Several header rows as one: a merged cell above counts for every cell below it."""
    width = max(map(len, rows))
    *upper, lowest = ([cell.strip() for cell in row] + [""] * (width - len(row)) for row in rows)
    cells: list[str] = []
    current = [""] * len(upper)
    for place, below in enumerate(lowest):
        above = [row[place] for row in upper]
        for level, cell in enumerate(above):
            if cell:  # what stood further down belonged to the merged cell before
                current = [*current[:level], cell, *[""] * (len(upper) - level - 1)]
        if not below:
            cells.append(" ".join(filter(None, above)))
        elif _is_unit_row([below]) and not below.isdigit():
            cells.append(f"{' '.join(filter(None, current))} ({below.strip(' ()[]')})")
        else:
            cells.append(" ".join(filter(None, (*current, below))))
    return _with_own_headers(cells, lowest)


def _with_own_headers(cells: Sequence[str], lowest: Sequence[str]) -> tuple[str, ...]:
    """The cells; one of the lowest row that is a header by itself, and the only one, stays so.

    In a text file nothing says where a merged cell ends, so the note right of the last test looks
    as if it stood below that test.
    """
    return tuple(
        below
        if below != cell and is_header(below) and not is_header(cell) and lowest.count(below) == 1
        else cell
        for cell, below in zip(cells, lowest, strict=True)
    )


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
        rows_below = range(row, min(row + MOST_ROWS, frame.height))
        head = [_cells(frame, below) for below in rows_below]
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
