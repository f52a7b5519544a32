"""Files made or left to do harm: bounded in memory and time, told in plain words, never a crash."""

import io
import os
import resource
import struct
import time
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.intake.read import delimited, inbox, workbook_parts, workbooks
from pipeline.intake.read.grids import TOO_MUCH
from pipeline.intake.read.inbox import read_entry
from tests.intake.exports import LONG, ROSTER, counts, intake_of, remark, values, workbook

HOP = "A1,2024-03-05,single_hop,left,145"
SHEET = [LONG.split(","), HOP.split(",")]
PART = "xl/worksheets/sheet1.xml"
FAR = "a cell far outside the table makes this sheet too large to read; delete what lies there"
TOO_LARGE = "far too large for a table of tests"
DECLARED = "holds declarations that no spreadsheet program writes; it was not read"
SECONDS = 30.0  # of processor time for a whole folder: what has no bound takes minutes


@pytest.fixture(autouse=True)
def bounded() -> Iterator[None]:
    """No test of this file may take long or keep growing."""
    start, before = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    yield
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert time.process_time() - start < SECONDS
    assert grown < 1_500_000  # kB


def changed(part: str, change: Callable[[bytes], bytes], data: bytes | None = None) -> bytes:
    """A workbook with one of its parts changed, or with that part added."""
    made = io.BytesIO()
    source = zipfile.ZipFile(io.BytesIO(data or workbook({"S": SHEET})))
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in dict.fromkeys([*source.namelist(), part]):
            content = source.read(name) if name in source.namelist() else b""
            archive.writestr(name, change(content) if name == part else content)
    return made.getvalue()


def with_cell(old: bytes, new: bytes) -> bytes:
    """A workbook in whose sheet a piece of XML is replaced by another."""

    def change(xml: bytes) -> bytes:
        assert old in xml
        return xml.replace(old, new)

    return changed(PART, change)


def entities(start: bytes) -> bytes:
    """XML that declares ten entities, each ten times the one before it."""
    names = [b"lol%d" % number for number in range(10)]
    lines = [b'<!ENTITY lol0 "ha">'] + [
        b'<!ENTITY %s "%s">' % (name, b"&%s;" % before * 10) for before, name in pairwise(names)
    ]
    return b"<!DOCTYPE x [" + b"".join(lines) + b"]>" + start


def lying(data: bytes, part: str, said: int) -> bytes:
    """The archive with another unpacked size of one part in its directory of contents."""
    info = zipfile.ZipFile(io.BytesIO(data)).getinfo(part)
    place = data.rindex(part.encode()) - 46  # of the fixed part of an entry (APPNOTE.TXT 4.3.12)
    assert struct.unpack_from("<I", data, place + 24)[0] == info.file_size
    return data[: place + 24] + struct.pack("<I", said) + data[place + 28 :]


BOMB = changed("xl/media/bomb.bin", lambda _: bytes(20_000_000))
HOSTILE_BOOKS = {
    "a bomb that says its size": (BOMB, TOO_LARGE),
    "a bomb that says it is small": (lying(BOMB, "xl/media/bomb.bin", 10), TOO_LARGE),
    "a document type in the sheet": (
        changed(PART, lambda xml: xml.replace(b"<worksheet", entities(b"<worksheet"), 1)),
        DECLARED,
    ),
    "a document type in the shared texts": (
        changed("xl/sharedStrings.xml", lambda xml: xml.replace(b"<sst", entities(b"<sst"), 1)),
        DECLARED,
    ),
    "a document type in the list of sheets": (
        changed(
            "xl/workbook.xml", lambda xml: xml.replace(b"<workbook", entities(b"<workbook"), 1)
        ),
        DECLARED,
    ),
    "a document type in two-byte letters": (
        changed(
            "xl/workbook.xml",
            lambda xml: entities(xml[xml.index(b"<workbook") :]).decode().encode("utf-16"),
        ),
        workbook_parts.BROKEN,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE_BOOKS)
def test_a_hostile_workbook_gets_one_remark(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workbook_parts, "MOST_BYTES", 10_000_000)
    data, said = HOSTILE_BOOKS[name]
    intake = intake_of(tmp_path, {"t.xlsx": data})
    assert remark(intake, "t.xlsx") == said
    assert counts(intake, "t.xlsx") == (0, 0, 0, 0)


def test_a_workbook_of_very_many_parts_is_not_opened(tmp_path: Path) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        inner = workbook({"S": SHEET})
        for number in range(workbook_parts.MOST_PARTS + 1):
            archive.writestr(f"{number}.zip", inner if number < 3 else b"")
    intake = intake_of(tmp_path, {"t.xlsx": made.getvalue()})
    assert remark(intake, "t.xlsx") == TOO_LARGE


def test_archives_inside_a_workbook_are_never_opened(tmp_path: Path) -> None:
    data = changed("xl/embeddings/inner.xlsx", lambda _: BOMB)
    intake = intake_of(tmp_path, {"t.xlsx": data})
    assert counts(intake, "t.xlsx", "S") == (1, 1, 0, 0)


FAR_CELLS = {
    "beyond the last column": with_cell(b'r="E2"', b'r="AAAAB2"'),
    "in a line that no sheet has": with_cell(b'r="E2"', b'r="E900000000"'),
    "in the last corner": with_cell(b'r="E2"', b'r="XFD1048576"'),
    "in single quotation marks": with_cell(b'r="E2"', b"r='XFD1048576'"),
}


@pytest.mark.parametrize("name", FAR_CELLS)
def test_a_cell_far_away_makes_no_giant_grid(name: str, tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.xlsx": FAR_CELLS[name]})
    assert remark(intake, "t.xlsx", "S") == FAR


def test_a_dimension_of_a_million_lines_is_not_believed(tmp_path: Path) -> None:
    data = with_cell(b'ref="A1:E2"', b'ref="A1:XFD1048576"')
    intake = intake_of(tmp_path, {"t.xlsx": data})
    assert counts(intake, "t.xlsx", "S") == (1, 1, 0, 0)


@pytest.mark.parametrize("limit", [9, 36, 1220, 99_999, 769_230])
def test_lines_beyond_a_limit_are_found_to_the_last_one(limit: int) -> None:
    found = workbooks._rows_beyond(limit)
    for line in (1, limit - 1, limit, limit + 1, limit + 9, 2 * limit, 11 * limit, 10**9):
        assert bool(found.search(b'<c r="AB%d" s="1">' % line)) == (line > limit), line
        assert bool(found.search(b"<row r='%d'>" % line)) == (line > limit), line


def test_a_header_of_a_million_columns_is_one_remark(tmp_path: Path) -> None:
    header = ",".join(f"column {number}" for number in range(1_000_000))
    intake = intake_of(tmp_path, {"t.csv": f"{header}\n1\n", "u.csv": "," * 1_000_000})
    for name in ("t.csv", "u.csv"):
        assert remark(intake, name) == "more than 1000 columns; this is no table of tests"


def test_a_million_columns_below_an_honest_header_are_one_remark(tmp_path: Path) -> None:
    text = f"{LONG}\n" + f"{HOP}\n" * 100 + "," * 1_000_000 + "\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert remark(intake, "t.csv") == "more than 1000 columns; this is no table of tests"


def test_a_cell_of_150_megabytes_is_one_remark(tmp_path: Path) -> None:
    text = f"{LONG},note\n{HOP},fine\n{HOP}," + "x" * 150_000_000 + "\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert remark(intake, "t.csv") == (
        "the cell in line 3 is longer than any spreadsheet's; nothing was read"
    )


def test_a_long_cell_of_a_sheet_leaves_the_other_sheets_readable(tmp_path: Path) -> None:
    data = workbook({"S": SHEET, "T": SHEET})
    long = b'<c r="E2" t="inlineStr"><is><t>' + b"x" * 100_000_000 + b"</t></is></c>"
    end = b"</row></sheetData>"
    data = changed(
        PART, lambda xml: xml[: xml.index(b'<c r="E2"')] + long + xml[xml.index(end) :], data
    )
    intake = intake_of(tmp_path, {"t.xlsx": data})
    assert remark(intake, "t.xlsx", "S").startswith("the cell in line 2 is longer than any")
    assert counts(intake, "t.xlsx", "T") == (1, 1, 0, 0)


@pytest.mark.parametrize("header", ["_" * 60_000, "(" * 60_000, "a_" * 30_000, "1 " * 30_000])
def test_a_header_made_to_be_taken_apart_for_ever_is_read_over(header: str, tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG},{header}\n{HOP},1\n"})
    assert counts(intake, "t.csv") == (1, 1, 0, 0)


def test_an_endless_quoted_field_swallows_no_row(tmp_path: Path) -> None:
    rows = "".join(f"A1,2024-03-{day:02d},single_hop,left,145,ok\n" for day in range(1, 31))
    text = f'{LONG},note\n{HOP},"an open one\n' + rows + 'A2,2024-03-05,single_hop,left,145,x"\n'
    intake = intake_of(tmp_path, {"t.csv": text})
    assert counts(intake, "t.csv") == (32, 32, 0, 0)


def test_broken_quoting_in_a_large_file_is_not_sorted_out_for_minutes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(delimited, "MOST_SLOW_BYTES", 1000)
    row = "A1,2024-03-05,single_hop,left,145,ok\n"
    text = f'{LONG},note\n{HOP},"an open one\n' + row * 100 + f'{HOP},x"\n'
    intake = intake_of(tmp_path, {"t.csv": text})
    assert remark(intake, "t.csv") == (
        "its quotation marks or the lengths of its rows are broken and it is too large to be "
        "sorted out; save it again as CSV or XLSX, in parts"
    )


def test_line_ends_without_end_make_no_giant_frame(tmp_path: Path) -> None:
    text = LONG + "\n" * 30_000_000 + HOP
    intake = intake_of(tmp_path, {"t.csv": text})
    assert remark(intake, "t.csv") == TOO_MUCH


def test_gigabytes_of_zero_bytes_are_not_read(tmp_path: Path) -> None:
    with (tmp_path / "t.csv").open("wb") as file:
        file.truncate(2_000_000_000)  # a file with a hole: it takes no space
    with (tmp_path / "u.csv").open("wb") as file:
        file.truncate(100_000_000)
    tracemalloc.start()
    intake = intake_of(tmp_path, {})
    assert tracemalloc.get_traced_memory()[1] < 150_000_000
    tracemalloc.stop()
    assert remark(intake, "t.csv") == "larger than 330 MB; split it into several files"
    assert remark(intake, "u.csv") == "nothing but zero bytes; copy the file anew"


def test_pipes_devices_and_links_to_nothing_are_told_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "zero.csv").symlink_to("/dev/zero")
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")
    (tmp_path / "lost.csv").symlink_to(tmp_path / "nowhere.csv")
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\n{HOP}\n"})
    gone = "not to be found: moved or deleted while the folder was read, or a link to nothing"
    special = "no file but a device or a pipe; it was not read"
    assert dict(intake.files.select("file", "remark").rows()) == {
        "pipe.csv": special, "zero.csv": special, "loop.csv": gone, "lost.csv": gone,
        "roster.csv": "", "t.csv": "",
    }  # fmt: skip


def test_a_file_that_vanishes_before_it_is_read_is_told(tmp_path: Path) -> None:
    assert read_entry(tmp_path / "gone.csv").remark == inbox.GONE


@pytest.mark.parametrize("more", [b"A2,2024-03-05,single_hop,left,140\n", b""])
def test_a_file_that_changes_while_it_is_read_is_not_used_half(
    more: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "t.csv"
    path.write_text(f"{LONG}\n{HOP}\n")
    plain_open = Path.open

    def open_while_written(self: Path, mode: str = "r") -> object:
        with plain_open(self, "ab") as file:  # another program writes, or saves the same anew
            file.write(more)
        os.utime(self, ns=(1, 1))
        return plain_open(self, mode)

    monkeypatch.setattr(Path, "open", open_while_written)
    found = read_entry(path)
    assert (found.data, found.remark) == (
        b"", "changed while it was read; build again once nothing writes to it",
    )  # fmt: skip


@pytest.mark.parametrize("lock", ["~$t.csv", ".~lock.t.csv#"])
def test_a_file_open_in_a_spreadsheet_program_is_read_as_last_saved(
    lock: str, tmp_path: Path
) -> None:
    intake = intake_of(
        tmp_path, {"roster.csv": ROSTER, "t.csv": f"{LONG}\n{HOP}\n", lock: b"Jo's machine"}
    )
    assert dict(intake.files.select("file", "remark").rows()) == {
        "roster.csv": "",
        "t.csv": "open in a spreadsheet program; it was read as last saved",
    }
    assert values(intake) == [("A1", "single_hop", "left", 1, 145.0)]
