"""The tables of the reports folder: CSV files for whoever reads on, and the decision sheet."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.plan.block import Block
from pipeline.plan.rows import PLAN_ROW
from pipeline.report.decision_sheet import write_decisions
from pipeline.report.phrases import language
from pipeline.report.points import points
from pipeline.report.words import NBSP
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from pipeline.warehouse import Warehouse

FLAG_COLUMNS = [
    "flag_id", "squad", "athlete_id", "measure", "reason", "lower_side", "estimate", "low90",
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


def write_tables(folder: Path, warehouse: Warehouse, as_of: date) -> None:
    """Write the CSV tables and decisions.xlsx."""
    for file, (table, columns) in TABLES.items():
        _write(warehouse.fetch(table).select(columns), folder / file)
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

    A text that a spreadsheet would run as a formula is written with an apostrophe before it, and
    the fixed spaces of the printed sentences become ordinary ones.
    """
    said = pl.when(pl.selectors.boolean()).then(pl.lit("yes")).otherwise(pl.lit("no"))
    number = pl.selectors.float().round(4)
    never_minus = pl.when(number == 0).then(0.0).otherwise(number)  # nothing has no sign
    rounded = frame.with_columns(never_minus.name.keep(), said.name.keep())
    plain = rounded.with_columns(pl.selectors.string().str.replace_all(NBSP, " "))
    safe = plain.with_columns(
        pl.when(pl.selectors.string().str.contains(r"^[=+\-@\t\r\n＝＋－＠]"))
        .then(pl.lit("'") + pl.selectors.string())
        .otherwise(pl.selectors.string())
        .name.keep()
    )
    path.write_text(safe.write_csv(), encoding="utf-8", newline="\n")
