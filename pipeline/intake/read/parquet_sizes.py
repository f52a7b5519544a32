"""How much a Parquet file unpacks to, from the headers of its pages, before any is unpacked.

A page of a few bytes can stand for millions of cells, and what the file says at its end of its
columns need not be so. Layout: Apache Parquet format, parquet.thrift; the numbers of the fields are
those of its structures, written in Thrift's compact protocol.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

MARK = b"PAR1"
MOST_DEEP = 32  # structures inside each other
MOST_COUNT = 10_000_000  # of anything in one list or one header
# Types of the compact protocol.
TRUE, FALSE, BYTE, I16, I32, I64, DOUBLE, BINARY, LIST, SET, MAP, STRUCT = range(1, 13)


class NotParquet(Exception):
    """The bytes are not what the format says."""


@dataclass
class Sizes:
    """What all pages hold together."""

    values: int = 0
    unpacked: int = 0  # bytes


def sizes_of(data: bytes) -> Sizes:
    """Values and unpacked bytes of all pages; raises NotParquet where the file is damaged."""
    found = Sizes()
    for start, length in _chunks(data):
        place, end = start, start + length
        if not 4 <= start < end <= len(data):
            raise NotParquet
        while place < end:
            header, place = Reader(data, place).struct()
            unpacked, packed = _count(header.get(2)), _count(header.get(3))
            page = header.get(5) or header.get(7) or header.get(8) or {}
            found.unpacked += max(unpacked, packed)
            if not header.get(7):  # a dictionary, which no row shows by itself
                found.values += _count(page.get(1))
            place += packed
    return found


def _is_count(number: Any) -> bool:
    return isinstance(number, int) and number >= 0


def _count(number: Any) -> int:
    if not _is_count(number):
        raise NotParquet
    return int(number)


def _chunks(data: bytes) -> Iterator[tuple[int, int]]:
    """Start and length of each column of each group of rows."""
    if len(data) < 12 or not data.endswith(MARK):
        raise NotParquet
    length = int.from_bytes(data[-8:-4], "little")
    if length > len(data) - 12:
        raise NotParquet
    footer, _ = Reader(data, len(data) - 8 - length).struct()
    for group in footer.get(4) or ():
        for chunk in group.get(1) or ():
            about = chunk.get(3) or {}
            first = [about[place] for place in (9, 11) if _is_count(about.get(place))]
            # A dictionary stands before the pages; older writers leave its place at zero.
            starts = [place for place in first if place > 0]
            if not starts:
                raise NotParquet
            yield min(starts), _count(about.get(7))


class Reader:
    """Reads structures of the compact protocol as dictionaries by the number of the field."""

    def __init__(self, data: bytes, place: int) -> None:
        self.data, self.place = data, place

    def struct(self, deep: int = 0) -> tuple[dict[int, Any], int]:
        """The structure here, and the place behind it."""
        if deep > MOST_DEEP:
            raise NotParquet
        fields: dict[int, Any] = {}
        number = 0
        while kind := self._byte():
            step, kind = kind >> 4, kind & 15
            number = number + step if step else self._whole()
            fields[number] = kind == TRUE if kind in (TRUE, FALSE) else self._value(kind, deep)
        return fields, self.place

    def _byte(self) -> int:
        if self.place >= len(self.data):
            raise NotParquet
        self.place += 1
        return self.data[self.place - 1]

    def _unsigned(self) -> int:
        value = shift = 0
        while True:
            byte = self._byte()
            value |= (byte & 127) << shift
            if byte < 128:
                return value
            shift += 7
            if shift > 63:
                raise NotParquet

    def _whole(self) -> int:
        value = self._unsigned()
        return (value >> 1) ^ -(value & 1)

    def _value(self, kind: int, deep: int) -> Any:
        if kind in (TRUE, FALSE, BYTE):
            return self._byte()
        if kind in (I16, I32, I64):
            return self._whole()
        if kind == DOUBLE:
            return self._skip(8)
        if kind == BINARY:
            return self._skip(self._unsigned())
        if kind in (LIST, SET):
            head = self._byte()
            count = head >> 4 if head >> 4 < 15 else self._unsigned()
            self._check(count)
            return [self._value(head & 15, deep + 1) for _ in range(count)]
        if kind == MAP:
            count = self._unsigned()
            self._check(count)
            kinds = self._byte() if count else 0
            for _ in range(count):
                self._value(kinds >> 4, deep + 1)
                self._value(kinds & 15, deep + 1)
            return None
        if kind == STRUCT:
            return self.struct(deep + 1)[0]
        raise NotParquet

    def _check(self, count: int) -> None:
        if count > MOST_COUNT or count > len(self.data) - self.place:
            raise NotParquet

    def _skip(self, count: int) -> None:
        if count > len(self.data) - self.place:
            raise NotParquet
        self.place += count
