"""Export folders made inside a test, and what the intake says about them."""

import csv
import io
import os
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import xlsxwriter

from pipeline.__main__ import main
from pipeline.intake import Intake, read_exports
from pipeline.settings import Settings

ROSTER = """\
athlete_id,name,squad,sex,height_cm,body_mass_kg,dominant_hand,dominant_foot,known_side
A1,Ann Berg,Handball,female,170,64,right,left,left
A2,Bea Holm,Handball,female,175,70,left,right,
A3,Cid Vos,Gym,male,,,,,
"""
LONG = "athlete_id,tested_on,test,side,value"
WIDE = "athlete_id,tested_on,test,left,right"
Sheets = Mapping[str, Sequence[Sequence[Any]]]


def intake_of(
    folder: Path, files: Mapping[str, str | bytes | Sheets], settings: Settings | None = None
) -> Intake:
    """What the intake makes of these files; a roster is added where there is none."""
    if not any("roster" in name for name in files):
        files = {"roster.csv": ROSTER, **files}
    for name, content in files.items():
        data = content.encode() if isinstance(content, str) else content
        (folder / name).write_bytes(data if isinstance(data, bytes) else workbook(data))
    return read_exports(folder, settings or Settings())


def built(folder: Path, files: Mapping[str, str], *more: str) -> Path:
    """The reports folder of one build of these files, without PDFs, as a person types it."""
    exports, reports = folder / "exports", folder / "reports"
    exports.mkdir(parents=True)
    for name, text in files.items():
        (exports / name).write_text(text, encoding="utf-8")
    where = ["--exports", str(exports), "--reports", str(reports)]
    mask = os.umask(0o077)  # which the command sets for its own process
    try:
        assert main(["build", *where, "--skip-pdf", *more]) == 0
    finally:
        os.umask(mask)
    return reports


def listed(reports: Path, table: str) -> list[dict[str, str]]:
    """Rows of a CSV file of a reports folder."""
    with (reports / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def workbook(sheets: Sheets, hidden: Sequence[str] = ()) -> bytes:
    """An XLSX file with these sheets; dates become spreadsheet dates, pairs formula and result."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    days = book.add_format({"num_format": "dd/mm/yyyy"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        if name in hidden:
            sheet.hide()
        for line, row in enumerate(rows):
            for place, cell in enumerate(row):
                if isinstance(cell, date | datetime):
                    sheet.write_datetime(line, place, cell, days)
                elif isinstance(cell, tuple):
                    sheet.write_formula(line, place, cell[0], None, cell[1])
                elif cell is not None:
                    sheet.write(line, place, cell)
    book.close()
    return buffer.getvalue()


def refusals(intake: Intake) -> list[tuple[str, int, str, str, str]]:
    """file, line, column, value and reason of every refused row."""
    return intake.refused.select("file", "line", "column", "value", "reason").rows()


def counts(intake: Intake, file: str, sheet: str = "") -> tuple[int, int, int, int]:
    """Rows read, accepted, refused and repeated of one file and sheet."""
    row = intake.files.row(by_predicate=_is(file, sheet), named=True)
    return tuple(row[f"rows_{name}"] for name in ("read", "accepted", "refused", "repeated"))


def remark(intake: Intake, file: str, sheet: str = "") -> str:
    """The remark of one file and sheet."""
    return str(intake.files.row(by_predicate=_is(file, sheet), named=True)["remark"])


def values(intake: Intake) -> list[tuple[str, str, str, int, float]]:
    """athlete, measure, side, trial and value of every attempt, in that order."""
    columns = ["athlete_id", "measure", "side", "trial", "value"]
    return intake.trials.select(columns).sort(columns[:-1]).rows()


def _is(file: str, sheet: str) -> pl.Expr:
    return (pl.col("file") == file) & (pl.col("sheet") == sheet)
