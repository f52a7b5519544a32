"""A grid of text cells as a file or a sheet holds it, before anybody knows what it means."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.control_characters import TURNING

LINE = "line"
HEAD_ROWS = 60  # a header further down than this is not looked for
WIDEST = 1000  # columns; wider is no export of ours
LONGEST = 4 * 32_767  # bytes of a cell: a spreadsheet's cell holds 32,767 characters
# Control characters: no chart and no PDF's title may hold one (XML 1.0, section 2.2). Those that
# part lines or fields become spaces, the others go.
PARTING = bytes([0x0B, 0x0C, *range(0x1C, 0x20)])
UNSEEN = bytes([*range(0x01, 0x09), *range(0x0E, 0x1C), 0x7F])
NO_CHARACTERS = "\ufffe\uffff"
MARKS = NO_CHARACTERS + TURNING  # those of direction would turn the text that stands behind
CHUNK = 1 << 18  # bytes looked at together
# What one file may hold, whatever its kind: with these, reading it and listing every row of it as
# refused, which takes most, stays under 1.5 GiB of memory (measured: 750 MiB a million).
MOST_LINES = 1_500_000
MOST_CELLS = 16_000_000  # lines times columns
MOST_TEXT = 160_000_000  # bytes of text once unpacked and decoded
TOO_MUCH = "more than fits into memory; split it into several files of a million rows each"
LEFT_OUT = "control characters, which no one sees, were left out"


class UnreadableFile(Exception):
    """Why a file or sheet cannot be read, as the rest of the sentence "file: …"."""


@dataclass(frozen=True)
class Grid:
    """One text file or one sheet of a workbook.

    `head` holds its first rows as text; `load(coded)` reads all of it into a frame with the
    columns `line` (Int64, as the spreadsheet numbers its rows) and `c0`, `c1` … of text, null
    where blank. Columns whose place is in `coded` come dictionary-encoded.
    """

    file: str
    sheet: str
    head: Sequence[Sequence[str]]
    load: Callable[[Collection[int]], pl.DataFrame]
    delimiter: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def is_workbook(self) -> bool:
        """Workbooks hold numbers as numbers; a text file holds only what was typed."""
        return not self.delimiter


def cell_name(place: int) -> str:
    """Name of the column of cells at this place, counted from 0."""
    return f"c{place}"


def coded_type() -> pl.Categorical:
    """A fresh dictionary type, whose codes count from 0 within one column."""
    return pl.Categorical(pl.Categories.random())


def too_long(frame: pl.DataFrame) -> str:
    """Why a grid with a cell beyond all use is not read; empty where there is none."""
    for name in frame.columns:
        cells = frame[name]
        if name == LINE:
            continue
        coded = isinstance(cells.dtype, pl.Categorical)
        texts = cells.dtype.categories.to_series() if coded else cells  # type: ignore[attr-defined]
        if (texts.str.len_bytes() > LONGEST).any():
            long = cells.cast(pl.String).str.len_bytes() > LONGEST
            line = frame[LINE].to_list()[long.to_list().index(True)]
            return long_cell(line)
    return ""


def long_cell(line: int) -> str:
    """Why a grid is not read in which this line holds a cell beyond all use."""
    return f"the cell in line {line} is longer than any spreadsheet's; nothing was read"


def seen_text(text: bytes) -> bytes:
    """UTF-8 text without control characters; line ends and tabs stay."""
    seen = text
    if _has_control_characters(text):  # found far faster than taken out
        seen = text.translate(bytes.maketrans(PARTING, b" " * len(PARTING)), UNSEEN)
    if seen.isascii():  # looked at far faster than searched
        return seen
    for start in (b"\xef\xbf", b"\xe2\x80", b"\xe2\x81"):  # of the letters below
        if start in seen:
            for letter in MARKS:
                if letter.encode().startswith(start):
                    seen = seen.replace(letter.encode(), b"")
    return seen


def _has_control_characters(text: bytes) -> bool:
    """Whether there is any but line ends, tabs and zero bytes, which are looked for elsewhere."""
    low = _count(text, np.less, 0x20)
    for mark in b"\n\r\t\x00":
        if low == 0:
            break
        low -= count_of(text, mark)
    return low > 0 or b"\x7f" in text


def count_of(text: bytes, byte: int) -> int:
    """How often a byte stands in a text; for one as frequent as line ends bytes.count is slow."""
    return _count(text, np.equal, byte)


def _count(text: bytes, compares: np.ufunc, byte: int) -> int:
    every = np.frombuffer(text, np.uint8)
    mask = np.empty(CHUNK, np.bool_)  # small enough to stay in the processor's cache
    found = 0
    for start in range(0, len(every), CHUNK):
        part = every[start : start + CHUNK]
        found += int(np.count_nonzero(compares(part, byte, out=mask[: len(part)])))
    return found


def seen_cells(frame: pl.DataFrame) -> pl.DataFrame:
    """The same of a frame of cells."""
    texts = pl.col(pl.String)
    parting, unseen = f"[{PARTING.decode()}]", f"[{UNSEEN.decode()}{MARKS}]"
    return frame.with_columns(texts.str.replace_all(parting, " ").str.replace_all(unseen, ""))


def is_panic(error: BaseException) -> bool:
    """Whether a reader written in Rust gave up; each has a class of that name of its own."""
    return type(error).__name__ == "PanicException"
