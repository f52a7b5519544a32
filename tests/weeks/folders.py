"""One build of a folder with all its page models, which are kept instead of being printed."""

import pickle
from concurrent.futures import Executor, Future
from contextlib import nullcontext
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any
from unittest.mock import patch

import duckdb
import polars as pl

from pipeline.build import build
from pipeline.intake import read_exports
from pipeline.last_build import Request
from pipeline.last_lines import Summary
from pipeline.report.page_models import UnmadePage
from pipeline.report.pdf.render import Printed, render
from pipeline.settings import Settings
from pipeline.unmade import attempt
from pipeline.warehouse.database import Warehouse
from tests.conftest import Quiet


@dataclass
class Kept(Executor):
    """Takes pages to print and keeps their models, in the order in which they come."""

    pages: list[Any] = field(default_factory=list)

    def submit(self, work: Any, /, *given: Any, **named: Any) -> Future[Any]:
        """Keep the page; whatever else is to be done is left undone."""
        job: Future[Any] = Future()
        if work is attempt:
            work, *given = given  # type: ignore[assignment]
        if work is render:
            page = pickle.loads(given[0])
            if not isinstance(page, UnmadePage):  # of which the summary tells
                self.pages.append(page)
        job.set_result(Printed(b"%PDF", frozenset()) if work is render else None)
        return job


@dataclass(frozen=True)
class Made:
    """A finished build: its folder, its summary, and the model of every page."""

    reports: Path
    summary: Summary
    pages: tuple[Any, ...]

    def rows(self, relation: str) -> list[dict[str, str]]:
        """The rows of a relation as they lie there, as text."""
        with duckdb.connect(str(self.reports / "warehouse.duckdb"), read_only=True) as warehouse:
            found = warehouse.table(relation)
            return [
                {
                    name: "" if cell is None else str(cell)
                    for name, cell in zip(found.columns, row, strict=True)
                }
                for row in found.fetchall()
            ]

    def fetch(self, query: str) -> list[tuple[Any, ...]]:
        """Rows of the warehouse."""
        with duckdb.connect(str(self.reports / "warehouse.duckdb"), read_only=True) as warehouse:
            return warehouse.sql(query).fetchall()


def made(
    exports: Path, reports: Path, as_of: date | None = None, settings: Settings | None = None
) -> Made:
    """Build a folder in this process; every page is made, none is printed."""
    kept = Kept()
    with patch("pipeline.parts.places.printers", lambda *_: nullcontext(kept)):
        summary = build(
            exports, reports, settings or Settings(), Quiet(), Request(as_of=as_of), workers=1
        )
    return Made(reports, summary, tuple(kept.pages))


@dataclass(frozen=True)
class Taken:
    """What the intake alone makes of a folder: its tables, and its two lists of rows."""

    reports: Path
    warehouse: Warehouse

    def fetch(self, query: str) -> list[tuple[Any, ...]]:
        """Rows of the warehouse."""
        return self.warehouse.connection.sql(query).fetchall()


def taken(exports: Path, reports: Path) -> Taken:
    """Read a folder and make nothing of it: a twentieth of a build's time."""
    intake = read_exports(exports, Settings())
    found = Taken(reports, Warehouse())
    for name in ("roster", "trials", "sets"):
        found.warehouse.load(f"raw_{name}", getattr(intake, name))
    reports.mkdir(parents=True)
    intake.files.write_csv(reports / "intake.csv")
    kept = pl.when("row_kept").then(pl.lit("yes")).otherwise(pl.lit("no")).alias("row_kept")
    intake.refused.with_columns(kept).write_csv(reports / "refused_rows.csv")
    return found
