"""The warehouse: frames in, one table per SQL file, frames out."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from graphlib import TopologicalSorter
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import polars as pl

from pipeline.errors import SquadsidesError

SQL_FOLDERS = [Path(__file__).parent / "staging", Path(__file__).parent / "marts"]


ROW_GROUP = 122_880  # rows DuckDB stores in one piece, each on a core of its own
PART = "part"


class _Stream:
    """A frame seen as an Arrow stream, which DuckDB reads without any further library."""

    def __init__(self, frame: pl.DataFrame) -> None:
        starts = range(0, max(frame.height, 1), ROW_GROUP)
        whole = frame.rechunk()
        self.frame = pl.concat([whole.slice(at, ROW_GROUP) for at in starts], rechunk=False)

    def __arrow_c_stream__(self, requested_schema: object = None) -> Any:
        return self.frame.__arrow_c_stream__(requested_schema)


def _unwritable(broken: duckdb.Error) -> SquadsidesError:
    why = str(broken).rpartition(": ")[2]
    return SquadsidesError(f"The warehouse cannot be written or opened: {why}.")


# What DuckDB raises where the disk, not the data, is to blame.
DISK = (duckdb.IOException, duckdb.TransactionException, duckdb.FatalException)


class Warehouse:
    """A DuckDB file while it is being built; tables are `raw_`, `ref_`, `stg_` and `mart_`.

    Tables can be made part by part, each of some squads, so that memory does not grow with the
    number of squads. What is made outside of a part is of all of them.
    """

    def __init__(self, path: Path | None = None, *, read_only: bool = False) -> None:
        self.writes = path is not None and not read_only
        self.part_tables: set[str] | None = None  # while a part is being made
        try:
            self.connection = duckdb.connect(
                ":memory:" if path is None else str(path), read_only=read_only
            )
        except duckdb.IOException as broken:
            raise _unwritable(broken) from None
        self.name = path.stem if path else "memory"  # as DuckDB calls it

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
        except DISK as broken:
            raise _unwritable(broken) from None
        finally:
            self.connection.close()
        if isinstance(error, DISK):
            raise _unwritable(error) from None
        if isinstance(error, RuntimeError) and "Query interrupted" in str(error):
            raise KeyboardInterrupt from None  # DuckDB takes Ctrl-C for an error of its own

    @contextmanager
    def part(self) -> Iterator[None]:
        """What is made inside stays in memory until its end, and then joins the earlier parts'."""
        self.connection.execute(f"attach ':memory:' as {PART}")
        self.connection.execute(f"set search_path = '{PART}.main,{self.name}.main'")
        self.part_tables = set()
        yield
        self.connection.execute(f"set search_path = '{self.name}.main'")
        for table in sorted(self.part_tables):
            new = f"{PART}.main.{table}"
            self.connection.execute(f"create table if not exists {table} as from {new} limit 0")
            self.connection.execute(f"insert into {table} from {new}")
        self.connection.execute(f"detach {PART}")
        self.part_tables = None

    def load(self, name: str, frame: pl.DataFrame) -> None:
        """Store a frame as table `name`; a table of that name is replaced."""
        self.connection.register("incoming", _Stream(frame))
        self._create(name, "select * from incoming")
        self.connection.unregister("incoming")

    def build(self) -> list[str]:
        """Create one table per SQL file after the tables it reads; return their names in order.

        Of those that read nothing of a part there is one for all parts.
        """
        statements = sql_files()
        readings = {name: reads(text) for name, text in statements.items()}
        sorter = TopologicalSorter(
            {name: readings[name] & statements.keys() for name in statements}
        )
        order = list(sorter.static_order())
        for name in order:
            if self.part_tables is None or readings[name] & self.part_tables:
                self._create(name, statements[name])
            else:
                table = f"{self.name}.main.{name}"
                self.connection.execute(f"create table if not exists {table} as {statements[name]}")
        return order

    def fetch(self, name: str) -> pl.DataFrame:
        """Read table `name` as a frame."""
        return pl.DataFrame(self.connection.table(name))

    def _create(self, name: str, statement: str) -> None:
        self.connection.execute(f"create or replace table {name} as {statement}")
        if self.part_tables is not None:
            self.part_tables.add(name)


def sql_files() -> dict[str, str]:
    """The text of every relation, by its name."""
    files = (path for folder in SQL_FOLDERS for path in sorted(folder.glob("*.sql")))
    return {path.stem: path.read_text(encoding="utf-8") for path in files}


def reads(statement: str) -> set[str]:
    """The relations named after `from` and `join` in a statement."""
    return set(re.findall(r"\b(?:from|join)\s+(\w+)", re.sub(r"--.*", "", statement)))
