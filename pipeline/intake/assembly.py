"""All files of one intake put together: rosters first, then the rows that need them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import polars as pl

from pipeline.errors import SquadsidesError
from pipeline.intake.account.faults import Faults
from pipeline.intake.account.repeats_told import remark_corrections, remark_repeats
from pipeline.intake.doubts.held_files import settle_doubts
from pipeline.intake.opened import Opened, Placed
from pipeline.intake.recognise.kinds import LONG, WIDE
from pipeline.intake.recognise.named_tests import COLUMNS
from pipeline.intake.recognise.tables import EXAMPLE_ROWS
from pipeline.intake.rows.decisions import read_decisions
from pipeline.intake.rows.film_review import LogReader
from pipeline.intake.rows.flag_ids import FlagNames
from pipeline.intake.rows.people import People, make_people, read_roster
from pipeline.intake.rows.side_tests import OUTSIDE, SideTests, TableReader
from pipeline.intake.rows.training_log import TrainingLogReader
from pipeline.intake.settle.bears_on_care import unread
from pipeline.intake.settle.date_slips import date_slips
from pipeline.intake.settle.handover import handed_over
from pipeline.intake.settle.rosters import (
    DAYS,
    everyone,
    one_id_each,
    refused_ids,
    standing_roster,
    unread_roster,
)
from pipeline.intake.settle.standing_rows import standing_rows
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


@dataclass
class Assembly:
    """One intake from the tables of its files to its frames."""

    opened: Opened
    settings: Settings
    as_of: date | None = None
    settled_rows: list[pl.Series] = field(
        default_factory=list
    )  # whose unread cell is asked no more

    def roster(self) -> tuple[pl.DataFrame, People]:
        """The roster that stands, and what other rows need of it; without one, everyone named.

        Raises SquadsidesError where rosters hold no readable row, or nobody is named at all.
        """
        frames = []
        for placed in self.opened.of_kind("roster"):
            rows, faults, read_count = read_roster(placed.table, placed.reader)
            frames.append(self.opened.enter(placed, rows, faults, read_count, ()))
        if not any(frame.height for frame in frames):
            return self._without_roster()
        rows = one_id_each(pl.concat(frames), self.opened.ledger)
        roster, masses = standing_roster(self.settled("roster", rows), self.opened.ledger)
        tables = [(placed.table, placed.run) for placed in self.opened.of_kind("roster")]
        return roster, make_people(roster, refused_ids(tables, self.opened.ledger), masses)

    def _without_roster(self) -> tuple[pl.DataFrame, People]:
        if why := unread_roster(self.opened.ledger):
            raise SquadsidesError(why)
        placed = self.opened.of_kind(LONG, WIDE, COLUMNS, Export.TRAINING_LOG, Export.FILM_REVIEW)
        roster = everyone([(one.table, one.run) for one in placed], self.opened.ledger)
        if roster.is_empty():
            has_examples = any(
                EXAMPLE_ROWS in one for e in self.opened.ledger.entries for one in e.remarks
            )
            alone = ONLY_EXAMPLES if has_examples else self._nothing_read() or UNNAMED
            raise SquadsidesError(EVERYBODY if self.opened.gone else alone)
        return roster, make_people(roster, {})

    def _nothing_read(self) -> str:
        """Where no file is a table: the first files with what to do; empty where some is."""
        if any(entry.kind for entry in self.opened.ledger.entries):
            return ""
        files = [f"{one.file}: {'; '.join(one.remarks)}" for one in self.opened.ledger.entries]
        more = f" (and {len(files) - FIRST_FILES} more)" if len(files) > FIRST_FILES else ""
        return f"None of the files can be read as a table. {'. '.join(files[:FIRST_FILES])}{more}."

    def attempts(self, people: People) -> tuple[pl.DataFrame, pl.DataFrame]:
        """All attempts of all side tests, and the values beyond the hard limits."""

        def read_table(placed: Placed) -> SideTests:
            return TableReader(placed.table, placed.reader, people).read()

        tables = self.opened.of_kind(LONG, WIDE, COLUMNS)
        frames, outside = [], [pl.DataFrame(schema={"entry": pl.UInt32, **OUTSIDE})]
        for placed, read in zip(tables, self.opened.pool.map(read_table, tables), strict=True):
            frames.append(
                self.opened.enter(placed, read.rows, read.faults, read.read_count, read.remarks)
            )
            placed.table.quick.clear()  # which are in the rows now; the cells are still needed
            entry = pl.lit(placed.run.entry, pl.UInt32)
            outside.append(read.outside.select(entry.alias("entry"), *OUTSIDE))
        return _in_one_piece(frames), pl.concat(outside)

    def logged(self, kind: Export, people: People) -> pl.DataFrame:
        """All rows of the training logs or film reviews."""
        frames = []
        for placed in self.opened.of_kind(kind):
            parts = placed.table, placed.reader, people
            read = {
                Export.TRAINING_LOG: TrainingLogReader(*parts).training,
                Export.FILM_REVIEW: LogReader(*parts).film,
            }[kind]()
            frames.append(
                self.opened.enter(placed, read.rows, read.faults, read.read_count, read.remarks)
            )
        return pl.concat(frames) if frames else pl.DataFrame()

    def decided(self, people: People, dated: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
        """All decisions of meetings; `dated` holds what the as-of date comes from."""
        as_of = self.as_of or _newest_day(dated.values())
        sets = dated["sets"]
        exercises = sets["exercise"].cast(pl.String).unique().sort() if sets.height else ()
        names = FlagNames(people, tuple(exercises))
        frames = []
        for placed in self.opened.of_kind("decisions"):
            log = LogReader(placed.table, placed.reader, people)
            file = self.opened.ledger.entries[placed.run.entry].file
            read = read_decisions(log, names, file, as_of or date.min)
            frames.append(
                self.opened.enter(placed, read.rows, read.faults, read.read_count, read.remarks)
            )
        return pl.concat(frames) if frames else pl.DataFrame()

    def settled(self, kind: str, rows: pl.DataFrame) -> pl.DataFrame:
        """The versions of the rows that stand."""
        if rows.is_empty():
            return rows
        stands = standing_rows(kind, rows, self.opened.ledger)
        remark_repeats(self.opened.ledger, stands.versions.repeated)
        remark_corrections(self.opened.ledger, stands.versions.corrections)
        self.settled_rows.append(stands.settled_cells)
        return stands.rows

    def without_slips(self, frames: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
        """The frames without rows dated by a slip long after everything else: those are refused."""
        trusted = [
            number
            for number, entry in enumerate(self.opened.ledger.entries)
            if self.settings.trusts(entry.file)
        ]
        late = date_slips(frames.values(), self.as_of)
        late = late.filter(~pl.col("entry").is_in(trusted))
        if late.is_empty():
            return dict(frames)
        for placed in self.opened.placed:
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
                self.opened.ledger.refuse(placed.run, faults.frame)
        is_late = pl.col("row").is_in(late["row"].to_list())
        return {
            name: frame.filter(~is_late) if frame.height else frame
            for name, frame in frames.items()
        }

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
        ledger = self.opened.ledger
        held, doubts = settle_doubts(settled["trials"], outside, people, ledger, self.settings)
        frames = {
            name: handed_over(name, rows, people, ledger, held)
            for name, rows in {"roster": roster, **settled}.items()
        }
        digests = [digest.result() for digest in self.opened.digests]
        refused = unread(
            self.opened.ledger, self.opened.placed, people, _joined(self.settled_rows)
        ).drop("row")
        newest = pl.lit(_newest_day(settled.values()), pl.Date)
        return {
            "files": ledger.files(digests),
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
