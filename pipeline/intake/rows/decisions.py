"""The sheets of meetings, filled in as hurried people do, into typed decisions.

A decision is read once, here: from now on it is a word of `Decision`, or nothing where it could
not be read. An unreadable part costs itself alone; only an id that no flag can have refuses a row.
"""

import re
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

import polars as pl

from pipeline.catalogue import catalogue, header_key
from pipeline.intake.parse import dates
from pipeline.intake.parse.day_words import NO_DAY, read_day, settled
from pipeline.intake.rows.film_review import LogReader, Rows
from pipeline.intake.rows.flag_ids import EXAMPLE, FlagNames
from schemas.vocabulary import Decision

ROWS = {
    "row": pl.UInt32,
    "flag_id": pl.String,
    "decision": pl.String,  # of `Decision`; null where it could not be read
    "said": pl.String,  # the cell as it was typed
    "step": pl.Int64,  # of a graded return, where one was named
    "owner": pl.String,
    "review_on": pl.Date,
    "review_said": pl.String,  # where it could not be read
    "note": pl.String,
    "listed_on": pl.Date,
    "decided_on": pl.Date,
    "listed_decision": pl.String,  # what stood when the list was made
    "is_fresh": pl.Boolean,  # the sheet says when decisions were made, and of this one nothing
}
FILLED_IN = ("decision", "owner", "review_on", "note")
EXPECTED = "expected " + ", ".join(Decision)
STEP = re.compile(r"\b(?:step|stage|phase)\s*#?([0-9]{1,2})\b")
DAY_IN_NAME = re.compile(
    r"(?<![0-9])(?:([0-9]{4})[-_.]?([0-9]{2})[-_.]?([0-9]{2})"
    r"|([0-9]{1,2})[.]([0-9]{1,2})[.]([0-9]{4}))(?![0-9])"
)


@dataclass(frozen=True)
class Review:
    """A day to look again: read, or why not."""

    day: date | None
    fault: str | None


def read_decisions(log: LogReader, names: FlagNames, file: str, as_of: date) -> Rows:
    """Typed rows of one sheet (columns of `ROWS`), faults and the rows read.

    A sheet that does not say of which day its list is has the day in its file's name, else the
    as-of date.
    """
    listed = log.days("listed_on").fill_null(day_in_name(file) or as_of)
    texts = {name: log.words(name).rows for name in ("flag_id", *FILLED_IN, "listed_decision")}
    decided_on = log.days("decided_on")
    is_read = log.is_filled(*FILLED_IN)
    knows_days = log.table.column("decided_on") is not None
    reviews = _reviews(log, listed)
    faults = _Faults(log)
    ids = names.read_all(texts["flag_id"])
    rows: list[dict[str, Any]] = []
    for row in is_read.arg_true():
        cells = {name: column[row] for name, column in texts.items()}
        flag_id, why = ids.get(cells["flag_id"] or "", (None, EXAMPLE))
        if flag_id is None:
            faults.add("flag_id", row, cells["flag_id"], why or "")
            continue
        decision = decision_of(cells["decision"])
        if decision is None and cells["decision"]:
            reason = f"is no decision that can be read; {EXPECTED}"
            faults.add("decision", row, cells["decision"], reason)
        elif decision is None:
            faults.add("decision", row, "", f"is blank beside a note, owner or day; {EXPECTED}")
        review = reviews[row]
        if review.fault is not None:
            faults.add("review_on", row, cells["review_on"], review.fault)
        before = decision_of(cells["listed_decision"])
        rows.append(
            {
                **cells,
                "row": row,
                "flag_id": flag_id,
                "decision": decision,
                "said": cells["decision"],
                "step": step_of(cells["decision"]) or step_of(cells["note"]),
                "review_on": review.day,
                "review_said": cells["review_on"] if review.fault else None,
                "listed_on": listed[row],
                "decided_on": decided_on[row],
                "listed_decision": before,
                "is_fresh": knows_days and decided_on[row] is None and before is None,
            }
        )
    faults.tell()
    return log.finished(pl.DataFrame(rows, schema=ROWS), is_read)


def decision_of(text: str | None) -> Decision | None:
    """What a cell decides: the first word says so, whatever follows is a remark."""
    if not text:
        return None
    words = _spellings()
    plain = text.strip().lstrip("\"'([-–—*•>→ ").casefold()
    first = re.split(r"[\s,;:.!?/()+&=>–—]+", plain, maxsplit=1)[0]
    two = " ".join(re.split(r"[\s,;:.!?]+", plain)[:2])
    keys = (plain, two, first, re.split(r"[^\w]+", first)[0])
    return next((words[key] for text in keys if (key := header_key(text)) in words), None)


@cache
def _spellings() -> dict[str, Decision]:
    return {
        header_key(spelling): Decision(name)
        for name, spellings in catalogue().headers.words["decision"].items()
        for spelling in (name, *spellings)
    }


def step_of(text: str | None) -> int | None:
    """The step of a graded return that is named, from 1 to 5."""
    found = STEP.search((text or "").casefold())
    return int(found[1]) if found and 1 <= int(found[1]) <= 5 else None


def day_in_name(file: str) -> date | None:
    """The day in a file's name, such as decisions_2026-11-27.xlsx."""
    for found in DAY_IN_NAME.finditer(file):
        year, month, day = found.groups()[:3] if found[1] else found.groups()[:2:-1]
        try:
            return date(int(year), int(month), int(day))
        except ValueError:
            continue
    return None


def _reviews(log: LogReader, listed: pl.Series) -> list[Review]:
    """The day to look again of each row of the table."""
    words, reader = log.words("review_on"), log.reader
    read = dates.read_dates(words.texts, reader.order, dates.TESTS, not reader.delimiter)
    full = dict(zip(words.texts, read["date"], strict=True))
    whole = [text for text in words.texts.drop_nulls() if full[text] is None]
    order = settled(whole, reader.order)
    is_known = order != reader.order or _is_settled(log) or settled(whole, "either") != "either"
    found = []
    for text, after in zip(words.rows, listed, strict=True):
        if text is None or full[text] is not None:
            found.append(Review(None if text is None else full[text], None))
            continue
        day = read_day(text, after, order, is_order_known=is_known)
        if isinstance(day, date):
            found.append(Review(day, None))
        else:
            why = dict(zip(words.texts, read["fault"], strict=True))[text] if day == NO_DAY else day
            found.append(Review(None, why if why and "can" in why else day))
    return found


def _is_settled(log: LogReader) -> bool:
    """Whether days with a year say what comes first in this table."""
    names = ("review_on", "listed_on", "decided_on")
    texts = pl.concat([log.words(name).texts.drop_nulls() for name in names])
    pairs = texts.str.extract_groups(r"^([0-9]{1,2})[-/]([0-9]{1,2})[-/][0-9]{2,4}").struct.unnest()
    first, second = (pairs[name].cast(pl.Int64).drop_nulls() for name in ("1", "2"))
    return bool((first > 12).any() or (second > 12).any())


class _Faults:
    """Cells that cannot be read, collected by column."""

    def __init__(self, log: LogReader) -> None:
        self.log = log
        self.found: dict[str, list[tuple[int, str, str]]] = {}

    def add(self, name: str, row: int, value: str | None, reason: str) -> None:
        self.found.setdefault(name, []).append((row, value or "", reason))

    def tell(self) -> None:
        for name, found in self.found.items():
            column = self.log.table.column(name)
            if column is None:
                continue
            rows, values, reasons = zip(*found, strict=True)
            self.log.faults.add(
                column, pl.Series(rows, dtype=pl.UInt32), pl.Series(values, dtype=pl.String),
                pl.Series(reasons, dtype=pl.String),
            )  # fmt: skip
