"""Text files into tables by the contract: of which kind a file is, and what its columns are."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.catalogue import catalogue
from tests.weeks.naive_cells import key

SIDED = ("left", "right", "involved", "uninvolved", "dominant", "nondominant")
IN_A_ROW = ("sets", "reps_left", "reps_right", "load_left", "load_right")


@dataclass(frozen=True)
class Table:
    """A file: its kind, our name of each column (None: not used), and its rows with their lines."""

    name: str
    kind: str
    header: list[str]
    columns: list[str | None]
    rows: list[tuple[int, list[str]]]
    delimiter: str = ","


def natural(name: str) -> list[tuple[int, int | str]]:
    """Sort key of file names: week_2 before week_10."""
    pieces = [piece for piece in re.split(r"([0-9]+)", name.casefold()) if piece]
    return [(0, int(one)) if one.isdigit() else (1, one) for one in pieces]


def open_table(path: Path) -> Table:
    """A text file as a table of its kind."""
    text = _decoded(path.read_bytes())
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    header, *rows = csv.reader(text.splitlines(), delimiter=delimiter)
    kind, columns = _kind(header)
    return Table(path.name, kind, header, columns, list(enumerate(rows, start=2)), delimiter)


def _decoded(data: bytes) -> str:
    """Bytes as text in one of the ways in which spreadsheets write it."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252")


def _kind(header: Sequence[str]) -> tuple[str, list[str | None]]:
    """The kind that knows most of these headers, of those that have what they need."""
    best: tuple[int, str, list[str | None]] = (0, "unknown", [None] * len(header))
    for kind in catalogue().headers.kinds.values():
        if kind.name == "side_tests_columns":  # whose headers name tests: the last resort
            continue
        columns = _named(kind.name, header)
        names = {name.split()[0] for name in columns if name}
        needed = set(kind.required)
        if kind.name == "training_log":
            needed -= {"set_number"} if "sets" in names else set()
            needed -= {"side", "reps"} if "reps_left" in names else set()
        is_pair = any({left, right} <= names for left, right in zip(SIDED[::2], SIDED[1::2],
                                                                     strict=True))  # fmt: skip
        if needed <= names and (kind.name != "side_tests_wide" or is_pair):
            score = len([name for name in columns if name]) + 100 * (kind.name == "decisions")
            best = max(best, (score, kind.name, columns), key=lambda reading: reading[0])
    if best[1] == "unknown":
        tested = _named("side_tests_long", header)
        used = ("athlete_id", "tested_on", "pain", "note")
        return "columns", [name if name in used else None for name in tested]
    return best[1], best[2]


def _named(kind: str, header: Sequence[str]) -> list[str | None]:
    """Our names of a header row; a column of names is that of the ids where there is no other."""
    columns = [_column(kind, text) for text in header]
    if kind not in ("roster", "decisions") and "athlete_id" not in columns:
        return ["athlete_id" if name == "name" else name for name in columns]
    return columns


def _column(kind: str, text: str) -> str | None:
    """Our name of a header, with the trial number behind it where it has one."""
    known = catalogue().headers.kinds[kind]
    if kind == "training_log":
        for name in IN_A_ROW:
            if key(text) == key(name):
                return name
    for name, spellings in known.columns.items():
        if key(text) in spellings:
            return name
    for name in known.numbered:
        for spelling in known.columns[name]:
            words = "|".join(known.trial_words)
            way = rf"(?:{spelling}(?:{words})?([0-9]+)|(?:{words})?([0-9]+){spelling})"
            found = re.fullmatch(way, key(text))
            if found:
                return f"{name} {found[1] or found[2]}"
    return None
