"""Bytes of a text file in whatever encoding, as UTF-8, and never more than fits."""

import codecs
from collections.abc import Iterator

from pipeline.intake.read.grids import LEFT_OUT, MOST_TEXT, TOO_MUCH, UnreadableFile, seen_text

PIECE = 1 << 20  # bytes decoded together


def decode_text(data: bytes) -> tuple[bytes, tuple[str, ...]]:
    """The same text as UTF-8 bytes with LF line ends, and what had to be said about it."""
    text, remarks = _as_utf8(data)
    if len(text) > MOST_TEXT:
        raise UnreadableFile(TOO_MUCH)
    if b"\x00" in text:
        text = text.replace(b"\x00", b"")
        remarks = (*remarks, "zero bytes between the characters were left out")
    if (seen := seen_text(text)) != text:
        text, remarks = seen, (*remarks, LEFT_OUT)
    if b"\r" in text:
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")  # the latter of old Macs
    if not text or text.isspace():
        raise UnreadableFile("the file is empty")
    return text, remarks


def _as_utf8(data: bytes) -> tuple[bytes, tuple[str, ...]]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _decoded(data, "utf-16"), ()
    start = data[:2000]
    if start.count(0) > len(start) // 4:
        order = "utf-16-le" if start[1::2].count(0) >= start[0::2].count(0) else "utf-16-be"
        return _decoded(data, order), ()
    if len(data) > MOST_TEXT:  # in no encoding below does it become less
        raise UnreadableFile(TOO_MUCH)
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    if data.isascii():
        return data, ()
    try:
        for _ in _pieces(data, "utf-8", "strict"):
            pass
    except UnicodeDecodeError:
        return _decoded(data, "cp1252"), ()
    return data, ()


def _pieces(data: bytes, encoding: str, errors: str) -> Iterator[str]:
    """The text piece by piece: decoded in one it would be held at up to four bytes a letter."""
    decoder = codecs.getincrementaldecoder(encoding)(errors)
    for start in range(0, len(data), PIECE):
        yield decoder.decode(data[start : start + PIECE])
    yield decoder.decode(b"", final=True)


def _decoded(data: bytes, encoding: str) -> bytes:
    """The same as UTF-8; raises UnreadableFile as soon as it is too much."""
    made = bytearray()
    for piece in _pieces(data, encoding, "replace"):
        made += piece.encode("utf-8", errors="replace")
        if len(made) > MOST_TEXT:
            raise UnreadableFile(TOO_MUCH)
    return bytes(made)
