"""The tables of the reports folder: CSV files for whoever reads on, and the decision sheet."""

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.plan.block import Block
from pipeline.plan.rows import PLAN_ROW
from pipeline.report.outputs.decision_sheet import write_decisions
from pipeline.report.sections.attempted_points import points
from pipeline.report.text.phrases import language
from pipeline.report.text.words import NBSP
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from pipeline.warehouse import Warehouse

FLAG_COLUMNS = [
    "flag_id", "squad", "athlete_id", "subject", "reason", "lower_side", "estimate", "low90",
    "high90", "unit", "chance_over_line", "first_flagged_on", "weeks_open", "decision",
    "suggestion", "status", "decided_on", "owner", "review_on",
]  # fmt: skip
ASYMMETRY_COLUMNS = [
    "squad", "athlete_id", "measure", "last_tested_on", "session_count", "left_trial_count",
    "right_trial_count", "left_value", "right_value", "value_unit", "formula", "observed",
    "estimate", "low90", "high90", "unit", "lower_side", "typical_error", "mdc95", "review_line",
    "chance_over_line", "chance_closing", "verdict",
]  # fmt: skip
INTAKE_COLUMNS = [
    "file", "sheet", "sha256", "kind", "rows_read", "rows_accepted", "rows_refused",
    "rows_repeated", "remark",
]  # fmt: skip
REFUSED_COLUMNS = ["file", "sheet", "line", "column", "value", "reason", "original", "row_kept"]
TABLES = {
    "flags.csv": ("mart_flags", FLAG_COLUMNS),
    "asymmetries.csv": ("mart_findings", ASYMMETRY_COLUMNS),
    "intake.csv": ("raw_files", INTAKE_COLUMNS),
    "refused_rows.csv": ("raw_refused", REFUSED_COLUMNS),
    "plans.csv": ("mart_plans", list(PLAN_ROW)),
}
HEADERS = {"subject": "measure"}  # columns whose heads in the tables are other ones
# What begins a formula, and before it where cells begin: the start, and marks between cells in
# other countries. Old programs pass over spaces, and the fullwidth signs stand for the others.
SIGNS = "=+\\-@＝＋－＠"
FORMULA = rf"^[\t\r\n]|(?:^|[;\t\r\n])\s*[{SIGNS}]"
BEGINS = re.compile(rf"(^|[;\t\r\n])([^\S\t\r\n]*[{SIGNS}])")
NUMBER = re.compile(r"\s*[-+][0-9][0-9.,]*(?=\s*(?:[;\t\r\n]|$))")


def write_tables(folder: Path, warehouse: Warehouse, as_of: date) -> None:
    """Write the CSV tables and decisions.xlsx."""
    for file, (table, columns) in TABLES.items():
        _write(warehouse.fetch(table).select(columns).rename(HEADERS, strict=False), folder / file)
    earlier = warehouse.fetch("mart_decision_history")
    write_decisions(folder / "decisions.xlsx", warehouse.fetch("mart_flags"), earlier, as_of)


def flag_table(
    week: Week, blocks: Mapping[str, Block], unmade: Unmade = LET_THROUGH
) -> pl.DataFrame:
    """The flags with the texts a meeting reads: name, test, sentence and suggestion.

    Accepted ones stand last in each squad.
    """
    language(week.settings.report.language).speak()
    names = dict(week.athletes.select("athlete_id", "name").iter_rows())
    listed = pl.concat([week.flags, week.accepted]).sort(
        "squad", "is_accepted", maintain_order=True
    )
    said = points(listed, blocks, week, unmade)
    return listed.with_columns(
        pl.Series("sentence", [f"{p.sentence} {p.sureness}".strip() for p in said], pl.String),
        pl.Series("suggestion", [p.suggestion for p in said], pl.String),
        pl.Series("name", [names[who] for who in listed["athlete_id"]], pl.String),
        pl.Series("test", [p.test for p in said], pl.String),
    )


def _write(frame: pl.DataFrame, path: Path) -> None:
    """CSV in UTF-8; numbers keep four decimals, what is so or not reads yes or no.

    A text that a spreadsheet would run as a formula is written with an apostrophe before it, also
    behind a mark at which a spreadsheet of other settings begins a cell, and the fixed spaces of
    the printed sentences become ordinary ones.
    """
    said = pl.when(pl.selectors.boolean()).then(pl.lit("yes")).otherwise(pl.lit("no"))
    number = pl.selectors.float().round(4)
    never_minus = pl.when(number == 0).then(0.0).otherwise(number)  # nothing has no sign
    rounded = frame.with_columns(never_minus.name.keep(), said.name.keep())
    plain = rounded.with_columns(pl.selectors.string().str.replace_all(NBSP, " "))
    texts = [name for name, kind in plain.schema.items() if kind == pl.String]
    risky = [name for name in texts if plain[name].str.contains(FORMULA).any()]
    safe = plain.with_columns(
        pl.when(pl.col(name).str.contains(FORMULA))
        .then(pl.col(name).map_elements(_as_text, return_dtype=pl.String, skip_nulls=True))
        .otherwise(name)
        .alias(name)
        for name in risky
    )
    path.write_text(safe.write_csv(), encoding="utf-8", newline="\n")


def _as_text(cell: str) -> str:
    def marked(found: re.Match[str]) -> str:
        is_number = found[1] and NUMBER.match(cell, found.start(2))
        return found[0] if is_number else f"{found[1]}'{found[2]}"

    begun = BEGINS.sub(marked, cell)
    return f"'{begun}" if begun.startswith(("\t", "\r", "\n")) else begun
