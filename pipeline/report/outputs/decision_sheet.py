"""The decision sheet: every flag of the list to fill in at the meeting, and what was decided.


Dropped over the sheet before, it loses nothing: what runs is filled in with its day, what ended
stands beside it, and the second sheet holds every decision there ever was.
"""

from collections.abc import Mapping
from datetime import date, datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl

from pipeline.report.text.phrases import say
from schemas.vocabulary import Asked, Decision

if TYPE_CHECKING:
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

COLUMNS = [
    ("flag_id", 30), ("squad", 16), ("athlete", 22), ("test", 22), ("finding", 52),
    ("suggestion", 36), ("decision", 20), ("owner", 16), ("review_on", 13), ("note", 34),
    ("last_decision", 22), ("listed_on", 12), ("decided_on", 12), ("listed_decision", 16),
]  # fmt: skip
EARLIER = [
    ("flag_id", 30), ("decision", 22), ("owner", 16), ("review_on", 13), ("note", 40),
    ("listed_on", 12), ("decided_on", 12), ("listed_decision", 16),
]  # fmt: skip
TO_FILL_IN = ("decision", "owner", "review_on", "note")
DAY = "yyyy-mm-dd"
# What was written and starts nothing stands in its row as it was typed, so that it is not lost.
AS_TYPED = {Asked.UNREAD, Asked.NOTE_ALONE}


def write_decisions(path: Path, flags: pl.DataFrame, earlier: pl.DataFrame, as_of: date) -> None:
    """Write the workbook: one row per flag, decisions as a drop-down; `earlier` decisions beside.

    `flags` is what `flag_table` gives, spoken in the language of the reports, `earlier` what
    `history` gives.
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
    rows = [_row(flag, as_of) for flag in flags.iter_rows(named=True)]
    sheet = _filled(book, "decisions", COLUMNS, rows)
    _lists(sheet, len(rows))
    sheet.freeze_panes(1, 3)
    sheet.autofilter(0, 0, max(1, len(rows)), len(COLUMNS) - 1)
    sheet.activate()
    if not earlier.is_empty():
        before = earlier.rename({"said": "typed"}).with_columns(
            pl.coalesce("typed", "decision").alias("said")
        )
        past = [
            {**row, "decision": row["said"], "listed_decision": row["decision"]}
            for row in before.iter_rows(named=True)
        ]
        _filled(book, "earlier", EARLIER, past).freeze_panes(1, 1)
    book.close()
    path.write_bytes(sheet_bytes.getvalue())


def _row(flag: Mapping[str, Any], as_of: date) -> dict[str, Any]:
    """What stands in the row of a flag."""
    row = {
        **{name: flag[name] for name in ("flag_id", "squad", "test", "suggestion", "owner")},
        "athlete": flag["name"],
        "finding": flag["sentence"],
        "decision": flag["said"] or flag["decision"],
        "review_on": flag["review_on"] or flag["review_said"],
        "note": flag["decision_note"],
        "listed_on": as_of,
        "decided_on": flag["decided_on"],
        "listed_decision": _carried(flag),
        "last_decision": None,
    }
    if flag["last_decision"] is not None:
        row["last_decision"] = f"{flag['last_decision']}, {flag['last_decided_on']}"
    if AS_TYPED & set(flag["asked"]):
        typed = ("decision", "asked_said"), ("note", "asked_note"), ("owner", "asked_owner")
        row |= {name: flag[given] for name, given in typed}
        row |= {"review_on": None}
    return row


def _carried(flag: Mapping[str, Any]) -> str | None:
    """The decision that the day in the row belongs to: as it was made, not as it counts."""
    is_unnamed = Asked.WHO_CLEARED in flag["asked"]
    return str(Decision.CLEARED) if is_unnamed else flag["decision"]


def _filled(
    book: "Workbook", name: str, columns: list[tuple[str, int]], rows: list[dict[str, Any]]
) -> "Worksheet":
    """A sheet with its head and rows, ready to be printed."""
    sheet = book.add_worksheet(name)
    line = {"valign": "top", "bottom": 4, "bottom_color": "#bbbbbb"}
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "vcenter"})
    is_meeting = name == "decisions"
    for place, (title, width) in enumerate(columns):
        is_open = title in TO_FILL_IN and is_meeting
        look = {**line, "bg_color": "#f4f6f7"} if is_open else line
        is_day = title.endswith("_on")
        cell = book.add_format(
            {**look, "num_format": DAY} if is_day else {**look, "text_wrap": True}
        )
        sheet.set_column(place, place, width)
        sheet.write_string(0, place, title, head)
        for number, row in enumerate(rows, start=1):
            value = row[title]
            if isinstance(value, date):
                sheet.write_datetime(number, place, value, cell)
            elif value:
                sheet.write_string(number, place, str(value), cell)
            else:
                sheet.write_blank(number, place, None, cell)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    return sheet


def _lists(sheet: "Worksheet", count: int) -> None:
    """Drop-down lists for decisions; a word of one's own is warned of, not forbidden."""
    places = {title: place for place, (title, _) in enumerate(COLUMNS)}
    last = max(1, count)
    sheet.data_validation(
        1, places["decision"], last, places["decision"],
        {
            "validate": "list", "source": [str(one) for one in Decision], "ignore_blank": True,
            "error_type": "information", "error_title": say("decisions.title"),
            "error_message": say("decisions.list"),
        },
    )  # fmt: skip
    sheet.data_validation(
        1, places["review_on"], last, places["review_on"],
        {
            "validate": "date", "criteria": ">=", "value": date(2000, 1, 1), "ignore_blank": True,
            "error_type": "information", "error_title": say("decisions.title"),
            "error_message": say("decisions.day"),
        },
    )  # fmt: skip
