"""A grid into the tables that stand in it: headers found, titles and totals told apart."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.catalogue import catalogue, header_key
from pipeline.intake.parse.values import keys_of, read_words
from pipeline.intake.read.grids import LINE, Grid, cell_name
from pipeline.intake.recognise.headers import (
    Header,
    before_titles,
    first_header,
    head_rows,
    header_at,
    later_headers,
)
from pipeline.intake.recognise.kinds import (
    WIDE,
    Column,
    Recognition,
    explain,
    first_column_keys,
    recognise,
    unused,
)
from pipeline.intake.recognise.named_tests import COLUMNS, SIDE_COLUMNS
from pipeline.intake.recognise.nearest import nearest_template
from schemas.contracts.own_sheets import EXAMPLES, NOT_READ

# Columns of few different texts; dictionary-encoded on reading.
CODED = frozenset({
    "athlete_id", "tested_on", "trained_on", "filmed_on", "test", "side", "unit", "trial", "pain",
    "exercise", "set_number", "order", "rir", "rpe", "tempo", "checkpoint", "finding", "reps",
    "reps_left", "reps_right", "sets", "planned_reps", "done",
})  # fmt: skip
VALUES = frozenset({
    "value", "reps", "reps_left", "reps_right", "finding", "decision", *SIDE_COLUMNS,
})  # fmt: skip
OWN_LISTS = "lists and explanations of our own; nothing in it is data"
EXAMPLE_ROWS = "example rows of a template, which are no data"
EXAMPLE_KEYS = tuple(map(header_key, EXAMPLES))
NO_TABLE = "no table of a known kind was found in it; nothing was read"
TITLE_CELLS = 2  # a line above a header with more cells than this is no title


@dataclass(frozen=True)
class Table:
    """One table of a known kind: `cells` has `line` and the text columns c0, c1 …"""

    reading: Recognition
    cells: pl.DataFrame
    quick: dict[int, pl.Series] = field(default_factory=dict)  # numbers read before, by place

    @property
    def kind(self) -> str:
        """Name of the export kind."""
        return self.reading.kind.name

    def text(self, column: Column | None) -> pl.Series:
        """Cells of one column; all null where the table lacks it."""
        if column is None or cell_name(column.place) not in self.cells.columns:
            return pl.Series([None], dtype=pl.String).new_from_index(0, self.cells.height)
        return self.cells[cell_name(column.place)]

    def column(self, name: str) -> Column | None:
        """Our column of this name, if the table has it."""
        return self.reading.column(name)


@dataclass(frozen=True)
class Tables:
    """What one grid holds: its tables, rows outside them (line, reason, c0 …), and remarks."""

    tables: tuple[Table, ...] = ()
    strays: pl.DataFrame = field(default_factory=pl.DataFrame)
    remarks: tuple[str, ...] = ()
    kind: str = ""


def split_tables(grid: Grid) -> Tables:
    """All tables of a grid, stacked or beside each other, with what stands between them."""
    if any(row and row[0].strip().startswith(NOT_READ) for row in grid.head[:1]):
        return Tables(remarks=(*grid.remarks, OWN_LISTS))
    header = first_header(grid.head)
    if header is None:
        return _no_table(grid)
    frame = grid.load({c.place for c in header.reading.columns if c.name in CODED})
    header = first_header(head_rows(frame)) or header  # where broken quotes made other rows
    headers = [header, *later_headers(frame, header)]
    tables: list[Table] = []
    strays, remarks = [_strays_above(frame, header)], list(grid.remarks)
    for this, following in zip(headers, [*headers[1:], None], strict=True):
        end = frame.height if following is None else before_titles(frame, following.row)
        rows = frame[this.row + this.height : end]
        rows, wide_rows = _without_wide_rows(rows, this, grid)
        rows, said = _without_totals(rows, this.reading)
        strays.append(wide_rows)
        rows, examples = _without_examples(rows, this.reading)
        remarks += [*said, *examples]
        for reading in _side_by_side(this):
            filled, said = _with_merged_sides(reading, rows, this)
            remarks += said
            tables.append(Table(filled, rows))
    remarks += _unused(tables, headers)
    if not any(table.cells.height for table in tables):
        remarks.append("a header without rows")
    found = [stray for stray in strays if stray.height]
    stray_rows = pl.concat(found, how="diagonal_relaxed") if found else pl.DataFrame()
    return Tables(tuple(tables), stray_rows, tuple(dict.fromkeys(remarks)), tables[0].kind)


def _no_table(grid: Grid) -> Tables:
    """A grid without a full header: refused row by row where it looks like an export."""
    frame = grid.load(())
    if frame.width == 1:
        return Tables(remarks=grid.remarks or ("an empty sheet",))
    head = head_rows(frame)
    headers = [header_at(head, row) for row in range(len(head))]
    known = [header for header in headers if header is not None]
    near = max(known, key=lambda header: header.reading.merit, default=None)
    if near is None or 2 * len(near.reading.missing) > len(near.reading.kind.required):
        fullest = max(head, key=lambda row: sum(map(bool, row)), default=())
        hints = tuple(filter(None, [nearest_template(near.cells if near else fullest)]))
        return Tables(remarks=(NO_TABLE, *hints, *grid.remarks))  # what matters first
    reason = explain(near.reading)
    hints = tuple(filter(None, [nearest_template(near.cells)]))
    rows = frame[near.row + near.height :].filter(~pl.all_horizontal(blank_cells(frame)))
    strays = rows.with_columns(reason=pl.lit(reason))
    remarks = (*grid.remarks, reason, *hints)
    return Tables(strays=strays, remarks=remarks, kind=near.reading.kind.name)


def blank_cells(frame: pl.DataFrame) -> list[pl.Expr]:
    """For each column of cells, whether they hold nothing."""
    return [
        pl.col(name).cast(pl.String).str.strip_chars().str.len_bytes().fill_null(0) == 0
        for name in frame.columns
        if name != LINE
    ]


def _strays_above(frame: pl.DataFrame, header: Header) -> pl.DataFrame:
    """Lines above the header that hold too much for a title: refused, never passed over."""
    if header.row == 0:
        return pl.DataFrame()
    above = frame[: header.row]
    filled = pl.sum_horizontal(~blank for blank in blank_cells(above))
    reason = "stands above the header, so nothing says what its cells mean"
    return above.filter(filled > TITLE_CELLS).with_columns(reason=pl.lit(reason))


def _without_wide_rows(
    rows: pl.DataFrame, header: Header, grid: Grid
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Rows of a text file with more cells than the header, set apart with the reason."""
    beyond = [name for name in rows.columns[1 + len(header.cells) :]]
    if grid.is_workbook or not beyond:
        return rows, pl.DataFrame()
    is_wide = ~pl.all_horizontal(
        pl.col(name).cast(pl.String).str.strip_chars().str.len_bytes().fill_null(0) == 0
        for name in beyond
    )
    wide = rows.filter(is_wide)
    if wide.is_empty():
        return rows, pl.DataFrame()
    hint = "; a decimal comma needs quotation marks here" if grid.delimiter == "," else ""
    reason = f"has more cells than the header, which has {len(header.cells)}{hint}"
    return rows.filter(~is_wide), wide.with_columns(reason=pl.lit(reason))


def _without_totals(rows: pl.DataFrame, reading: Recognition) -> tuple[pl.DataFrame, list[str]]:
    """Rows without those that sum up others: a word like "mean" first, and a key left blank."""
    keys = [
        cell_name(column.place)
        for column in reading.columns
        if column.name in reading.kind.required and column.name not in VALUES
    ]
    words = read_words(rows[keys[0]])
    is_total = _is_total(words.texts)
    if not words.has_blanks and not is_total.any():
        return rows, []
    is_likely = words.codes.is_null() | words.spread(is_total).fill_null(False)
    likely = rows.filter(is_likely)
    cells = [pl.col(n).cast(pl.String).str.strip_chars() for n in rows.columns if n != LINE]
    first = pl.coalesce(pl.when(cell.str.len_bytes() > 0).then(cell) for cell in cells)
    has_gap = pl.any_horizontal(pl.col(key).is_null() for key in keys)
    totals = likely.filter(has_gap & first.map_batches(_is_total, return_dtype=pl.Boolean))
    if totals.is_empty():
        return rows, []
    lines = totals[LINE].to_list()
    kept = rows.filter(~pl.col(LINE).is_in(lines))
    said = "sums up other rows and was" if len(lines) == 1 else "sum up other rows and were"
    return kept, [f"{_lines(lines)} {said} not read"]


def _without_examples(rows: pl.DataFrame, reading: Recognition) -> tuple[pl.DataFrame, list[str]]:
    """Rows without those about the invented people of the templates."""
    column = next((c for c in reading.columns if c.name in ("athlete_id", "flag_id")), None)
    if column is None:
        return rows, []
    words = read_words(rows[cell_name(column.place)])
    keys = keys_of(words.texts.str.split(".").list.first())  # a flag's id begins with the athlete's
    is_example = words.spread(keys.is_in(list(EXAMPLE_KEYS))).fill_null(False)
    if not is_example.any():
        return rows, []
    return rows.filter(~is_example), [f"{EXAMPLE_ROWS}: {is_example.sum()}"]


def _is_total(texts: pl.Series) -> pl.Series:
    words = catalogue().headers.summary_rows
    return keys_of(texts).str.strip_chars_end(":").is_in(list(words)).fill_null(False)


def _lines(lines: Sequence[int]) -> str:
    shown = ", ".join(str(line) for line in lines[:5])
    return f"{'lines' if len(lines) > 1 else 'line'} {shown}{' …' if len(lines) > 5 else ''}"


def _side_by_side(header: Header) -> list[Recognition]:
    """Tables beside each other: each begins with an athlete column of its own."""
    keys = [header_key(cell) for cell in header.cells]
    starts: list[int] = []
    for known in (first_column_keys("athlete_id", "flag_id"), first_column_keys("name")):
        if len(starts) < 2:  # names may stand beside the ids
            starts = [place for place, key in enumerate(keys) if key in known]
    if len(starts) < 2:
        return [header.reading]
    parts: list[Recognition] = []
    for start, end in zip(starts, [*starts[1:], len(header.cells)], strict=True):
        reading = recognise(header.cells[start:end])
        if reading is None or not reading.is_complete:
            return [header.reading]
        moved = [replace(column, place=column.place + start) for column in reading.columns]
        parts.append(replace(reading, columns=tuple(moved)))
    return parts


def _with_merged_sides(
    reading: Recognition, rows: pl.DataFrame, header: Header
) -> tuple[Recognition, list[str]]:
    """Columns without a header right of "left" or "right" are further trials of that side."""
    if reading.kind.name not in (WIDE, COLUMNS):
        return reading, []
    columns, remarks = list(reading.columns), []
    for column in reading.columns:
        if column.name not in SIDE_COLUMNS:
            continue
        place, trial = column.place + 1, column.trial or 1
        found: list[Column] = []
        while _is_nameless(header, rows, place) and _holds_numbers(rows[cell_name(place)]):
            trial += 1
            found.append(replace(column, place=place, trial=trial))
            place += 1
        if found:
            columns = [c for c in columns if c is not column]
            columns += [replace(column, trial=column.trial or 1), *found]
            what = f"{len(found)} column{'s' if len(found) > 1 else ''} without a header"
            remarks.append(f'{what} right of "{column.header}" read as further trials')
    return replace(reading, columns=tuple(columns)), remarks


def _is_nameless(header: Header, rows: pl.DataFrame, place: int) -> bool:
    """Whether the header cell here is empty though cells below it are not."""
    name = cell_name(place)
    is_named = place < len(header.cells) and bool(header.cells[place].strip())
    return not is_named and name in rows.columns and rows[name].null_count() < rows.height


def _holds_numbers(cells: pl.Series) -> bool:
    """Whether most filled cells begin like numbers; else it is a column of notes."""
    texts = cells.cast(pl.String).drop_nulls()
    return 2 * int(texts.str.contains(r"^\s*[-+.,]?[0-9]").sum()) > len(texts)


def _unused(tables: Sequence[Table], headers: Sequence[Header]) -> list[str]:
    spare = dict.fromkeys(
        name for table in tables for name in unused(table.reading) if header_key(name)
    )
    said = [f"columns not used: {', '.join(spare)}"] if spare else []
    used = {one.place for table in tables for one in table.reading.columns}
    widest = max(table.cells.width - 1 for table in tables)
    spare_places = [place for place in range(widest) if place not in used]
    nameless = sum(_is_nameless(headers[0], tables[0].cells, place) for place in spare_places)
    if nameless:
        said.append(f"columns without a header, not used: {nameless}")
    return said
