"""Exports as text, one build of them as a person types it, and what lies in the reports then."""

import csv
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.__main__ import main

Row = dict[str, str]


@dataclass(frozen=True)
class Reports:
    """What one build left: its exit status, what it printed, and its folder."""

    status: int
    printed: str
    folder: Path

    def table(self, name: str) -> list[Row]:
        """Rows of a CSV file of the reports folder."""
        with (self.folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    def fetch(self, relation: str, *columns: str) -> list[tuple[Any, ...]]:
        """These columns of a relation of the warehouse, in their own order."""
        with duckdb.connect(str(self.folder / "warehouse.duckdb"), read_only=True) as warehouse:
            return warehouse.sql(
                f"select {', '.join(columns)} from {relation} order by all"
            ).fetchall()

    def counts(self, file: str) -> dict[str, int]:
        """Rows read, accepted, refused and repeated of one file."""
        (row,) = (row for row in self.table("intake") if row["file"] == file)
        names = ("read", "accepted", "refused", "repeated")
        return {name: int(row[f"rows_{name}"]) for name in names}

    def kept(self) -> list[tuple[str, str]]:
        """Column and text of the cells that could not be read while their row was."""
        rows = [row for row in self.table("refused_rows") if row["row_kept"] == "yes"]
        return sorted((row["column"], row["value"]) for row in rows)

    def refused(self) -> list[tuple[str, int]]:
        """File and line of the rows that were refused."""
        rows = [row for row in self.table("refused_rows") if row["row_kept"] != "yes"]
        return sorted((row["file"], int(row["line"])) for row in rows)


def write(folder: Path, files: Mapping[str, str]) -> Path:
    """These files, by name, in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def build(
    folder: Path, files: Mapping[str, str], capsys: pytest.CaptureFixture[str], *more: str
) -> Reports:
    """One build of these files without PDFs, in an own folder below `folder`."""
    number = sum(1 for _ in folder.glob("build_*"))
    exports = write(folder / f"build_{number}" / "exports", files)
    return run(exports, exports.parent / "reports", capsys, *more)


def run(exports: Path, reports: Path, capsys: pytest.CaptureFixture[str], *more: str) -> Reports:
    """`python -m pipeline build --skip-pdf`, in this process."""
    mask = os.umask(0o077)  # which the command sets for its own process
    capsys.readouterr()
    try:
        status = main(
            ["build", "--exports", str(exports), "--reports", str(reports), "--skip-pdf", *more]
        )
    finally:
        os.umask(mask)
    told = capsys.readouterr()
    return Reports(status, told.out + told.err, reports)
