"""The warehouse: frames in, one table per SQL file, frames out."""

import os
import re
from collections.abc import Sequence
from graphlib import TopologicalSorter
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipeline.errors import SquadsidesError

ROOMS = ("staging", "marts")  # of what is read
# Of what is found in it: what the data raise, and, once each flag has its state, the list.
RAISED, LISTED = ("flags", "decided"), ("agenda",)

ROW_GROUP = 122_880  # rows DuckDB stores in one piece, each on a core of its own
AT_ONCE = 16 * ROW_GROUP  # rows handed to it at once: it keeps a copy of all until it has them all


class _Stream:
    """A frame seen as an Arrow stream, which DuckDB reads without any further library."""

    def __init__(self, frame: pl.DataFrame) -> None:
        starts = range(0, max(frame.height, 1), ROW_GROUP)
        whole = frame.rechunk()
        self.frame = pl.concat([whole.slice(at, ROW_GROUP) for at in starts], rechunk=False)

    def __arrow_c_stream__(self, requested_schema: object = None) -> Any:
        return self.frame.__arrow_c_stream__(requested_schema)


def _unwritable(broken: duckdb.Error) -> SquadsidesError:
    why = str(broken).splitlines()[0].rpartition(": ")[2]
    return SquadsidesError(f"The warehouse cannot be written or opened: {why}.")


Config = dict[str, str | bool | int | float | list[str]]
# Of memory DuckDB takes this much, then it puts aside, beside its file, what it does not need; an
# ordinary club's tables are smaller. Each core needs a share of it: 64 of them run out. Changes go
# into the file at the end, not as they come.
MOST_CORES = 4
IN_FILE: Config = {
    "memory_limit": "400MB",
    "checkpoint_threshold": "1GB",
    "threads": min(MOST_CORES, os.cpu_count() or 1),
}
# Else it would put things aside where the build runs. Of small tables, and parts of the squads
# stand side by side already: handing rows from thread to thread takes longer than the work.
IN_MEMORY: Config = {"temp_directory": "", "threads": 1}
# What DuckDB raises where the disk, or the memory, is to blame and not the data.
MACHINE = (
    duckdb.IOException,
    duckdb.TransactionException,
    duckdb.FatalException,
    duckdb.OutOfMemoryException,
)


class Warehouse:
    """A DuckDB file while it is being built: tables `raw_`, `ref_`, `stg_`, `mart_`, `flag_`."""

    def __init__(self, path: Path | None = None, *, read_only: bool = False) -> None:
        self.writes = path is not None and not read_only
        place, config = (str(path), IN_FILE) if path else (":memory:", IN_MEMORY)
        try:
            self.connection = duckdb.connect(place, read_only=read_only, config=config)
        except duckdb.IOException as broken:
            raise _unwritable(broken) from None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if self.writes and error is None:
                # Closing writes too, but says nothing where it fails.
                self.connection.execute("checkpoint")
        except MACHINE as broken:
            raise _unwritable(broken) from None
        finally:
            self.connection.close()
        if isinstance(error, MACHINE):
            raise _unwritable(error) from None

    def load(self, name: str, frame: pl.DataFrame) -> None:
        """Add the rows of a frame to table `name`, which need not be there yet."""
        for part in list(frame.iter_slices(AT_ONCE)) or [frame]:
            if not self._take(part, f"create table if not exists {name} as from incoming"):
                self._take(part, f"insert into {name} from incoming")

    def _take(self, frame: pl.DataFrame, statement: str) -> bool:
        """Run a statement that reads the frame as `incoming`; whether there was anything to do."""
        self.connection.register("incoming", _Stream(frame))
        done = self.connection.execute(statement).fetchall()
        self.connection.unregister("incoming")
        return bool(done)

    def build(self, *rooms: str) -> list[str]:
        """Create one table per SQL file after the tables it reads; return their names in order."""
        statements = sql_files(*(rooms or ROOMS))
        readings = {name: reads(text) & statements.keys() for name, text in statements.items()}
        order = list(TopologicalSorter(readings).static_order())
        for name in order:
            self.connection.execute(f"create or replace table {name} as {statements[name]}")
        return order

    def fetch(self, name: str, **among: Sequence[str]) -> pl.DataFrame:
        """Read table `name` as a frame; only its rows with one of these texts in a column."""
        with self.connection.cursor() as of_thread:  # so that several threads can read
            table = of_thread.table(name)
            for column, texts in among.items():
                constants = map(duckdb.ConstantExpression, texts)
                table = table.filter(duckdb.ColumnExpression(column).isin(*constants))
            return pl.DataFrame(table)

    def count_by(self, name: str, column: str) -> dict[str, int]:
        """How many rows of table `name` have each text of a column."""
        column_and_count = [
            duckdb.ColumnExpression(column),
            duckdb.FunctionExpression("count_star"),
        ]
        counted = self.connection.table(name).aggregate(column_and_count, column)
        return dict(counted.fetchall())


def sql_files(*rooms: str) -> dict[str, str]:
    """The text of every relation of these rooms, by its name."""
    here = Path(__file__).parent
    files = (path for room in rooms for path in sorted((here / room).glob("*.sql")))
    return {path.stem: path.read_text(encoding="utf-8") for path in files}


def reads(statement: str) -> set[str]:
    """The relations named after `from` and `join` in a statement."""
    return set(re.findall(r"\b(?:from|join)\s+(\w+)", re.sub(r"--.*", "", statement)))
