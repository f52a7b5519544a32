"""Workbooks, Parquet and text files that are not what they say, by chance."""

import io
import random
import re
import zipfile
from collections.abc import Iterator

import polars as pl

from tests.intake.exports import workbook

A_FOLDER = 50
# What counts by the million is made in the run by hand, in the suite a part of it.
LARGE = 1_000_000


class Dice(random.Random):
    """Chance, and how many are very many."""

    large = LARGE


def zipped(parts: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return made.getvalue()


HEAD = ["athlete_id", "tested_on", "test", "side", "value", "note"]
ROW = ["Q1", "2026-03-02", "single_hop", "left", "150", "fine"]
SHEET = "xl/worksheets/sheet1.xml"


def book() -> dict[str, bytes]:
    source = zipfile.ZipFile(io.BytesIO(workbook({"S": [HEAD, *[ROW] * 20]})))
    return {name: source.read(name) for name in source.namelist()}


def with_sheets(count: int) -> dict[str, bytes]:
    """A workbook of so many sheets, all of which are the same part."""
    parts = book()
    sheets = "".join(f'<sheet name="S{n}" sheetId="{n + 1}" r:id="rId1"/>' for n in range(count))
    parts["xl/workbook.xml"] = re.sub(
        rb"<sheets>.*</sheets>", f"<sheets>{sheets}</sheets>".encode(), parts["xl/workbook.xml"]
    )
    return parts


def _shared_part(c: Dice) -> bytes:
    parts = with_sheets(c.choice([2, 40, 600, 3_000]))
    more = b"<row/>" * c.choice([0, c.large])
    parts[SHEET] = parts[SHEET].replace(b"</sheetData>", more + b"</sheetData>")
    return zipped(parts)


def _cells(c: Dice) -> bytes:
    """Very many cells, placed or not, filled or not."""
    parts = book()
    cell = c.choice(
        [
            b"<c/>",
            b"<c><v>1</v></c>",
            b'<c t="s"><v>0</v></c>',
            b"<x:c><x:v>1</x:v></x:c>",
            b'<c r="XFD1"><v>1</v></c>',
            b'<c t="e"><v>#N/A</v></c>',
            b"<row></row>",
        ]
    )
    many = cell * c.choice([10, 20_000, 3 * c.large])
    row = c.choice(
        [b"<row>%s</row>", b'<row r="1048576">%s</row>', b"<row><c/></row>" * 1000 + b"%s"]
    )
    parts[SHEET] = parts[SHEET].replace(b"</sheetData>", row.replace(b"%s", many) + b"</sheetData>")
    return zipped(parts)


def _strings(c: Dice) -> bytes:
    parts = book()
    text = b"<si><t>" + b"x" * c.choice([1, 30_000, 3 * c.large]) + b"</t></si>"
    text = text if len(text) > 100 else text * c.choice([10, 4 * c.large])
    parts["xl/sharedStrings.xml"] = re.sub(
        rb"<si>.*</si>", lambda _: text, parts["xl/sharedStrings.xml"]
    )
    cells = b'<row><c t="s"><v>0</v></c></row>' * c.choice([1, c.large // 10])
    parts[SHEET] = parts[SHEET].replace(b"</sheetData>", cells + b"</sheetData>")
    return zipped(parts)


def _directory(c: Dice) -> bytes:
    """A directory of contents that lies: bytes of it changed."""
    data = bytearray(zipped(book()))
    start = data.index(b"PK\x01\x02")
    for _ in range(c.randrange(1, 6)):
        data[c.randrange(start, len(data))] = c.choice([0, 1, 127, 255, c.randrange(256)])
    return bytes(data)


def _entries(c: Dice) -> bytes:
    parts = book()
    parts |= {f"xl/media/{n}.bin": b"" for n in range(c.choice([10, 1_900, 2_100]))}
    parts[c.choice(["XL/WORKBOOK.XML", "xl\\workbook.xml", "xl/Styles.xml", "x"])] = bytes(
        c.choice([0, 10 * c.large])
    )
    return zipped(parts)


def _parquet(c: Dice) -> bytes:
    height = c.choice([1, 1_000, 2_600_000 * c.large // LARGE, 9_000_000])
    frame = pl.DataFrame(
        {n: pl.repeat(v, height, eager=True) for n, v in zip(HEAD, ROW, strict=True)}
    )
    if height == 1_000:
        long = pl.repeat("x" * c.choice([10, 130_000, 400_000]), height, eager=True)
        frame = frame.with_columns(note=long.cast(pl.Categorical()))
    made = io.BytesIO()
    frame.write_parquet(made, compression="zstd", row_group_size=c.choice([100_000, None]))
    data = bytearray(made.getvalue())
    for _ in range(c.choice([0, 0, 1, 5])):
        end = int.from_bytes(data[-8:-4], "little") + 8
        place = c.choice([c.randrange(4, 400), len(data) - c.randrange(1, end)])
        data[min(place, len(data) - 1)] = c.choice([0, 127, 255, c.randrange(256)])
    return bytes(data)


def _text(c: Dice) -> bytes:
    mark = c.choice([",", ";", "\t"])
    row = mark.join(ROW) + c.choice(["\n", "\r\n", "\r"])
    rows = c.choice([5, 1_000, 3 * c.large // 10])
    tail = c.choice(
        ["", "\n" * c.large, mark * c.large, '"' + row * 50, "x" * 200_000, "\0" * 10**5, "é"]
    )
    text = mark.join(HEAD) + "\n" + row * rows + tail + "\n" + row
    encoding = c.choice(["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252", "utf-32"])
    data = text.encode(encoding)
    return data[: c.choice([len(data), len(data) - 1, len(data) // 2])]


CONTAINERS = {
    ".xlsx": (_shared_part, _cells, _strings, _directory, _directory, _entries),
    ".parquet": (_parquet,),
    ".csv": (_text, _text),
}


def containers(count: int, seed: int, large: int = LARGE) -> Iterator[dict[str, bytes]]:
    """Folders of files that are not what they say."""
    chance = Dice(seed)
    chance.large = large
    makers = [(ending, make) for ending, listed in CONTAINERS.items() for make in listed]
    for first in range(0, count, A_FOLDER):
        folder = {}
        for number in range(first, min(first + A_FOLDER, count)):
            ending, make = chance.choice(makers)
            folder[f"{number}_{make.__name__.strip('_')}{ending}"] = make(chance)
        yield folder
