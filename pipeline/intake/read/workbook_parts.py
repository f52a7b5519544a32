"""What a workbook is packed of, and how much of it may be read."""

import io
import re
import zipfile
from itertools import pairwise

from pipeline.intake.read.grids import MOST_TEXT, TOO_MUCH, UnreadableFile

MOST_BYTES = 330_000_000  # unpacked, each part counted as often as it is read
MOST_PARTS = 2_000  # files inside a workbook; real ones have dozens
MOST_CELLS = 5_000_000  # of the used areas: half a sheet of ten columns; a cell takes 150 bytes
MOST_STRINGS = 3_000_000  # shared texts
# What is read of every workbook, and how large it may be; in real ones a tenth of it.
MOST_OF_PART = {"xl/workbook.xml": 5_000_000, "xl/styles.xml": 20_000_000}
MOST_OF_RELATIONS = 5_000_000
STRINGS = "xl/sharedstrings.xml"
CHUNK = 1 << 20
PART_MARK = b"PK\x01\x02"  # once for each part of a zip archive
BROKEN = "damaged, or no workbook; open it where it was made and save it again as .xlsx"
TOO_LARGE = "far too large for a table of tests"
NOT_OURS = "holds declarations that no spreadsheet program writes; it was not read"
WHOLE_VALUE = re.compile(rb"<(?:\w+:)?v[^>]*>\s*([0-9]+)")


class Archive:
    """The parts of a workbook, and what is left of what may be read of it.

    What an archive says of itself proves nothing, so every part is unpacked once, piece by piece.
    Raises UnreadableFile where that is too much, or where its XML declares a document type, with
    which a short text can stand for an endless one.
    """

    def __init__(self, data: bytes) -> None:
        self.zip = zipfile.ZipFile(io.BytesIO(data))
        listed = self.zip.infolist()
        self.parts = {plain(part.filename): part for part in listed}
        if len(self.parts) < len(listed):  # which of two is read depends on the reader
            raise UnreadableFile(BROKEN)
        if sum(part.file_size for part in listed) > MOST_BYTES:
            raise UnreadableFile(TOO_LARGE)
        self.unpacked_left = self.bytes_left = MOST_BYTES
        self.cells_left = MOST_CELLS
        self.text_left = MOST_TEXT
        for name, part in self.parts.items():
            part.file_size = 2 * MOST_BYTES  # else reading stops at the size the archive declares
            self._inspect(name)
        self.string_sizes = self._string_sizes()

    def _inspect(self, name: str) -> None:
        """Unpack a part without keeping it."""
        most = MOST_OF_RELATIONS if name.endswith(".rels") else MOST_OF_PART.get(name, MOST_BYTES)
        is_xml = name.endswith((".xml", ".rels"))
        size, tail = 0, b""
        with self.zip.open(self.parts[name]) as file:
            while piece := file.read(CHUNK):
                size += len(piece)
                self.unpacked_left -= len(piece)
                if self.unpacked_left < 0 or size > most:
                    raise UnreadableFile(TOO_LARGE)
                if is_xml and b"<!DOCTYPE" in tail + piece:
                    raise UnreadableFile(NOT_OURS)
                tail = piece[-8:]

    def read(self, name: str) -> bytes:
        """A part, which counts once more; raises KeyError where there is none of that name."""
        text = self.zip.read(self.parts[plain(name)])
        self.bytes_left -= len(text)
        if self.bytes_left < 0:
            raise UnreadableFile(TOO_LARGE)
        return text

    def _string_sizes(self) -> list[int]:
        """How many bytes each shared text takes at most, in their order."""
        if STRINGS not in self.parts:
            return []
        text = self.zip.read(self.parts[STRINGS])
        if text.count(b"<si") + text.count(b":si") > MOST_STRINGS:
            raise UnreadableFile(TOO_LARGE)
        starts = [found.start() for found in re.finditer(rb"<(?:\w+:)?si[\s/>]", text)]
        return [end - start for start, end in pairwise([*starts, len(text)])]

    def take(self, xml: bytes) -> None:
        """Count the texts of a sheet, each shared one as often as a cell holds it."""
        longest = max(self.string_sizes, default=0)
        size = longest * (xml.count(b"<v") + xml.count(b":v"))
        if size > self.text_left:  # exactly, which takes longer
            known = dict(enumerate(self.string_sizes))
            size = sum(known.get(int(cell[1][:9]), 0) for cell in WHOLE_VALUE.finditer(xml))
        self.text_left -= size
        if self.text_left < 0:
            raise UnreadableFile(TOO_MUCH)


def plain(name: str) -> str:
    """The name of a part as readers look for it: case does not matter."""
    return name.replace("\\", "/").lstrip("/").lower()
