"""Which files lie in the exports folder, in the order in which a person would list them."""

import hashlib
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import SquadsidesError

HOW_TO_FILL = "put the CSV or XLSX exports of your devices and spreadsheets into it"


@dataclass(frozen=True)
class InboxFile:
    """One entry of the folder: its bytes, or why it is not read."""

    name: str
    data: bytes
    remark: str = ""

    def digest(self) -> str:
        """SHA-256 of the bytes, empty where nothing was read."""
        return "" if self.remark else hashlib.sha256(self.data).hexdigest()


def natural_key(name: str) -> tuple[tuple[int, int | str], ...]:
    """Sort key that puts week_2 before week_10, on every operating system alike."""
    # macOS hands over decomposed accents, others composed ones.
    plain = unicodedata.normalize("NFC", name).casefold()
    pieces = [piece for piece in re.split(r"([0-9]+)", plain) if piece]
    keys = [(0, int(piece)) if re.fullmatch("[0-9]+", piece) else (1, piece) for piece in pieces]
    return (*keys, (2, name))


def list_exports(folder: Path) -> list[Path]:
    """The folder's entries in natural name order, without lock files and dot files.

    Raises SquadsidesError where the folder is missing or holds no file.
    """
    if not folder.is_dir():
        raise SquadsidesError(f"There is no folder {folder}; create it and {HOW_TO_FILL}.")
    entries = [entry for entry in folder.iterdir() if not entry.name.startswith((".", "~$"))]
    if not any(entry.is_file() for entry in entries):
        raise SquadsidesError(f"The folder {folder} holds no exports; {HOW_TO_FILL}.")
    return sorted(entries, key=lambda entry: natural_key(entry.name))


def read_entry(entry: Path) -> InboxFile:
    """Bytes of one entry; a folder or an unreadable file becomes a remark."""
    if entry.is_dir():
        return InboxFile(entry.name, b"", "a folder; only files lying directly here are read")
    try:
        data = entry.read_bytes()
    except OSError:
        return InboxFile(entry.name, b"", "cannot be opened: no permission, or it is in use")
    return InboxFile(entry.name, data)
