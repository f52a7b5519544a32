"""CSV and TSV in every dialect that devices and spreadsheets write."""

import csv
import io
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.intake.read.decoding import decode_text
from pipeline.intake.read.grids import (
    HEAD_ROWS,
    LINE,
    LONGEST,
    MOST_CELLS,
    MOST_LINES,
    TOO_MUCH,
    WIDEST,
    Grid,
    UnreadableFile,
    cell_name,
    coded_type,
    count_of,
    long_cell,
    too_long,
)

DELIMITERS = (",", ";", "\t", "|")
HEAD_BYTES = 1 << 16
NEWLINE = ord("\n")
# Of a file with broken quoting, which takes Python a second per 10 MB, and 100 bytes a cell.
MOST_SLOW_BYTES = 50_000_000
MOST_SLOW_CELLS = 5_000_000
UNEVEN = (
    "its quotation marks or the lengths of its rows are broken and it is too large to be sorted "
    "out; save it again as CSV or XLSX, in parts"
)
WIDE_FILE = f"more than {WIDEST} columns; this is no table of tests"


@dataclass(frozen=True)
class Dialect:
    """How cells are told apart."""

    delimiter: str
    quoted: bool = True


def open_text(name: str, data: bytes, judge: Callable[[Sequence[Sequence[str]]], float]) -> Grid:
    """The grid of a text file; `judge` says how well rows look like an export.

    Raises UnreadableFile where the bytes are no text table.
    """
    text, remarks = decode_text(data)
    text, named = _without_separator_line(text)
    head = text[:HEAD_BYTES].decode("utf-8", errors="ignore")
    dialect = Dialect(named) if named else _settle_dialect(head, judge)
    if _is_wrapped(head, dialect):
        text = _unwrapped(text, dialect)
        head = text[:HEAD_BYTES].decode("utf-8", errors="ignore")
        dialect = _settle_dialect(head, judge)
    if b'"' not in text:
        dialect = Dialect(dialect.delimiter, quoted=False)  # nothing to look out for
    elif text.count(b'"') % 2:
        dialect = Dialect(dialect.delimiter, quoted=False)
        remarks = (*remarks, _open_quote(text))
    rows = split_head(head, dialect)
    if max(map(len, rows), default=0) > WIDEST:
        raise UnreadableFile(WIDE_FILE)

    def load(coded: Collection[int]) -> pl.DataFrame:
        if not dialect.quoted and (line := _line_of_endless_cell(text, dialect)):
            raise UnreadableFile(long_cell(line))
        frame = read_cells(text, dialect, max(map(len, rows)), coded)
        if why := too_long(frame):
            raise UnreadableFile(why)
        return frame

    return Grid(name, "", rows, load, dialect.delimiter, remarks)


def _open_quote(text: bytes) -> str:
    lines = enumerate(io.BytesIO(text), start=1)
    line = next(number for number, line in lines if line.count(b'"') % 2)
    return (
        f"the quotation mark in line {line} is never closed; "
        "quotation marks were read as plain characters"
    )


def _line_of_endless_cell(text: bytes, dialect: Dialect) -> int:
    """Seen before the text is taken apart, which takes long; 0 where nothing is that long."""
    mark = dialect.delimiter.encode()
    for start in range(0, len(text) - LONGEST, LONGEST):
        end = start + LONGEST + 1
        if text.find(mark, start, end) < 0 and text.find(b"\n", start, end) < 0:
            return text.count(b"\n", 0, start) + 1
    return 0


def split_head(head: str, dialect: Dialect) -> list[list[str]]:
    """First rows of the text as lists of cells."""
    reader = _reader(head, dialect)
    rows: list[list[str]] = []
    try:
        for row in reader:
            rows.append(row)
            if len(rows) == HEAD_ROWS:
                break
    except csv.Error:  # a cell longer than the reader takes: what came before it will do
        return rows or [[head]]
    return rows


def _reader(text: str, dialect: Dialect) -> Iterator[list[str]]:
    lines = io.StringIO(text, newline="")
    if dialect.quoted:
        return csv.reader(lines, delimiter=dialect.delimiter)
    return csv.reader(lines, delimiter=dialect.delimiter, quoting=csv.QUOTE_NONE)


def _without_separator_line(text: bytes) -> tuple[bytes, str]:
    """A first line such as "sep=;" names the delimiter; spreadsheets neither show nor count it."""
    end = text.find(b"\n")
    first = text[: end if end >= 0 else len(text)].strip(b'\r "').lower()
    if first.startswith(b"sep=") and len(first) == 5:
        return text[end + 1 :], first[4:].decode()
    return text, ""


def _settle_dialect(head: str, judge: Callable[[Sequence[Sequence[str]]], float]) -> Dialect:
    def merit(delimiter: str) -> tuple[float, float]:
        rows = split_head(head, Dialect(delimiter))
        widths = sorted(len(row) for row in rows)
        return judge([row for row in rows if len(row) <= WIDEST]), widths[
            len(widths) // 2
        ] if widths else 0

    return Dialect(max(DELIMITERS, key=merit))


def _is_wrapped(head: str, dialect: Dialect) -> bool:
    """Whether every line is one quoted cell that holds a whole row, as some programs save it."""
    rows = [row for row in split_head(head, dialect)[:5] if row]
    return (
        len(rows) > 1
        and head.startswith('"')
        and all(len(row) == 1 and sum(map(row[0].count, DELIMITERS)) > 1 for row in rows)
    )


def _unwrapped(text: bytes, dialect: Dialect) -> bytes:
    if len(text) > MOST_SLOW_BYTES:
        raise UnreadableFile(UNEVEN)
    rows = _reader(text.decode("utf-8", errors="replace"), dialect)
    return "\n".join(row[0] if len(row) == 1 else "" for row in rows).encode()


def read_cells(text: bytes, dialect: Dialect, width: int, coded: Collection[int]) -> pl.DataFrame:
    """All rows of the text: `line`, then `c0` … as text, null where blank.

    Rows shorter than the widest end in nulls. Broken quoting falls back to a slower reader,
    so that no row is swallowed.
    """
    try:
        frame = _read_fast(text, dialect, width, coded)
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException):
        frame = _read_uneven(text, dialect, coded)
    has_long_cells = dialect.quoted and frame.height < count_of(text, NEWLINE)
    if has_long_cells and _swallows_rows(frame, dialect):
        return _read_slowly(text, Dialect(dialect.delimiter, quoted=False))
    return frame


def _read_fast(text: bytes, dialect: Dialect, width: int, coded: Collection[int]) -> pl.DataFrame:
    lines = count_of(text, NEWLINE)
    if lines > MOST_LINES or (lines + 1) * width > MOST_CELLS:
        raise UnreadableFile(TOO_MUCH)
    # Dictionary-encoded columns are read without a look at how a quoted cell ends; text is not.
    schema = {
        cell_name(place): coded_type() if place in coded and not dialect.quoted else pl.String()
        for place in range(width)
    }
    # The first row decides how many cells polars expects, so one is put before a narrower one.
    first, _, _ = text[:HEAD_BYTES].partition(b"\n")
    is_padded = len(split_head(first.decode(errors="ignore") + "\n", dialect)[0]) != width
    if is_padded:
        text = (dialect.delimiter * (width - 1)).encode() + b"\n" + text
    frame = pl.read_csv(
        text,
        has_header=False,
        schema=schema,
        separator=dialect.delimiter,
        quote_char='"' if dialect.quoted else None,
        row_index_name=LINE,
        row_index_offset=0 if is_padded else 1,
    ).rechunk()  # else every later step puts the pieces together anew
    return frame[1:] if is_padded else frame


def _read_uneven(text: bytes, dialect: Dialect, coded: Collection[int]) -> pl.DataFrame:
    """Text whose rows are of several lengths, or whose quoting is not as it should be."""
    mark = dialect.delimiter.encode()
    widest = 1 + max(line.count(mark) for line in io.BytesIO(text))
    if widest > WIDEST:
        raise UnreadableFile(WIDE_FILE)
    try:
        return _read_fast(text, dialect, widest, coded)
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException):
        return _read_slowly(text, dialect)


def _swallows_rows(frame: pl.DataFrame, dialect: Dialect) -> bool:
    """Whether a cell over several lines holds what looks like rows of the table."""
    enough = max(2, (frame.width - 1) // 2)
    looks_like_row = (
        pl.col("cells")
        .str.split("\n")
        .list.eval(pl.element().str.count_matches(dialect.delimiter, literal=True) >= enough)
    )
    cells = pl.concat(
        [
            frame.lazy().select(pl.col(name).cast(pl.String).alias("cells"))
            for name in frame.columns
            if name != LINE
        ]
    ).filter(pl.col("cells").str.contains("\n", literal=True))
    return cells.select(looks_like_row.list.any().any()).collect().item() is True


def _read_slowly(text: bytes, dialect: Dialect) -> pl.DataFrame:
    """What the standard library makes of text whose quoting or width is uneven."""
    marks = count_of(text, ord(dialect.delimiter)) + count_of(text, NEWLINE)
    if len(text) > MOST_SLOW_BYTES or marks > MOST_SLOW_CELLS:
        raise UnreadableFile(UNEVEN)
    csv.field_size_limit(max(len(text), 131072))
    rows = list(_reader(text.decode("utf-8", errors="replace"), dialect))
    width = max(map(len, rows), default=0)
    if width > WIDEST:
        raise UnreadableFile(WIDE_FILE)
    if width * len(rows) > MOST_CELLS:
        raise UnreadableFile(TOO_MUCH)
    columns = {
        cell_name(place): [
            _plain(row[place], dialect) if place < len(row) else None for row in rows
        ]
        for place in range(width)
    }
    frame = pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))
    return frame.with_row_index(LINE, offset=1)


def _plain(cell: str, dialect: Dialect) -> str | None:
    if not dialect.quoted and len(cell) > 1 and cell[0] == cell[-1] == '"':
        cell = cell[1:-1]
    return cell or None
