"""Whom an id or a name means, and which refused rows name that person."""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Measure, full_catalogue
from pipeline.commands.console import refused_line
from pipeline.errors import SquadsidesError
from pipeline.team_tables import nearest

CELL_ENDS = re.compile(r"[,;\t|]")
FEW = 3  # refused rows told of somebody who is not in the roster


def find_athlete(text: str, athletes: pl.DataFrame, refused: pl.DataFrame) -> Mapping[str, Any]:
    """The row of `athletes` whose id this is, or the name of one alone.

    Case, spaces and the way a system spells accents do not matter where only one fits. Raises
    SquadsidesError naming whom it may mean, and the refused rows that say so.
    """
    # Without a roster somebody may have no name but the id.
    named = athletes.with_columns(pl.coalesce("name", "athlete_id").alias("name"))
    rows = named.sort("athlete_id").to_dicts()
    exact = [row for row in rows if row["athlete_id"] == text]
    ids = [row for row in rows if _plain(row["athlete_id"]) == _plain(text)]
    names = [row for row in rows if _plain(row["name"]) == _plain(text)]
    found = exact or ids or names
    if len(found) == 1:
        return found[0]
    if found:
        told = ", ".join(f"{row['athlete_id']} ({row['name']}, {row['squad']})" for row in found)
        raise SquadsidesError(f"{text} may be any of {told}; name one by the id as written here.")
    called = {
        **{row["name"]: row["athlete_id"] for row in rows},
        **{row["athlete_id"]: row["athlete_id"] for row in rows},
    }
    near = dict.fromkeys(called[one] for one in nearest(text, called, 3))
    said = f"{text} is not in the roster of these reports; nearest: {', '.join(near)}."
    lines = naming(refused, {"athlete_id": text, "name": text}).head(FEW)
    if lines.height:
        told = "\n".join(map(refused_line, lines.iter_rows(named=True)))
        said += f" Rows that were refused hold {text}:\n{told}"
    raise SquadsidesError(said)


def naming(refused: pl.DataFrame, who: Mapping[str, Any]) -> pl.DataFrame:
    """The refused rows that hold an athlete's id or name.

    A bare number may be any cell, so it counts in the first one alone.
    """
    own, name = _plain(who["athlete_id"]), _plain(who["name"])

    def is_named(original: str) -> bool:
        cells = [_plain(cell.strip('" ')) for cell in CELL_ENDS.split(original)]
        is_cell = any(who in (cells[:1] if who.isdigit() else cells) for who in (own, name))
        return is_cell or f'"{name}"' in _plain(original)  # quoted, as it holds a separator

    return refused.filter(
        pl.Series([is_named(text or "") for text in refused["original"]], dtype=pl.Boolean)
    )


def shown_refused(refused: pl.DataFrame, files: pl.DataFrame, measure: Measure) -> pl.DataFrame:
    """Of these refused rows those that may be about a measure: none that names another alone."""
    wanted = "training_log" if measure.is_record else "side_tests"
    kinds = {
        (file, sheet): kind
        for file, sheet, kind in files.select("file", "sheet", "kind").iter_rows()
    }
    book = full_catalogue()

    def is_about(row: Mapping[str, Any]) -> bool:
        if not (kinds.get((row["file"], row["sheet"])) or "").startswith(wanted):
            return False
        cells = [*CELL_ENDS.split(row["original"] or ""), row["column"] or ""]
        named = {book.find_measure(cell) for cell in cells} - {None}
        return measure.is_record or not named or measure.id in named

    kept = [is_about(row) for row in refused.iter_rows(named=True)]
    return refused.filter(pl.Series(kept, dtype=pl.Boolean))


def _plain(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())
