"""Bytes of one file into grids of text, each row with the line its spreadsheet shows."""

from collections.abc import Callable, Sequence

from pipeline.intake.read.delimited import open_text
from pipeline.intake.read.grids import Grid, UnreadableFile
from pipeline.intake.read.parquet import open_parquet
from pipeline.intake.read.workbooks import open_workbook

Judge = Callable[[Sequence[Sequence[str]]], float]
"""How well the first rows of a file look like an export: more is better, 0 is not at all."""

ZIP = b"PK\x03\x04"
PARQUET = b"PAR1"
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# First bytes of what people drop in beside tables.
PICTURES = {
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"{\\rtf": "a text document",
    b"\x1f\x8b": "a compressed archive",
    b"7z\xbc\xaf": "a compressed archive",
    b"Rar!": "a compressed archive",
    b"SQLite format 3": "a database",
    b"II*\0": "a picture",
    b"MM\0*": "a picture",
}
BRANDED = b"ftyp"  # from the fifth byte on in films, and in pictures of telephones
PICTURE_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif")
WANTED = "export it as CSV or XLSX"


def open_grids(name: str, data: bytes, judge: Judge) -> list[Grid]:
    """Every grid of one file: one for a text or Parquet file, one a sheet for a workbook.

    Raises UnreadableFile with a plain sentence where the file cannot be read at all.
    """
    if not data or data.isspace():
        raise UnreadableFile("the file is empty")
    if data.startswith(b"\0" * len(data[:64])) and not data.strip(b"\0"):
        raise UnreadableFile("nothing but zero bytes; copy the file anew")
    if data.startswith(ZIP):
        return open_workbook(name, data)
    if data.startswith(PARQUET):
        return [open_parquet(name, data)]
    _refuse_other_formats(data)
    return [open_text(name, data, judge)]


def _refuse_other_formats(data: bytes) -> None:
    if data.startswith(OLD_OFFICE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise UnreadableFile("protected with a password; save it without one and drop it again")
        raise UnreadableFile("an old .xls workbook; open it and save it as .xlsx")
    if data[4:8] == BRANDED:
        what = "a picture" if data[8:12] in PICTURE_BRANDS else "a film"
        raise UnreadableFile(f"{what}, not a table; {WANTED}")
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        raise UnreadableFile(f"a picture, not a table; {WANTED}")
    for start, what in PICTURES.items():
        if data.startswith(start):
            raise UnreadableFile(f"{what}, not a table; {WANTED}")
    if data[:2000].lstrip().lower().startswith((b"<!doctype", b"<html", b"<?xml", b"<table")):
        raise UnreadableFile(f"a web page, whatever its ending says; {WANTED}")
