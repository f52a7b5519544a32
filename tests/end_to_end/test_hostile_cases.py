"""Three hundred generated cases of harm; `python -m tests.end_to_end.hostile_cases` makes more."""

import io
import random
from pathlib import Path

import polars as pl
import pytest

from tests.end_to_end.hostile_cases import A_WEEK, check_folder, check_week, text_cases
from tests.end_to_end.hostile_containers import (
    A_FOLDER,
    HEAD,
    ROW,
    SHEET,
    book,
    containers,
    with_sheets,
    zipped,
)

FOLDERS, WEEKS, FEW = 2, 4, 20_000


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(FOLDERS))
def test_no_container_stops_a_check(seed: int, tmp_path: Path) -> None:
    for files in containers(A_FOLDER, seed, FEW):
        check_folder(files, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(WEEKS))
def test_no_text_in_any_column_does_harm(seed: int, tmp_path: Path) -> None:
    for cases in text_cases(A_WEEK, seed):
        check_week(cases, tmp_path)


def of_one_text() -> bytes:
    """A Parquet file of a few kB whose texts, written out, are 13 GB."""
    note = pl.repeat("x" * 130_000, 100_000, dtype=pl.Categorical, eager=True)
    made = io.BytesIO()
    pl.DataFrame({"athlete_id": pl.repeat("Q1", 100_000, eager=True), "note": note}).write_parquet(
        made
    )
    return made.getvalue()


def of_long_strings() -> bytes:
    """A workbook of some kB, each of whose cells holds the same long text."""
    parts = book()
    cells = b'<row><c t="s"><v>0</v></c></row>' * 100_000
    parts[SHEET] = parts[SHEET].replace(b"</sheetData>", cells + b"</sheetData>")
    text = b"<sst><si><t>" + b"x" * 30_000 + b"</t></si></sst>"
    return zipped({**parts, "xl/sharedStrings.xml": text})


def of_one_part() -> bytes:
    """A workbook all of whose sheets are one part of 20 MB."""
    parts = with_sheets(40)
    row = b"<row>" + b"<c><v>1</v></c>" * 8 + b"</row>"
    parts[SHEET] = parts[SHEET].replace(b"</sheetData>", row * 150_000 + b"</sheetData>")
    return zipped(parts)


def of_random_letters() -> bytes:
    """Text in which every letter takes two bytes and no row is like another."""
    dice = random.Random(3)
    notes = "".join(dice.choices("éàüßñøåçœ", k=1_000_000))
    rows = [",".join([*ROW[:5], notes[n : n + 40]]) for n in range(0, 900_000, 3)]
    return "\n".join([",".join(HEAD), *rows]).encode("utf-16")


BOMBS = {
    "text.parquet": of_one_text,
    "strings.xlsx": of_long_strings,
    "part.xlsx": of_one_part,
    "cells.csv": lambda: (",".join(HEAD) + "\n" + ",,,,,\n" * 3_000_000).encode(),
    "letters.csv": of_random_letters,
}


@pytest.mark.slow
def test_small_files_fill_no_memory(tmp_path: Path) -> None:
    check_folder({name: make() for name, make in BOMBS.items()}, tmp_path)
