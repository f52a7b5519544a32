"""The files of one intake opened: their tables found, and their rows entered in the account."""

from collections.abc import Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from itertools import islice

import polars as pl

from pipeline.intake.account.ledger import Ledger, Run
from pipeline.intake.privacy.forgotten import (
    LEFT_OUT,
    NOBODY,
    Forgotten,
    also_forgotten,
    without_rows,
)
from pipeline.intake.read.files import open_grids
from pipeline.intake.read.grids import LINE, UnreadableFile
from pipeline.intake.read.inbox import InboxFile
from pipeline.intake.recognise.kinds import judge
from pipeline.intake.recognise.tables import Table, blank_cells, split_tables
from pipeline.intake.rows.cells import Reader, open_reader
from pipeline.intake.settle.rosters import DAYS

UNSETTLED = {
    "either": "its dates can be read with the day or the month first and nothing in it settles "
    "which",
    "both": "some of its dates have the day first and others the month",
}


@dataclass(frozen=True)
class Placed:
    """A table, how its file is read, and where its rows stand in the account."""

    table: Table
    reader: Reader
    run: Run


@dataclass
class Opened:
    """What the files hold, before anything in it is read; `pool` lets digests use every core."""

    pool: Executor
    forgotten: Forgotten = NOBODY
    gone: dict[str, int] = field(default_factory=dict)  # rows of forgotten people, by file
    rosters: list[tuple[pl.DataFrame, pl.DataFrame]] = field(default_factory=list)
    ledger: Ledger = field(default_factory=Ledger)
    placed: list[Placed] = field(default_factory=list)
    file_of: list[int] = field(default_factory=list)  # number of the file, by entry
    digests: list[Future[str]] = field(default_factory=list)  # by entry

    def take(self, number: int, file: InboxFile) -> None:
        """Open one file, find its tables and enter its rows."""
        digest = self.pool.submit(file.digest)

        def enter(sheet: str, kind: str, remarks: Sequence[str]) -> int:
            entry = self.ledger.open(file.name, sheet, kind)
            self.file_of.append(number)
            self.digests.append(digest)
            for remark in (file.notice, *remarks):
                self.ledger.remark(entry, remark)
            return entry

        try:
            grids = [] if file.remark else open_grids(file.name, file.data, judge)
            kept = [without_rows(split_tables(grid), self.forgotten) for grid in grids]
        except UnreadableFile as why:
            enter("", "", (str(why),))
            return
        if file.remark:
            enter("", "", (file.remark,))
        found = list(zip(grids, kept, strict=True))
        tables = [table for left in kept for table in left.tables.tables]
        reader, seen = open_reader(tables, grids[0].delimiter if grids else "")
        following = iter(seen)
        for grid, left in found:
            parts = left.tables
            entry = enter(grid.sheet, parts.kind, parts.remarks)
            self.rosters += left.rosters
            if left.gone:
                self.ledger.remark(entry, LEFT_OUT.format(left.gone))
                self.gone[file.name] = self.gone.get(file.name, 0) + left.gone
            if parts.tables and reader.order in UNSETTLED:
                has_needed = any(c.name in DAYS for t in parts.tables for c in t.reading.columns)
                then = "rows with such dates are refused" if has_needed else "they are left blank"
                self.ledger.remark(entry, f"{UNSETTLED[reader.order]}; {then}")
            if parts.strays.height:
                self.ledger.refuse_strays(self.ledger.enter(entry, parts.strays, grid.delimiter))
            for table in islice(following, len(parts.tables)):
                run = self.ledger.enter(entry, table.cells, grid.delimiter)
                self.placed.append(Placed(table, reader, run))

    def also_forgotten(self) -> Forgotten:
        """The other ids and names that rosters give people who are left out."""
        return also_forgotten(self.rosters, self.forgotten)

    def of_kind(self, *kinds: str) -> list[Placed]:
        """The tables of these kinds in their order."""
        return [placed for placed in self.placed if placed.table.kind in kinds]

    def enter(
        self,
        placed: Placed,
        rows: pl.DataFrame,
        faults: pl.DataFrame,
        read_count: int,
        remarks: Sequence[str],
    ) -> pl.DataFrame:
        """Account for one table's rows and number them through the whole intake."""
        entry = placed.run.entry
        self.ledger.refuse(placed.run, faults)
        cells = placed.run.cells
        blank = cells.height - read_count
        if blank:  # lines with nothing at all in them are not worth a word
            blank -= cells.select(pl.all_horizontal(blank_cells(cells)).sum()).item()
        self.ledger.entries[entry].read += read_count
        for remark in remarks:
            self.ledger.remark(entry, remark)
        if blank:
            self.ledger.remark(entry, f"rows without a value, not read: {blank}")
        return rows.with_columns(
            pl.col("row") + pl.lit(placed.run.start, pl.UInt32),
            entry=pl.lit(entry, pl.UInt32),
            file=pl.lit(self.file_of[entry], pl.UInt32),
            line=_lines(placed.run.cells[LINE], rows["row"]),
        )


def _lines(lines: pl.Series, rows: pl.Series) -> pl.Series:
    """Line of each row (UInt32); `lines` are those of the whole table."""
    return (lines if len(lines) == len(rows) else lines.gather(rows)).cast(pl.UInt32)
