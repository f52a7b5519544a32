"""What was read of one athlete and measure: trials, cells without a value, rows kept out."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import expm1
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.commands.console import refused_line

SHOWN_REFUSED = 10


@dataclass(frozen=True)
class Rows:
    """Rows of one athlete and measure, as the tables of their names hold them."""

    trials: pl.DataFrame  # stg_trials with a value
    untested: pl.DataFrame  # raw_trials without one: what was said of a side that was not tested
    doubts: pl.DataFrame  # raw_doubts that hold rows of any file out
    refused: pl.DataFrame  # raw_refused that may be about them

    def is_empty(self) -> bool:
        """Whether nothing was read, not even in vain."""
        return all(part.is_empty() for part in (self.trials, self.untested, self.refused))

    def held_files(self) -> set[tuple[str, str]]:
        """File and sheet of each whole-file doubt."""
        return {_place(row) for row in self.doubts.iter_rows(named=True)}


def trial_lines(rows: Rows, measure: Measure) -> list[str]:
    """A line for each trial with its score, and for each cell that says more than a value."""
    lines = [f"Trials ({measure.unit}), and the score of each on the scale of the estimate:"]
    held = rows.held_files()
    told = [(_order(row), _trial_line(row, held)) for row in rows.trials.iter_rows(named=True)]
    told += [(_order(row), _untested_line(row)) for row in rows.untested.iter_rows(named=True)]
    return [*lines, *(line for _, line in sorted(told)), *(() if told else ("  none",)), ""]


def held_lines(rows: Rows) -> list[str]:
    """Why trials are held out of the estimates, and how that ends."""
    files = {
        (row["source_file"], row["source_sheet"] or "")
        for row in rows.trials.filter("held").iter_rows(named=True)
    }
    told = [
        f"  {_named(*_place(row))}: {row['message']}"
        for row in rows.doubts.iter_rows(named=True)
        if _place(row) in files
    ]
    return ["Held out of the estimates:", *told, ""] if told else []


def refused_lines(rows: Rows) -> list[str]:
    """The rows and cells of this person that could not be read and may be about the measure."""
    if rows.refused.is_empty():
        return []
    shown = rows.refused.head(SHOWN_REFUSED).iter_rows(named=True)
    more = rows.refused.height - SHOWN_REFUSED
    return [
        "Could not be read:",
        *map(refused_line, shown),
        *([f"  … and {more} more (refused_rows.csv)."] if more > 0 else []),
        "",
    ]


def _trial_line(row: Mapping[str, Any], held_files: set[tuple[str, str]]) -> str:
    is_in_doubt = (row["source_file"], row["source_sheet"] or "") in held_files
    marks = [
        text
        for holds, text in (
            (row["is_derived"], "computed from its parts"),
            (row["held"] and is_in_doubt, "held out: whole-file doubt"),
            (row["held"] and not is_in_doubt, "held out: its parts give an impossible value"),
            (row["score"] is None, "no score: zero has no logarithm"),
            (row["score"] is not None and not row["shapes"], "scored, but shapes nothing"),
            (row["step"] > 0, f"the next load is {100 * expm1(row['step']):.0f} % more"),
            *_said(row),
        )
        if holds
    ]
    score = "" if row["score"] is None else f"{row['score']:+.5f}"
    note = f"  ({'; '.join(marks)})" if marks else ""
    return f"{_beginning(row)}  {row['value']:10.4g}  {score:>10}  {_source(row)}{note}"


def _untested_line(row: Mapping[str, Any]) -> str:
    marks = "; ".join(text for holds, text in _said(row) if holds)
    note = f"  ({marks})" if marks else ""
    return f"{_beginning(row)}  not tested  {'':>10}  {_source(row)}{note}"


def _said(row: Mapping[str, Any]) -> list[tuple[bool, str]]:
    """Pain and note of a row, each with whether there is any."""
    pain, note = row["pain"] or 0, row["note"] or ""
    return [(pain > 0, f"pain {pain:g}"), (note != "", f"note “{note}”")]


def _beginning(row: Mapping[str, Any]) -> str:
    trial = "" if row["trial"] is None else row["trial"]
    return f"  {row['tested_on']}  {row['side'] or '':<5} {trial}"


def _order(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return row["tested_on"], row["side"] or "", row["trial"] or 0


def _source(row: Mapping[str, Any]) -> str:
    return f"{_named(row['source_file'], row['source_sheet'] or '')}, line {row['source_line']}"


def _named(file: str, sheet: str) -> str:
    return f"{file} [{sheet}]" if sheet else file


def _place(row: Mapping[str, Any]) -> tuple[str, str]:
    return row["file"], row["sheet"] or ""
