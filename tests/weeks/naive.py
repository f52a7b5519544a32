"""The contract's rules for rows a second time, in plain loops: which trials and sets there are.

Slow and simple on purpose. Nothing of the program is used but the catalogue, for names and units.
"""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

from tests.weeks.exports import REFUSED, Said
from tests.weeks.naive_people import Roster, read_rosters
from tests.weeks.naive_rows import Known, Row, rows_of
from tests.weeks.naive_tables import Table, natural, open_table

TESTS = ("side_tests_long", "side_tests_wide", "columns")
Group = tuple[str, str, str, str]  # person, day, test or exercise, side


@dataclass
class Standing:
    """One trial or set that stands."""

    number: int
    said: Said


@dataclass
class Count:
    """What became of the rows of one file."""

    read: int = 0
    refused: int = 0
    repeated: int = 0

    @property
    def accepted(self) -> int:
        """Rows that are neither refused nor said before."""
        return self.read - self.refused - self.repeated


@dataclass
class Told:
    """What a folder of exports says by the contract."""

    roster: Roster
    trials: dict[Group, list[Standing]] = field(default_factory=dict)
    silent: dict[Group, list[Said]] = field(default_factory=dict)  # sides not tested, yet of note
    sets: dict[Group, list[Standing]] = field(default_factory=dict)
    counts: dict[str, Count] = field(default_factory=dict)
    lost: set[tuple[str, int]] = field(default_factory=set)  # rows with cells that cost themselves
    rows: dict[str, list[Row]] = field(default_factory=dict)


def read_folder(folder: Path) -> Told:
    """Everything a folder of text files says."""
    paths = sorted(folder.iterdir(), key=lambda path: natural(path.name))
    tables = [open_table(path) for path in paths]
    rosters = [table for table in tables if table.kind == "roster"]
    told = Told(read_rosters(rosters))
    known = told.roster.known if rosters else Known()
    told.lost |= told.roster.lost
    for table in rosters:
        read, repeated = told.roster.read[table.name], told.roster.repeated.get(table.name, 0)
        told.counts[table.name] = Count(read, 0, repeated)
    those = [table for table in tables if table.kind in (*TESTS, "training_log")]
    for table in those:
        told.rows[table.name] = rows_of(table, known)
    _refuse_slips(told)
    for table in those:
        _settle(told, table)
    return told


def _refuse_slips(told: Told) -> None:
    """Rows a year after every other day, unless half of their file's people have that day."""
    days = sorted(
        {one.day for rows in told.rows.values() for row in rows for one in row.truth.said}
    )
    if len(days) < 2:
        return
    last, before = date.fromisoformat(days[-1]), date.fromisoformat(days[-2])
    if last - before <= timedelta(days=366):
        return
    for rows in told.rows.values():
        people = {one.athlete for row in rows for one in row.truth.said}
        late = {
            one.athlete for row in rows for one in row.truth.said if one.day == last.isoformat()
        }
        if 2 * len(late) >= len(people):
            continue
        for row in rows:
            if any(one.day == last.isoformat() for one in row.truth.said):
                row.truth = REFUSED


def _settle(told: Told, table: Table) -> None:
    """Lay one file's rows over what stands, and count them."""
    count = told.counts[table.name] = Count()
    columns = {name for name in ("pain", "note") if name in table.columns}
    parts: dict[Group, list[tuple[int, Said]]] = {}
    quiet: dict[Group, list[tuple[int, Said]]] = {}
    rows = told.rows[table.name]
    for place, row in enumerate(rows):
        if row.truth.verdict == "blank":
            continue
        count.read += 1
        count.refused += row.truth is REFUSED
        if row.has_lost and row.truth is not REFUSED:
            told.lost.add((table.name, row.line))
        for one in row.truth.said:
            home = quiet if one.values[0] is None else parts
            home.setdefault((one.athlete, one.day, one.what, one.side), []).append((place, one))
    again: dict[int, int] = {}
    is_log = table.kind == "training_log"
    standing = told.sets if is_log else told.trials
    for group, said in parts.items():
        for place in _lay(standing.setdefault(group, []), said, columns, is_log):
            again[place] = again.get(place, 0) + 1
    for group, said in quiet.items():
        free = list(told.silent.setdefault(group, []))
        for place, one in said:
            same = next((other for other in free if _is_same(other, one, columns)), None)
            if same is None:
                told.silent[group].append(one)
            else:
                free.remove(same)
                again[place] = again.get(place, 0) + 1
    count.repeated = sum(again[place] == len(rows[place].truth.said) for place in again)


def _lay(
    standing: list[Standing],
    said: Sequence[tuple[int, Said]],
    columns: AbstractSet[str],
    is_log: bool,
) -> list[int]:
    """Lay a file's trials or sets of one group over those that stand; rows that say nothing new."""
    numbers = [one.number for _, one in said]
    if is_log and len(set(numbers)) < len(numbers):
        numbers = [None] * len(numbers)  # one set number for several sets numbers none of them
    free, again = list(standing), []
    for (place, one), number in zip(said, numbers, strict=True):
        if number is None:
            continue
        found = next((other for other in standing if other.number == number), None)
        if found is None:
            standing.append(Standing(number, one))
            continue
        if found in free:
            free.remove(found)
        if _is_same(found.said, one, columns):
            again.append(place)
        else:
            found.said = _over(found.said, one, columns)
    rest = []
    for (place, one), number in zip(said, numbers, strict=True):
        if number is not None:
            continue
        found = next((other for other in free if _is_same(other.said, one, columns)), None)
        if found is None:
            rest.append(one)
        else:
            free.remove(found)
            again.append(place)
    for one in rest:
        if free:
            found = free.pop(0)
            found.said = _over(found.said, one, columns)
        else:
            highest = max((other.number for other in standing), default=0)
            standing.append(Standing(highest + 1, one))
    return again


def _is_same(standing: Said, one: Said, columns: AbstractSet[str]) -> bool:
    """Whether a row says what stands already, in what its file has columns for."""
    return (
        standing.values == one.values
        and ("pain" not in columns or standing.pain == one.pain)
        and ("note" not in columns or standing.note == one.note)
    )


def _over(standing: Said, one: Said, columns: AbstractSet[str]) -> Said:
    """A correction: what its file has no column for stays as it was."""
    kept = {name: getattr(standing, name) for name in ("pain", "note") if name not in columns}
    return replace(one, **kept)
