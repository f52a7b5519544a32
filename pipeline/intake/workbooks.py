"""Workbooks: every sheet as a grid, with the line numbers the spreadsheet shows."""

import io
import re
import zipfile
import zlib
from collections.abc import Collection
from xml.etree import ElementTree

import fastexcel
import polars as pl

from pipeline.intake.grids import (
    HEAD_ROWS,
    LINE,
    WIDEST,
    Grid,
    UnreadableFile,
    cell_name,
    is_panic,
)

MOST_BYTES = 1_500_000_000  # unpacked; beyond this the file is no export of ours
MOST_CELLS = 60_000_000  # of the used area, which the reader holds in memory as a whole
BROKEN = "not a workbook that can be read; open it in a spreadsheet and save it again as .xlsx"
HIDDEN = "a hidden sheet; it was read like the others"
FAR_CELL = "a cell far outside the table makes this sheet too large to read; delete what lies there"
# Cells the reader shows as blank though they are not: errors, and formulas never computed.
FORMULA = rb"<f[^>]*(?:/>|>(?P<formula>[^<]*)</f>)"
SPECIAL_CELL = re.compile(
    rb'<c r="(?P<column>[A-Z]{1,3})(?P<line>[0-9]{1,7})"(?P<kind>[^>]*)(?<!/)>'
    rb"(?:" + FORMULA + rb")?(?:<v>(?P<value>[^<]*)</v>|<v ?/>)?</c>"
)
FILLED_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})[0-9]{1,7}"[^>]*(?<!/)>(?:<f[^>]*(?:/>|>[^<]*</f>))?<(?:v>[^<]|is>)'
)
HAS_SPECIAL = re.compile(rb't="e"|</f></c>|</f><v></v>|</f><v ?/>')
LATE_COLUMN = re.compile(rb'<c r="([A-Z]{2,3})[0-9]')


def open_workbook(name: str, data: bytes) -> list[Grid]:
    """One grid a sheet, in the order of the tabs; hidden sheets say so.

    Raises UnreadableFile with a plain sentence where the bytes are no workbook.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        if sum(part.file_size for part in archive.infolist()) > MOST_BYTES:
            raise UnreadableFile("far too large for a table of tests")
        parts = _sheet_parts(archive)
        reader = fastexcel.read_excel(data)
        return [
            _open_sheet(name, reader, sheet, _sheet_text(archive, parts.get(sheet, "")))
            for sheet in reader.sheet_names
        ]
    except (zipfile.BadZipFile, KeyError, ElementTree.ParseError, NotImplementedError, EOFError):
        raise UnreadableFile(BROKEN) from None
    except (fastexcel.FastExcelError, OSError, RuntimeError, ValueError, zlib.error):
        raise UnreadableFile(BROKEN) from None
    except BaseException as broken:
        if is_panic(broken):
            raise UnreadableFile(BROKEN) from None
        raise


def _sheet_parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """Sheet name to the path of its part inside the archive."""
    relations = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {
        relation.get("Id", ""): relation.get("Target", "").removeprefix("/xl/").lstrip("/")
        for relation in relations
    }
    book = ElementTree.fromstring(archive.read("xl/workbook.xml"))
    sheets = [sheet for sheet in book.iter() if sheet.tag.endswith("}sheet")]
    return {
        sheet.get("name", ""): f"xl/{targets.get(value, '')}"
        for sheet in sheets
        for key, value in sheet.items()
        if key.endswith("}id")
    }


def _sheet_text(archive: zipfile.ZipFile, part: str) -> bytes:
    return archive.read(part) if part in archive.namelist() else b""


def _open_sheet(name: str, reader: fastexcel.ExcelReader, sheet: str, xml: bytes) -> Grid:
    remarks: tuple[str, ...] = ()
    if _is_too_large(xml):
        return _blank_grid(name, sheet, FAR_CELL)
    loaded = reader.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
    if loaded.visible != "visible":
        remarks = (HIDDEN,)
    frame = loaded.to_polars()
    if frame.width > WIDEST:
        return _blank_grid(name, sheet, f"more than {WIDEST} columns; this is no table of tests")
    frame.columns = [cell_name(place) for place in range(frame.width)]
    frame = _with_special_cells(frame.with_row_index(LINE, offset=1), xml)
    head = [
        ["" if cell is None else cell for cell in row]
        for row in frame.drop(LINE).head(HEAD_ROWS).rows()
    ]

    def load(coded: Collection[int]) -> pl.DataFrame:
        return frame

    return Grid(name, sheet, head, load, "", remarks)


def _blank_grid(name: str, sheet: str, remark: str) -> Grid:
    return Grid(
        name, sheet, [], lambda coded: pl.DataFrame(schema={LINE: pl.UInt32}), "", (remark,)
    )


def _is_too_large(xml: bytes) -> bool:
    """Whether the used area, from its first to its farthest cell, would fill the memory."""
    last_row = xml[xml.rfind(b'<row r="') :][8:20].split(b'"')[0]
    row_count = int(last_row) if last_row.isdigit() else 0
    if row_count * 16_384 <= MOST_CELLS:
        return False
    letters = set(LATE_COLUMN.findall(xml))
    return (
        row_count * max((_column_place(column) + 1 for column in letters), default=26) > MOST_CELLS
    )


def _column_place(letters: bytes) -> int:
    place = 0
    for letter in letters:
        place = place * 26 + letter - 64
    return place - 1


def _with_special_cells(frame: pl.DataFrame, xml: bytes) -> pl.DataFrame:
    """Put error texts and uncomputed formulas where the reader left blanks.

    Left blank they would pass for "not tested".
    """
    if not HAS_SPECIAL.search(xml):
        return frame
    filled = set(FILLED_CELL.findall(xml))
    # The reader's grid begins at the first column that holds anything.
    first = min(map(_column_place, filled), default=0)
    texts: dict[str, dict[int, str]] = {}
    for cell in SPECIAL_CELL.finditer(xml):
        name = cell_name(_column_place(cell["column"]) - first)
        text = _special_text(cell)
        if text and name in frame.columns:
            texts.setdefault(name, {})[int(cell["line"])] = text
    return frame.with_columns(
        pl.coalesce(name, pl.col(LINE).replace_strict(lines, default=None, return_dtype=pl.String))
        for name, lines in texts.items()
    )


def _special_text(cell: re.Match[bytes]) -> str:
    if b't="e"' in cell["kind"]:
        return (cell["value"] or b"#error").decode("utf-8", errors="replace")
    if cell["formula"] and not (cell["value"] or b"").strip():
        return "=" + cell["formula"].decode("utf-8", errors="replace")
    return ""
