"""Which files lie in the exports folder, in the order in which a person would list them."""

import errno
import hashlib
import os
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISDIR, S_ISREG

from pipeline.control_characters import visible
from pipeline.errors import SquadsidesError

HOW_TO_FILL = (
    "put the CSV or XLSX exports of your devices and spreadsheets into it, or blank workbooks from "
    "`make templates` once they are filled in"
)
MOST_BYTES = 330_000_000  # of one file: text of two bytes a letter is half as much decoded
# Files that spreadsheet programs lay beside one they have open: Excel's, and LibreOffice's.
LOCKS = ("~${}", ".~lock.{}#")
LOCK = re.compile(r"~\$|\.~lock\.")
OPEN = "open in a spreadsheet program; it was read as last saved"
GONE = "not to be found: moved or deleted while the folder was read, or a link to nothing"


@dataclass(frozen=True)
class InboxFile:
    """One entry of the folder: its bytes, or why it is not read; `notice`: what else to say."""

    name: str
    data: bytes
    remark: str = ""
    notice: str = ""

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
    every = list(folder.iterdir())
    entries = [entry for entry in every if not entry.name.startswith((".", "~$"))]
    if not any(entry.is_file() for entry in entries):
        if held := sorted(visible(one.name) for one in every if LOCK.match(one.name)):
            raise SquadsidesError(
                f"The folder {folder} holds nothing but {held[0]}, the mark of a file that is open "
                "in a spreadsheet program; save that file into the folder and close it."
            )
        raise SquadsidesError(f"The folder {folder} holds no exports; {HOW_TO_FILL}.")
    return sorted(entries, key=lambda entry: natural_key(entry.name))


def read_entry(entry: Path) -> InboxFile:
    """Bytes of one entry; what is no readable file becomes a remark."""

    name = visible(entry.name)  # which may hold line ends, or bytes that are no letters

    def unread(why: str) -> InboxFile:
        return InboxFile(name, b"", why)

    try:
        before = entry.stat()
        if S_ISDIR(before.st_mode):
            return unread("a folder; only files lying directly here are read")
        if not S_ISREG(before.st_mode):  # a pipe would be waited on for ever
            return unread("no file but a device or a pipe; it was not read")
        if before.st_size > MOST_BYTES:
            return unread(f"larger than {MOST_BYTES // 1_000_000} MB; split it into several files")
        with entry.open("rb") as file:
            data = file.read(before.st_size + 1)  # not all there is: it may be growing
        after = entry.stat()
    except OSError as error:
        is_gone = error.errno in (errno.ENOENT, errno.ELOOP)
        return unread(GONE if is_gone else "cannot be opened: no permission, or it is in use")
    if _state(before) != _state(after) or len(data) != after.st_size:
        return unread("changed while it was read; build again once nothing writes to it")
    is_open = any(entry.with_name(lock.format(entry.name)).exists() for lock in LOCKS)
    return InboxFile(name, data, notice=OPEN if is_open else "")


def _state(found: os.stat_result) -> tuple[int, int, int]:
    """What no two versions of a file share: where it lies, when it was written, its size."""
    return found.st_ino, found.st_mtime_ns, found.st_size
