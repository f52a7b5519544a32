"""Workbooks: every sheet as a grid, with the line numbers the spreadsheet shows."""

import io
import re
import zipfile
import zlib
from collections.abc import Collection
from functools import cache
from xml.etree import ElementTree

import fastexcel
import polars as pl

from pipeline.intake.grids import (
    HEAD_ROWS,
    LEFT_OUT,
    LINE,
    WIDEST,
    Grid,
    UnreadableFile,
    cell_name,
    is_panic,
    seen_cells,
    too_long,
)

MOST_BYTES = 600_000_000  # unpacked: a sheet filled to its last row with ten columns
MOST_PARTS = 10_000  # files inside a workbook; real ones have dozens
MOST_CELLS = 20_000_000  # of the used area, which the reader holds in memory, 32 bytes a cell
CHUNK = 1 << 20
PART_MARK = b"PK\x01\x02"  # once for each part of a zip archive
BROKEN = "not a workbook that can be read; open it in a spreadsheet and save it again as .xlsx"
HIDDEN = "a hidden sheet; it was read like the others"
TOO_LARGE = "far too large for a table of tests"
NOT_OURS = "holds declarations that no spreadsheet program writes; it was not read"
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
NO_COLUMN = re.compile(rb"""r=["'][A-Za-z]{4,}[0-9]""")  # the last column of a sheet is XFD


def open_workbook(name: str, data: bytes) -> list[Grid]:
    """One grid a sheet, in the order of the tabs; hidden sheets say so.

    Raises UnreadableFile with a plain sentence where the bytes are no workbook.
    """
    try:
        if data.count(PART_MARK) > MOST_PARTS:
            raise UnreadableFile(TOO_LARGE)
        archive = zipfile.ZipFile(io.BytesIO(data))
        _inspect(archive)
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


def _inspect(archive: zipfile.ZipFile) -> None:
    """Unpack every part once, piece by piece: what an archive says of itself proves nothing.

    Raises UnreadableFile where it unpacks to too much, or where its XML declares a document type,
    with which a short text can stand for an endless one.
    """
    parts = archive.infolist()
    if sum(part.file_size for part in parts) > MOST_BYTES:
        raise UnreadableFile(TOO_LARGE)
    left = MOST_BYTES
    for part in parts:
        part.file_size = 2 * MOST_BYTES  # else reading stops at the size the archive declares
        is_xml = part.filename.lower().endswith((".xml", ".rels"))
        with archive.open(part) as file:
            tail = b""
            while piece := file.read(CHUNK):
                left -= len(piece)
                if left < 0:
                    raise UnreadableFile(TOO_LARGE)
                if is_xml and b"<!DOCTYPE" in tail + piece:
                    raise UnreadableFile(NOT_OURS)
                tail = piece[-8:]


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
    if why := too_long(frame.with_row_index(LINE, offset=1)):
        return _blank_grid(name, sheet, why)
    if frame.width > WIDEST:
        return _blank_grid(name, sheet, f"more than {WIDEST} columns; this is no table of tests")
    frame.columns = [cell_name(place) for place in range(frame.width)]
    frame = _with_special_cells(frame.with_row_index(LINE, offset=1), xml)
    seen = seen_cells(frame)
    if not seen.equals(frame):
        frame, remarks = seen, (*remarks, LEFT_OUT)
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
    if NO_COLUMN.search(xml):
        return True
    if not _rows_beyond(MOST_CELLS // 16_384).search(xml):
        return False
    letters = set(LATE_COLUMN.findall(xml))
    width = max((_column_place(column) + 1 for column in letters), default=26)
    return bool(_rows_beyond(MOST_CELLS // width).search(xml))


@cache
def _rows_beyond(limit: int) -> re.Pattern[bytes]:
    """Finds a row or cell whose line number is higher than the limit, wherever it stands."""
    digits = str(limit)
    higher = [
        f"{digits[:place]}[{int(digit) + 1}-9][0-9]{{{len(digits) - place - 1}}}"
        for place, digit in enumerate(digits)
        if digit != "9"
    ]
    numbers = "|".join([f"0*[1-9][0-9]{{{len(digits)},}}", *higher])
    return re.compile(rf"""\br=["'][A-Za-z]*(?:{numbers})["']""".encode())


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
