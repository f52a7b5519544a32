"""All files of one intake put together: rosters first, then the rows that need them."""

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from datetime import date
from itertools import islice

import polars as pl

from pipeline.errors import SquadsidesError
from pipeline.intake.account.ledger import Faults, Ledger, Run
from pipeline.intake.account.repeats_told import remark_corrections, remark_repeats
from pipeline.intake.doubts.held_files import settle_doubts
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
from pipeline.intake.recognise.kinds import LONG, WIDE, judge
from pipeline.intake.recognise.named_tests import COLUMNS
from pipeline.intake.recognise.tables import EXAMPLE_ROWS, Table, blank_cells, split_tables
from pipeline.intake.rows.cells import Reader, open_reader
from pipeline.intake.rows.decisions import read_decisions
from pipeline.intake.rows.film_review import LogReader
from pipeline.intake.rows.flag_ids import FlagNames
from pipeline.intake.rows.people import People, make_people, read_roster
from pipeline.intake.rows.side_tests import OUTSIDE, SideTests, TableReader
from pipeline.intake.rows.training_log import TrainingLogReader
from pipeline.intake.settle.date_slips import date_slips
from pipeline.intake.settle.handover import handed_over
from pipeline.intake.settle.rosters import (
    DAYS,
    everyone,
    one_id_each,
    refused_ids,
    standing,
    unread_roster,
)
from pipeline.intake.settle.standing_rows import standing_rows
from pipeline.intake.settle.unread import unread
from pipeline.settings import Settings
from schemas.vocabulary import Export

UNNAMED = (
    "There is no roster among the exports, and nobody is named in them. Add a table with the "
    "columns athlete_id, name and squad, or a file of side tests."
)
FIRST_FILES = 3  # that are named where nothing can be read
ONLY_EXAMPLES = (
    "The exports hold templates with nothing in them but their example rows, which are no data. "
    "Fill in a file of side tests, and better a roster too, then run `make` again."
)
EVERYBODY = "Everybody in the roster has been forgotten; there is no report."
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
class Assembly:
    """One intake from its files to its frames; `pool` lets tables and digests use every core."""

    settings: Settings
    pool: Executor
    as_of: date | None = None
    forgotten: Forgotten = NOBODY
    gone: dict[str, int] = field(default_factory=dict)  # rows of forgotten people, by file
    rosters: list[tuple[pl.DataFrame, pl.DataFrame]] = field(default_factory=list)
    ledger: Ledger = field(default_factory=Ledger)
    placed: list[Placed] = field(default_factory=list)
    file_of: list[int] = field(default_factory=list)  # number of the file, by entry
    digests: list[Future[str]] = field(default_factory=list)  # by entry
    settled_rows: list[pl.Series] = field(
        default_factory=list
    )  # whose unread cell is asked no more

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

    def roster(self) -> tuple[pl.DataFrame, People]:
        """The roster that stands, and what other rows need of it; without one, everyone named.

        Raises SquadsidesError where rosters hold no readable row, or nobody is named at all.
        """
        frames = []
        for placed in self.of_kind("roster"):
            rows, faults, read_count = read_roster(placed.table, placed.reader)
            frames.append(self._enter(placed, rows, faults, read_count, ()))
        if not any(frame.height for frame in frames):
            return self._without_roster()
        rows = one_id_each(pl.concat(frames), self.ledger)
        roster, masses = standing(self.settled("roster", rows), self.ledger)
        tables = [(placed.table, placed.run) for placed in self.of_kind("roster")]
        return roster, make_people(roster, refused_ids(tables, self.ledger), masses)

    def _without_roster(self) -> tuple[pl.DataFrame, People]:
        if why := unread_roster(self.ledger):
            raise SquadsidesError(why)
        placed = self.of_kind(LONG, WIDE, COLUMNS, Export.TRAINING_LOG, Export.FILM_REVIEW)
        roster = everyone([(one.table, one.run) for one in placed], self.ledger)
        if roster.is_empty():
            has_examples = any(
                EXAMPLE_ROWS in one for e in self.ledger.entries for one in e.remarks
            )
            alone = ONLY_EXAMPLES if has_examples else self._nothing_read() or UNNAMED
            raise SquadsidesError(EVERYBODY if self.gone else alone)
        return roster, make_people(roster, {})

    def _nothing_read(self) -> str:
        """Where no file is a table: the first files with what to do; empty where some is."""
        if any(entry.kind for entry in self.ledger.entries):
            return ""
        files = [f"{one.file}: {'; '.join(one.remarks)}" for one in self.ledger.entries]
        more = f" (and {len(files) - FIRST_FILES} more)" if len(files) > FIRST_FILES else ""
        return f"None of the files can be read as a table. {'. '.join(files[:FIRST_FILES])}{more}."

    def attempts(self, people: People) -> tuple[pl.DataFrame, pl.DataFrame]:
        """All attempts of all side tests, and the values beyond the hard limits."""

        def read_table(placed: Placed) -> SideTests:
            return TableReader(placed.table, placed.reader, people).read()

        tables = self.of_kind(LONG, WIDE, COLUMNS)
        frames, outside = [], [pl.DataFrame(schema={"entry": pl.UInt32, **OUTSIDE})]
        for placed, read in zip(tables, self.pool.map(read_table, tables), strict=True):
            frames.append(
                self._enter(placed, read.rows, read.faults, read.read_count, read.remarks)
            )
            placed.table.quick.clear()  # which are in the rows now; the cells are still needed
            entry = pl.lit(placed.run.entry, pl.UInt32)
            outside.append(read.outside.select(entry.alias("entry"), *OUTSIDE))
        return _in_one_piece(frames), pl.concat(outside)

    def logged(self, kind: Export, people: People) -> pl.DataFrame:
        """All rows of the training logs or film reviews."""
        frames = []
        for placed in self.of_kind(kind):
            parts = placed.table, placed.reader, people
            read = {
                Export.TRAINING_LOG: TrainingLogReader(*parts).training,
                Export.FILM_REVIEW: LogReader(*parts).film,
            }[kind]()
            frames.append(
                self._enter(placed, read.rows, read.faults, read.read_count, read.remarks)
            )
        return pl.concat(frames) if frames else pl.DataFrame()

    def decided(self, people: People, dated: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
        """All decisions of meetings; `dated` holds what the as-of date comes from."""
        as_of = self.as_of or _newest_day(dated.values())
        sets = dated["sets"]
        exercises = sets["exercise"].cast(pl.String).unique().sort() if sets.height else ()
        names = FlagNames(people, tuple(exercises))
        frames = []
        for placed in self.of_kind("decisions"):
            log = LogReader(placed.table, placed.reader, people)
            file = self.ledger.entries[placed.run.entry].file
            read = read_decisions(log, names, file, as_of or date.min)
            frames.append(
                self._enter(placed, read.rows, read.faults, read.read_count, read.remarks)
            )
        return pl.concat(frames) if frames else pl.DataFrame()

    def settled(self, kind: str, rows: pl.DataFrame) -> pl.DataFrame:
        """The versions of the rows that stand."""
        if rows.is_empty():
            return rows
        stands = standing_rows(kind, rows, self.ledger)
        remark_repeats(self.ledger, stands.versions.repeated)
        remark_corrections(self.ledger, stands.versions.corrections)
        self.settled_rows.append(stands.settled_cells)
        return stands.rows

    def without_slips(self, frames: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
        """The frames without rows dated by a slip long after everything else: those are refused."""
        trusted = [
            number
            for number, entry in enumerate(self.ledger.entries)
            if self.settings.trusts(entry.file)
        ]
        late = date_slips(frames.values(), self.as_of)
        late = late.filter(~pl.col("entry").is_in(trusted))
        if late.is_empty():
            return dict(frames)
        for placed in self.placed:
            rows, start = late["row"], placed.run.start
            inside = rows.filter((rows >= start) & (rows < start + placed.table.cells.height))
            column = next((c for c in placed.table.reading.columns if c.name in DAYS), None)
            if len(inside) and column is not None:
                faults = Faults(frozenset(DAYS))
                own = late.filter(pl.col("row").is_in(inside.implode()))
                reason = pl.format(
                    "lies more than a year after all other dates, which end on {}; a slip in the "
                    "year?", "last_day",
                )  # fmt: skip
                inside = own["row"] - start
                texts = placed.table.text(column).cast(pl.String).gather(inside)
                faults.add(column, inside, texts, own.select(reason).to_series())
                self.ledger.refuse(placed.run, faults.frame)
        is_late = pl.col("row").is_in(late["row"].to_list())
        return {
            name: frame.filter(~is_late) if frame.height else frame
            for name, frame in frames.items()
        }

    def _enter(
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

    def frames(self) -> dict[str, pl.DataFrame]:
        """Everything the intake hands over, by name."""
        roster, people = self.roster()
        attempts, outside = self.attempts(people)
        dated = {
            "trials": attempts,
            "sets": self.logged(Export.TRAINING_LOG, people),
            "film": self.logged(Export.FILM_REVIEW, people),
        }
        read = self.without_slips(dated)
        read["decisions"] = self.decided(people, read)
        settled = {kind: self.settled(kind, rows) for kind, rows in read.items()}
        held, doubts = settle_doubts(settled["trials"], outside, people, self.ledger, self.settings)
        frames = {
            name: handed_over(name, rows, people, self.ledger, held)
            for name, rows in {"roster": roster, **settled}.items()
        }
        digests = [digest.result() for digest in self.digests]
        refused = unread(self.ledger, self.placed, people, _joined(self.settled_rows)).drop("row")
        newest = pl.lit(_newest_day(settled.values()), pl.Date)
        return {
            "files": self.ledger.files(digests),
            # A day after all that could be read is no day ahead: it is asked about in any case.
            "refused": refused.with_columns(
                noted_on=pl.when(pl.col("noted_on") <= newest).then("noted_on")
            ),
            **frames,
            "doubts": doubts,
        }


def _newest_day(frames: Iterable[pl.DataFrame]) -> date | None:
    """The newest day of what was read; None where nothing has one."""
    days = [frame["day"].max() for frame in frames if "day" in frame.columns]
    return max((day for day in days if isinstance(day, date)), default=None)


def _in_one_piece(frames: list[pl.DataFrame]) -> pl.DataFrame:
    """The frames, which are taken out of the list, one below the other.

    In one piece, as columns in pieces of unlike length are put together anew at every step; and
    column by column, so that never all of them are held twice.
    """
    if not frames:
        return pl.DataFrame()
    pieces = [frame.get_columns() for frame in frames]
    frames.clear()
    return pl.DataFrame(
        [pl.concat([piece.pop(0) for piece in pieces], rechunk=True) for _ in range(len(pieces[0]))]
    )


def _joined(rows: Sequence[pl.Series]) -> pl.Series:
    """Row numbers of several series in one."""
    return pl.concat([pl.Series("row", [], dtype=pl.UInt32), *rows])


def _lines(lines: pl.Series, rows: pl.Series) -> pl.Series:
    """Line of each row (UInt32); `lines` are those of the whole table."""
    return (lines if len(lines) == len(rows) else lines.gather(rows)).cast(pl.UInt32)
