"""Other folders that say the same: what a week of exports must not change by."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from zlib import crc32

import numpy as np

from pipeline.catalogue import catalogue
from tests.weeks.exports import Export, Row, Truth
from tests.weeks.naive_cells import SIDE_FIRST, SIDE_LAST, UNIT_LAST, Unreadable, is_blank, key
from tests.weeks.naive_rows import Known
from tests.weeks.naive_tables import natural

Folder = list[Export]
DAY = {"long": "tested_on", "wide": "tested_on", "columns": "tested_on", "log": "trained_on",
       "film": "filmed_on"}  # fmt: skip
MARK = "Zq"  # before a name or an id that was another
OTHER = {"left": "right", "right": "left", "l": "r", "r": "l"}


def twice_after(folder: Folder) -> Folder:
    """Every file again, under a name that comes after all others."""
    return [*folder, *(export.named(f"zz {export.name}") for export in folder)]


def twice_before(folder: Folder) -> Folder:
    """Every file again, under a name that comes before all others."""
    return [*(export.named(f"00 {export.name}") for export in folder), *folder]


def contained(folder: Folder) -> Folder:
    """Before each file one that holds its first rows: the export of an earlier day."""
    return [
        *(
            replace(export, name=f"00 {export.name}", rows=export.rows[: 2 * len(export.rows) // 3])
            for export in folder
            if len(export.rows) > 1
        ),
        *folder,
    ]


def shuffled(folder: Folder, truths: Mapping[str, Sequence[Truth]], seed: int = 1) -> Folder:
    """The rows of files in another order, where they carry numbers or stand alone.

    The sets of one exercise in one session stay beside each other: which side is logged first
    tells which was done first.
    """
    chance = np.random.default_rng(seed)

    def turn(export: Export) -> Export:
        is_dated = export.kind in DAY and export.kind != "film"
        if is_dated and not _carries_numbers(truths.get(export.name, ())):
            return export
        blocks: dict[tuple[str, ...], list[Row]] = {}
        for number, row in enumerate(export.rows):
            names = ("athlete_id", "trained_on", "exercise") if export.kind == "log" else ()
            key = tuple(export.cell(row, name) for name in names) or (str(number),)
            blocks.setdefault(key, []).append(row)
        order = chance.permutation(len(blocks))
        those = list(blocks.values())
        return replace(export, rows=tuple(row for place in order for row in those[place]))

    return [turn(export) for export in folder]


def _carries_numbers(truths: Iterable[Truth]) -> bool:
    """Whether no two trials or sets of one side and day are told apart by their order alone."""
    groups: dict[tuple[str, ...], list[tuple[int | None, object]]] = {}
    for truth in truths:
        for one in truth.said:
            group = one.athlete, one.day, one.what, one.side
            groups.setdefault(group, []).append((one.number, (one.values, one.pain, one.note)))
    return all(
        len(said) == 1 or len({number for number, _ in said} - {None}) == len(said)
        for said in groups.values()
    )


def columns_permuted(folder: Folder) -> Folder:
    """The columns of every file in another order, that of files with equal headers alike."""
    found = []
    for export in folder:
        chance = np.random.default_rng(crc32(repr(export.header).encode()))
        order = chance.permutation(len(export.header))

        def turn(row: Row, order: Iterable[int] = order) -> Row:
            return tuple(row[place] for place in order)

        found.append(
            replace(
                export,
                columns=turn(export.columns),
                header=turn(export.header),
                rows=tuple(map(turn, export.rows)),
            )
        )
    return found


def split_by_athlete(folder: Folder, known: Known) -> Folder:
    """A file for each athlete of each file, however they are named in it."""

    def about(export: Export, row: Row) -> str:
        return export.cell(row, "flag_id") or person(export.cell(row, "athlete_id"), known)

    return _split(folder, about)


def split_by_day(folder: Folder, _: Known) -> Folder:
    """A file for each day of each file of tests, training or film."""
    return _split(folder, lambda export, row: export.cell(row, DAY.get(export.kind, "")))


def person(text: str, known: Known) -> str:
    """The id of whom a row names, or the text where that is nobody known."""
    try:
        return known.athlete(text)
    except Unreadable:
        return text


def _split(folder: Folder, by: Callable[[Export, Row], str]) -> Folder:
    found = []
    for export in folder:
        for number, about in enumerate(dict.fromkeys(by(export, row) for row in export.rows)):
            part = export.where(lambda row, export=export, about=about: by(export, row) == about)
            stem, _, ending = export.name.rpartition(".")
            # Parts keep their file's place in the order of names: corrections stay later.
            found.append(part.named(f"{stem} {number:03d}.{ending}"))
    return found


def reversed_order(folder: Folder, _: Known) -> Folder:
    """The files under names in the reverse of their order."""
    ordered = sorted(folder, key=lambda export: natural(export.name))
    return [
        export.named(f"{len(ordered) - place:03d} {export.name}")
        for place, export in enumerate(ordered)
    ]


def renamed(folder: Folder, known: Known) -> Folder:
    """Everybody under another id and name, in the same order."""

    def other(column: str, cell: str) -> str:
        if column not in ("athlete_id", "name", "flag_id") or is_blank(cell):
            return cell
        return f"{MARK}{person(cell, known) if column == 'athlete_id' else cell}"

    return [_with_cells(export, other) for export in folder]


def without(folder: Folder, people: set[str], known: Known) -> Folder:
    """The folder without every row about these people."""

    def is_kept(export: Export, row: Row) -> bool:
        flag = export.cell(row, "flag_id")
        return person(export.cell(row, "athlete_id"), known) not in people and not any(
            flag.startswith(f"{who}.") for who in people
        )

    return [export.where(lambda row, export=export: is_kept(export, row)) for export in folder]


def mirrored(folder: Folder) -> Folder:
    """Left and right change places: in cells, in headers, and in what the roster knows."""
    return [_mirrored(export) for export in folder]


def _mirrored(export: Export) -> Export:
    sided = {"side", "known_side", "dominant_hand", "dominant_foot"}
    turned = _with_cells(
        export, lambda column, cell: _other_word(cell) if column in sided else cell
    )
    if export.kind == "columns":
        return replace(turned, header=tuple(map(other_head, turned.header)))
    header = list(turned.header)
    for place, column in enumerate(turned.columns):
        other = re.sub(r"left|right", lambda found: OTHER[found[0]], column)
        if other in turned.columns:
            header[place] = turned.header[turned.columns.index(other)]
    return replace(turned, header=tuple(header))


def _other_word(cell: str) -> str:
    """The other side's word for a cell that names one; all else as it is."""
    headers = catalogue().headers
    for side in ("left", "right"):
        if key(cell) in {
            *map(key, headers.sides[side]),
            *map(key, headers.words["dominance"][side]),
        }:
            return OTHER[side]
    return cell


def other_head(head: str) -> str:
    """A header that names the other side of its test, in the same unit."""
    bracket = UNIT_LAST.fullmatch(head)
    bare, unit = (bracket[1], head[len(bracket[1]) :]) if bracket else (head, "")
    for pattern, part in ((SIDE_FIRST, 1), (SIDE_LAST, 2)):
        found = pattern.fullmatch(bare)
        if found:
            start, end = found.span(part)
            return bare[:start] + OTHER[found[part].lower()] + bare[end:] + unit
    return head


def _with_cells(export: Export, turn: Callable[[str, str], str]) -> Export:
    rows = tuple(
        tuple(turn(column, cell) for column, cell in zip(export.columns, row, strict=True))
        for row in export.rows
    )
    return replace(export, rows=rows)
