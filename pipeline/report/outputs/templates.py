"""The blank workbooks for every kind of export, with what the columns mean and lists to choose."""

import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.catalogue import catalogue
from pipeline.catalogue.loading import SCHEMAS
from pipeline.errors import SquadsidesError
from pipeline.report.outputs.filling_sheets import EXERCISES, PAIN, TESTS, UNITS
from pipeline.report.outputs.workbook import Col, fill, offer, workbook
from schemas.columns import COLUMNS, Column
from schemas.contracts.own_sheets import NOT_READ
from schemas.vocabulary import Decision

if TYPE_CHECKING:
    from xlsxwriter.workbook import Workbook

MADE_ON = date(2026, 1, 1)  # the same bytes on any day
LISTS = {
    "tests": TESTS,
    "units": UNITS,
    "exercises": EXERCISES,
    "pain": PAIN,
    "decisions": tuple(str(one) for one in Decision),
}
LEAST_WIDTH, MOST_WIDTH = 9, 34


def write_templates(folder: Path) -> tuple[list[str], list[str]]:
    """Write a workbook for each kind of export; names of those written, and of those left alone.

    A file that is there already may be filled in: it stays. Raises SquadsidesError where the
    folder cannot be written.
    """
    written, kept = [], []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for kind, entry in templates().items():
            path = folder / entry["file"]
            if path.exists() or path.is_symlink():
                kept.append(path.name)
                continue
            _write(path, kind, entry)
            written.append(path.name)
    except OSError as broken:
        why = broken.strerror or broken
        raise SquadsidesError(f"The folder {folder} cannot be written: {why}.") from None
    return written, kept


def templates() -> dict[str, dict[str, Any]]:
    """What each workbook holds, by kind of export."""
    read = tomllib.loads((SCHEMAS / "templates.toml").read_text(encoding="utf-8"))
    for entry in read.values():
        for name, cells in entry["columns"].items():
            cells[0] = _told(cells[0], COLUMNS.get(name))
            if name in COLUMNS and COLUMNS[name].choices:
                entry["choices"].setdefault(name, list(COLUMNS[name].choices))
    return read


def _told(text: str, column: Column | None) -> str:
    """What stands in a column, with its words and limits."""
    words = column.expected if column and column.choices else ""
    least, most = column.limits if column and column.limits else (0, 0)
    return text.format(words=words, least=least, most=most)


def _write(path: Path, kind: str, entry: dict[str, Any]) -> None:
    columns = list(_columns(entry))
    rows = [{name: cells[place] for name, cells in entry["columns"].items()} for place in (1, 2)]
    with workbook(path, MADE_ON, catalogue().headers.kinds[kind].title) as book:
        sheet = fill(book, kind, columns, rows)
        _explained(book, kind, entry)
        offer(book, {sheet: (columns, len(rows))}, "lists to choose from")


def _columns(entry: dict[str, Any]) -> Iterator[Col]:
    for name, cells in entry["columns"].items():
        listed = entry["choices"].get(name, ())
        choices = LISTS[listed] if isinstance(listed, str) else tuple(listed)
        width = max(len(str(cell)) for cell in (name, *cells[1:])) + 2
        yield Col(name, min(max(width, LEAST_WIDTH), MOST_WIDTH), cells[0], choices)


def _explained(book: "Workbook", kind: str, entry: dict[str, Any]) -> None:
    """A sheet that says what stands in each column; its first cell says that it is no data."""
    sheet = book.add_worksheet("columns")
    bold = book.add_format({"bold": True})
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 10)
    sheet.set_column(2, 2, 80)
    sheet.write_string(0, 0, f"{NOT_READ} what the columns mean. {entry['about']}")
    sheet.write_string(
        1, 0, "The two rows of examples are never read; write over them or leave them in."
    )
    for place, title in enumerate(("column", "needed", "what stands there")):
        sheet.write_string(3, place, title, bold)
    for line, (name, cells) in enumerate(entry["columns"].items(), start=4):
        sheet.write_string(line, 0, name)
        sheet.write_string(line, 1, "yes" if _is_needed(kind, name) else "")
        sheet.write_string(line, 2, cells[0])


def _is_needed(kind: str, name: str) -> bool:
    known = catalogue().headers.kinds[kind]
    ways = {one for ways in known.one_of for one in ways[0]}
    bare = name.removesuffix("_1")
    return name in known.required or bare in ways or (" " in name and name.endswith("1"))
