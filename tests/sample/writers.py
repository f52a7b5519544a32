"""Rows to bytes: delimited text in a dialect, and workbooks that are the same on every day."""

import io
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

import xlsxwriter

Cell = str | int | float | date | None

CREATED = datetime(2026, 11, 20, 7, 0, 0)
MONTHS = "January February March April May June July August September October November December"


@dataclass(frozen=True)
class Sheet:
    """One table: title lines, header, rows."""

    tab: str
    title: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def delimited(sheet: Sheet, delimiter: str, decimal: str, encoding: str, newline: str) -> bytes:
    """A text file; cells that hold the delimiter or a quote are quoted."""
    lines = [sheet.header, *sheet.rows]
    text = newline.join(
        delimiter.join(_quoted(_text(cell, decimal), delimiter) for cell in line) for line in lines
    )
    return (text + newline).encode(encoding)


def workbook(sheets: Iterable[Sheet]) -> bytes:
    """An XLSX file whose parts do not depend on the day or the machine."""
    target = io.BytesIO()
    book = xlsxwriter.Workbook(target, {"in_memory": True, "strings_to_urls": False})
    book.set_properties({"created": CREATED})
    bold = book.add_format({"bold": True})
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    for sheet in sheets:
        page = book.add_worksheet(sheet.tab)
        for row, line in enumerate(sheet.title):
            page.write_string(row, 0, line)
        top = len(sheet.title)
        for column, head in enumerate(sheet.header):
            page.write_string(top, column, head, bold)
        for row, cells in enumerate(sheet.rows, start=top + 1):
            for column, cell in enumerate(cells):
                if isinstance(cell, date):
                    page.write_datetime(row, column, datetime(cell.year, cell.month, cell.day), day)
                elif isinstance(cell, str):
                    page.write_string(row, column, cell)
                elif cell is not None:
                    page.write_number(row, column, cell)
        page.set_column(0, len(sheet.header) - 1, 14)
    book.close()
    return target.getvalue()


def written_date(day: date, style: str) -> Cell:
    """A date as a cell: `real` for a spreadsheet date, else a pattern of %d %m %Y %b %B.

    Month names are spelled here, because strftime would follow the machine's language.
    """
    if style == "real":
        return day
    month = MONTHS.split()[day.month - 1]
    parts = {
        "%d": f"{day.day:02d}",
        "%m": f"{day.month:02d}",
        "%Y": str(day.year),
        "%b": month[:3],
        "%B": month,
    }
    for sign, text in parts.items():
        style = style.replace(sign, text)
    return style


def _text(cell: Cell, decimal: str) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.3f}".rstrip("0").rstrip(".").replace(".", decimal)
    return str(cell)


def _quoted(text: str, delimiter: str) -> str:
    if delimiter in text or '"' in text:
        return '"' + text.replace('"', '""') + '"'
    return text
