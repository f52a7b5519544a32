"""A folder of exports as tables that can be turned about, and written as people's files."""

import csv
import io
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

Row = tuple[str, ...]


@dataclass(frozen=True)
class Export:
    """One file: its header and rows as typed, and how it is written.

    `kind` is roster, long, wide, columns, log, film or decisions. `columns` are our names of the
    header's cells, in its order.
    """

    name: str
    kind: str
    columns: tuple[str, ...]
    header: Row
    rows: tuple[Row, ...]
    delimiter: str = ","
    has_mark: bool = False  # begins with a byte order mark
    line_end: str = "\n"

    @property
    def text(self) -> str:
        """The file as it is written."""
        buffer = io.StringIO()
        pen = csv.writer(buffer, delimiter=self.delimiter, lineterminator=self.line_end)
        pen.writerows([self.header, *self.rows])
        return ("\ufeff" if self.has_mark else "") + buffer.getvalue()

    def cell(self, row: Row, column: str) -> str:
        """The cell of a row in our column, empty where the file has no such column."""
        return row[self.columns.index(column)] if column in self.columns else ""

    def where(self, keep: Callable[[Row], bool]) -> "Export":
        """The rows for which `keep` holds."""
        return replace(self, rows=tuple(row for row in self.rows if keep(row)))

    def named(self, name: str) -> "Export":
        """The same file under another name."""
        return replace(self, name=name)


def write_exports(folder: Path, exports: Iterable[Export]) -> Path:
    """The files in a new folder."""
    folder.mkdir(parents=True)
    for export in exports:
        (folder / export.name).write_bytes(export.text.encode())
    return folder


@dataclass(frozen=True)
class Said:
    """One trial or one set: what a row says once it is read.

    `number` is the trial or set as the row gives it, None where it gives none; `values` are the
    value of a trial in the catalogue's unit, or repetitions and load in kg.
    """

    athlete: str
    day: str
    what: str
    side: str
    number: int | None
    values: tuple[Any, ...]
    pain: Any = None
    note: Any = None


@dataclass(frozen=True)
class Truth:
    """What becomes of one row: its trials or sets, or "refused", or "blank" (not read)."""

    verdict: str
    said: tuple[Said, ...] = ()


REFUSED, BLANK = Truth("refused"), Truth("blank")
