"""The tables of the reports folder: CSV files for whoever reads on, and the decision sheet."""

from collections.abc import Mapping
from datetime import date, datetime
from io import BytesIO
from pathlib import Path

import polars as pl

from pipeline.plan.block import Block
from pipeline.plan.rows import PLAN_ROW
from pipeline.report.phrases import language, say
from pipeline.report.points import points
from pipeline.report.words import NBSP
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from pipeline.warehouse import Warehouse

FLAG_COLUMNS = [
    "flag_id", "squad", "athlete_id", "measure", "reason", "lower_side", "estimate", "low90",
    "high90", "unit", "chance_over_line", "first_flagged_on", "weeks_open", "decision",
    "suggestion",
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
DECISIONS = ["train", "retest", "accept as structural", "refer", "wait"]


def write_tables(folder: Path, warehouse: Warehouse, as_of: date) -> None:
    """Write the CSV tables and decisions.xlsx."""
    for file, (table, columns) in TABLES.items():
        _write(warehouse.fetch(table).select(columns), folder / file)
    write_decisions(folder / "decisions.xlsx", warehouse.fetch("mart_flags"), as_of)


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


def write_decisions(path: Path, flags: pl.DataFrame, as_of: date) -> None:
    """The sheet to fill in at the meeting: one row per flag, decisions as a drop-down.

    What was decided before stands in it with its day, and once more in `listed_decision`: that day
    is read back only as long as the decision is the same.
    `flags` is what `flag_table` gives, spoken in the language of the reports.
    """
    import xlsxwriter

    sheet_bytes = BytesIO()  # written in one piece, so that no part of it lies in another folder
    book = xlsxwriter.Workbook(
        sheet_bytes,
        {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False},
    )
    # A fixed date: the same week gives the same bytes on any day.
    book.set_properties(
        {
            "created": datetime(as_of.year, as_of.month, as_of.day),
            "title": say("decisions.title"),
        }
    )
    sheet = book.add_worksheet("decisions")
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "vcenter"})
    cell = book.add_format(
        {"text_wrap": True, "valign": "top", "bottom": 4, "bottom_color": "#bbbbbb"}
    )
    open_cell = book.add_format(
        {
            "text_wrap": True,
            "valign": "top",
            "bottom": 4,
            "bottom_color": "#bbbbbb",
            "bg_color": "#f4f6f7",
        }
    )
    date_cell = book.add_format(
        {
            "num_format": "yyyy-mm-dd",
            "valign": "top",
            "bottom": 4,
            "bottom_color": "#bbbbbb",
            "bg_color": "#f4f6f7",
        }
    )
    listed = book.add_format(
        {
            "num_format": "yyyy-mm-dd",
            "valign": "top",
            "bottom": 4,
            "bottom_color": "#bbbbbb",
            "font_color": "#888888",
        }
    )
    columns = [
        ("flag_id", 30), ("squad", 16), ("athlete", 22), ("test", 22), ("finding", 52),
        ("suggestion", 36), ("decision", 20), ("owner", 16), ("review_on", 13), ("note", 34),
        ("listed_on", 12), ("decided_on", 12), ("listed_decision", 16),
    ]  # fmt: skip
    for place, (title, width) in enumerate(columns):
        sheet.set_column(place, place, width)
        sheet.write_string(0, place, title, head)
    for line, flag in enumerate(flags.iter_rows(named=True), start=1):
        texts = [
            flag["flag_id"], flag["squad"], flag["name"], flag["test"], flag["sentence"],
            flag["suggestion"],
        ]  # fmt: skip
        for place, text in enumerate(texts):
            sheet.write_string(line, place, text or "", cell)
        for place, name in ((6, "decision"), (7, "owner"), (9, "decision_note")):
            sheet.write_string(line, place, flag[name] or "", open_cell)
        sheet.write_datetime(line, 10, as_of, listed)
        if flag["decided_on"] is not None:
            sheet.write_datetime(line, 11, flag["decided_on"], listed)
        sheet.write_string(line, 12, flag["decision"] or "", listed)
        if flag["review_on"] is None:
            sheet.write_blank(line, 8, None, date_cell)
        else:
            sheet.write_datetime(line, 8, flag["review_on"], date_cell)
    last = max(1, flags.height)
    sheet.data_validation(
        1, 6, last, 6, {"validate": "list", "source": DECISIONS, "ignore_blank": True}
    )
    sheet.freeze_panes(1, 3)
    sheet.autofilter(0, 0, last, len(columns) - 1)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    book.close()
    path.write_bytes(sheet_bytes.getvalue())
