"""Workbooks: every sheet as a grid, with the line numbers the spreadsheet shows."""

import re
import zipfile
import zlib
from collections.abc import Collection
from functools import cache
from itertools import pairwise
from xml.etree import ElementTree

import fastexcel
import numpy as np
import polars as pl

from pipeline.control_characters import visible
from pipeline.intake.read.grids import (
    HEAD_ROWS,
    LEFT_OUT,
    LINE,
    TOO_MUCH,
    WIDEST,
    Grid,
    UnreadableFile,
    cell_name,
    is_panic,
    seen_cells,
    too_long,
)
from pipeline.intake.read.workbook_parts import (
    BROKEN,
    CHUNK,
    MOST_CELLS,
    MOST_PARTS,
    PART_MARK,
    TOO_LARGE,
    Archive,
    plain,
)

MOST_SHEETS = 500
MOST_SPECIAL = 500_000  # cells with errors or uncomputed formulas
MOST_LETTERS = 120  # of a sheet's name; spreadsheets allow 31
OTHER_ARCHIVES = {  # by the beginning of a part's name
    "word/": "a text document, not a table; copy its table into a workbook or a template",
    "ppt/": "slides, not a table; copy its table into a workbook or a template",
    "xl/workbook.bin": "a binary workbook; open it and save it as .xlsx",
    "meta-inf/": "a workbook or document of another kind; open it and save it as .xlsx",
    "index/": "a workbook of another kind; open it and export it as .xlsx",
}
UNCOMPUTED = (
    "{} without a result; open the file in a spreadsheet program, save it and drop it again"
)
HIDDEN = "a hidden sheet; it was read like the others"
TOO_MANY_SHEETS = f"more than {MOST_SHEETS} sheets; split it into several workbooks"
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
ODD_COLUMN = re.compile(rb"""\br=["']([A-Za-z]{1,3})[0-9]""")  # slower, finds every spelling
UNPLACED_CELL = re.compile(rb"""<(?:\w+:)?c(?:[/>]|\s(?![^>]*\br=))""")
ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")
NO_COLUMN = re.compile(rb"""r=["'][A-Za-z]{4,}[0-9]""")  # the last column of a sheet is XFD


def open_workbook(name: str, data: bytes) -> list[Grid]:
    """One grid a sheet, in the order of the tabs; hidden sheets say so.

    Raises UnreadableFile with a plain sentence where the bytes are no workbook, or would fill the
    memory.
    """
    try:
        if data.count(PART_MARK) > MOST_PARTS:
            raise UnreadableFile(TOO_LARGE)
        archive = Archive(data)
        if why := _is_another(archive):
            raise UnreadableFile(why)
        parts = _sheet_parts(archive)
        reader = fastexcel.read_excel(data)
        if len(reader.sheet_names) > MOST_SHEETS:
            raise UnreadableFile(TOO_MANY_SHEETS)
        return [
            _open_sheet(name, reader, sheet, archive, parts.get(sheet, ""))
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


def _is_another(archive: Archive) -> str:
    """What a packed file is, and what to do with it, where it is no workbook; else empty."""
    for start, why in OTHER_ARCHIVES.items():
        if any(name.startswith(start) for name in archive.parts):
            return why
    if not any(name.startswith(("xl/", "[content_types]")) for name in archive.parts):
        return "a compressed archive; unpack it and drop the files in it"
    return ""


def _sheet_parts(archive: Archive) -> dict[str, str]:
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


def _open_sheet(
    name: str, reader: fastexcel.ExcelReader, sheet: str, archive: Archive, part: str
) -> Grid:
    remarks: tuple[str, ...] = ()
    title = visible(sheet)[:MOST_LETTERS]
    if plain(part) not in archive.parts:  # then nothing says how large it is
        return _blank_grid(name, title, BROKEN)
    xml = archive.read(part)
    if _is_too_large(xml):
        return _blank_grid(name, title, FAR_CELL)
    archive.take(xml)
    loaded = reader.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
    archive.cells_left -= loaded.total_height * loaded.width
    if archive.cells_left < 0:
        raise UnreadableFile(TOO_MUCH)
    if loaded.visible != "visible":
        remarks = (HIDDEN,)
    frame = loaded.to_polars()
    del loaded
    if why := too_long(frame.with_row_index(LINE, offset=1)):
        return _blank_grid(name, title, why)
    if frame.width > WIDEST:
        return _blank_grid(name, title, f"more than {WIDEST} columns; this is no table of tests")
    frame.columns = [cell_name(place) for place in range(frame.width)]
    frame = _with_special_cells(frame.with_row_index(LINE, offset=1), xml)
    if HAS_SPECIAL.search(xml) and (count := _uncomputed(frame)):
        formulas = "1 formula" if count == 1 else f"{count} formulas"
        remarks = (*remarks, UNCOMPUTED.format(formulas))
    seen = seen_cells(frame)
    if not seen.equals(frame):
        frame, remarks = seen, (*remarks, LEFT_OUT)
    head = [
        ["" if cell is None else cell for cell in row]
        for row in frame.drop(LINE).head(HEAD_ROWS).rows()
    ]

    def load(coded: Collection[int]) -> pl.DataFrame:
        return frame

    return Grid(name, title, head, load, "", remarks)


def _blank_grid(name: str, sheet: str, remark: str) -> Grid:
    return Grid(
        name, sheet, [], lambda coded: pl.DataFrame(schema={LINE: pl.UInt32}), "", (remark,)
    )


def _is_too_large(xml: bytes) -> bool:
    """Whether the used area, from its first to its farthest cell, would fill the memory."""
    cells = xml.count(b"<c") + xml.count(b":c")
    if NO_COLUMN.search(xml) or cells > 2 * MOST_CELLS:
        return True
    if _unplaced_area(xml) > MOST_CELLS:
        return True
    if not _rows_beyond(MOST_CELLS // 16_384).search(xml):
        return False
    if xml.count(b"<c ") == xml.count(b'<c r="') and b":c" not in xml:
        letters = {found[1] for found in LATE_COLUMN.finditer(xml)}
        letters |= _first_letters(xml)
    else:
        letters = {found[1].upper() for found in ODD_COLUMN.finditer(xml)}
    width = max((_column_place(column) + 1 for column in letters), default=26)
    return bool(_rows_beyond(MOST_CELLS // width).search(xml))


def _first_letters(xml: bytes) -> set[bytes]:
    """The capital letters that begin the name of a cell; looked for byte by byte, far faster."""
    every, found = np.frombuffer(xml, np.uint8), np.zeros(256, np.bool_)
    for start in range(0, len(every), CHUNK):
        part = every[start : start + CHUNK + 3]
        is_name = (part[:-3] == ord("r")) & (part[1:-2] == ord("=")) & (part[2:-1] == ord('"'))
        found[part[3:][is_name]] = True
    return {bytes([byte]) for byte in np.flatnonzero(found) if bytes([byte]).isupper()}


def _unplaced_area(xml: bytes) -> int:
    """Lines times cells of the fullest line, where some cells do not say where they stand."""
    others = xml.count(b"<col") + xml.count(b"<cf")  # no cells, whatever they begin with
    if xml.count(b"<c") - others == xml.count(b'<c r="') and b":c" not in xml:
        return 0
    if not UNPLACED_CELL.search(xml):
        return 0
    starts = [found.start() for found in ROW.finditer(xml)]
    ends = pairwise([*starts, len(xml)])
    widest = max((xml.count(b"<c", *e) + xml.count(b":c", *e) for e in ends), default=0)
    return len(starts) * widest


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
    filled = {cell[1] for cell in FILLED_CELL.finditer(xml)}
    # The reader's grid begins at the first column that holds anything.
    first = min(map(_column_place, filled), default=0)
    texts: dict[str, dict[int, str]] = {}
    for count, cell in enumerate(SPECIAL_CELL.finditer(xml)):
        if count == MOST_SPECIAL:
            raise UnreadableFile(TOO_MUCH)
        name = cell_name(_column_place(cell["column"]) - first)
        text = _special_text(cell)
        if text and name in frame.columns:
            texts.setdefault(name, {})[int(cell["line"])] = text
    return frame.with_columns(
        pl.coalesce(name, pl.col(LINE).replace_strict(lines, default=None, return_dtype=pl.String))
        for name, lines in texts.items()
    )


def _uncomputed(frame: pl.DataFrame) -> int:
    """How many cells hold a formula in place of its result."""
    texts = frame.drop(LINE).select(pl.col(pl.String).str.starts_with("=").sum())
    return sum(int(count or 0) for count in texts.row(0)) if texts.width else 0


def _special_text(cell: re.Match[bytes]) -> str:
    if b't="e"' in cell["kind"]:
        return (cell["value"] or b"#error").decode("utf-8", errors="replace")
    if cell["formula"] and not (cell["value"] or b"").strip():
        return "=" + cell["formula"].decode("utf-8", errors="replace")
    return ""
