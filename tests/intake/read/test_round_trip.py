"""Whatever dialect a valid table is written in, the same rows come back."""

import csv
import io
import tempfile
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.catalogue import catalogue
from tests.intake.exports import intake_of, workbook

pytestmark = pytest.mark.slow  # thousands of tables

SPELLINGS = {
    "athlete_id": ["athlete_id", "Athlete ID", "ATHLETE", "Player-Id", "id"],
    "tested_on": ["tested_on", "Date", "Test date", "TESTED ON"],
    "test": ["test", "Test name", "measure", "Metric"],
    "side": ["side", "Side", "limb", "L/R"],
    "value": ["value", "Result", "VALUE", "score"],
    "trial": ["trial", "Attempt", "Trial no."],
    "note": ["note", "Comments", "remarks"],
}
SIDES = {"left": ["left", "L", "Left ", "lt"], "right": ["right", "R", "RIGHT", "rt"]}
TESTS = {"single_hop": (20, 350), "grip_strength": (5, 100), "side_plank_hold": (1, 600)}
# The note column draws what spreadsheets let people type.
NOTES = st.text(
    st.characters(categories=["L", "N", "P", "Zs"], include_characters="\n", max_codepoint=0xFF),
    max_size=12,
).map(str.strip)
Row = tuple[str, date, str, str, int, float, str]


@dataclass(frozen=True)
class Dialect:
    """How a table is written down."""

    delimiter: str
    encoding: str
    newline: str
    decimal: str
    day: str
    titles: int
    quote_all: bool


ROWS = st.lists(
    st.tuples(
        st.sampled_from(["A1", "A2", "A3"]),
        st.integers(0, 400).map(lambda days: date(2023, 1, 1) + timedelta(days=days)),
        st.sampled_from(sorted(TESTS)),
        st.sampled_from(["left", "right"]),
        st.integers(1, 9),
        st.integers(2000, 9900).map(lambda hundredths: hundredths / 100),
        NOTES,
    ),
    min_size=1,
    max_size=12,
    unique_by=lambda row: row[:5],
)
DIALECTS = st.builds(
    Dialect,
    delimiter=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    newline=st.sampled_from(["\n", "\r\n"]),
    decimal=st.sampled_from([".", ","]),
    day=st.sampled_from(["%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%d %b %Y"]),
    titles=st.integers(0, 2),
    quote_all=st.booleans(),
)
LAYOUTS = st.tuples(
    st.permutations(sorted(SPELLINGS)),
    st.fixed_dictionaries({name: st.sampled_from(words) for name, words in SPELLINGS.items()}),
)
QUICKLY = settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)


def cells_of(row: Row, dialect: Dialect) -> dict[str, str]:
    athlete, day, test, side, trial, value, note = row
    number = f"{value:.2f}".replace(".", dialect.decimal)
    spelled = SIDES[side][trial % 4]
    return {
        "athlete_id": athlete, "tested_on": day.strftime(dialect.day), "test": test,
        "side": spelled, "trial": str(trial), "value": number, "note": note,
    }  # fmt: skip


def written(rows: list[Row], dialect: Dialect, order: list[str], names: dict[str, str]) -> bytes:
    """The rows as a text file; the last one has a day that settles day-first or month-first."""
    buffer = io.StringIO()
    quoting: Any = csv.QUOTE_ALL if dialect.quote_all else csv.QUOTE_MINIMAL
    writer = csv.writer(
        buffer, delimiter=dialect.delimiter, lineterminator=dialect.newline, quoting=quoting
    )
    for number in range(dialect.titles):
        writer.writerow([f"Tests of group {number}"])
    writer.writerow([names[name] for name in order])
    for row in rows:
        cells = cells_of(row, dialect)
        writer.writerow([cells[name] for name in order])
    return buffer.getvalue().encode(dialect.encoding)


def read_back(files: dict[str, Any]) -> list[tuple[Any, ...]]:
    with tempfile.TemporaryDirectory() as folder:
        intake = intake_of(Path(folder), files)
    assert intake.refused.is_empty(), intake.refused["reason"].to_list()
    columns = ["athlete_id", "tested_on", "measure", "side", "trial", "value", "note"]
    return sorted(intake.trials.select(columns).rows(), key=lambda row: row[:5])


def expected(rows: list[Row]) -> list[tuple[Any, ...]]:
    blank = catalogue().headers.missing
    noted = [(*row[:6], None if row[6].lower() in blank else row[6]) for row in rows]
    return sorted(noted, key=lambda row: row[:5])


def settled(rows: list[Row]) -> list[Row]:
    """The rows and one more whose day cannot be a month."""
    return [*rows, ("A1", date(2022, 12, 31), "single_hop", "left", 1, 45.5, "")]


@QUICKLY
@given(ROWS, DIALECTS, LAYOUTS)
def test_a_text_table_reads_back_in_every_dialect(
    rows: list[Row], dialect: Dialect, layout: tuple[list[str], dict[str, str]]
) -> None:
    data = written(settled(rows), dialect, *layout)
    assert read_back({"tests.csv": data}) == expected(settled(rows))


@QUICKLY
@given(ROWS, st.integers(0, 3), st.integers(0, 2), LAYOUTS)
def test_a_workbook_reads_back_wherever_its_table_begins(
    rows: list[Row], down: int, across: int, layout: tuple[list[str], dict[str, str]]
) -> None:
    order, names = layout
    sheet: list[list[Any]] = [[None]] * down + [[None] * across + [names[name] for name in order]]
    for athlete, day, test, side, trial, value, note in rows:
        cells = {
            "athlete_id": athlete, "tested_on": day, "test": test, "side": side,
            "trial": trial, "value": value, "note": note or None,
        }  # fmt: skip
        sheet.append([None] * across + [cells[name] for name in order])
    assert read_back({"tests.xlsx": workbook({"S": sheet})}) == expected(rows)


@QUICKLY
@given(ROWS, DIALECTS)
def test_a_wide_table_says_the_same_as_a_long_one(rows: list[Row], dialect: Dialect) -> None:
    grouped: dict[tuple[str, date, str], dict[tuple[str, int], float]] = {}
    for athlete, day, test, side, trial, value, _ in rows:
        grouped.setdefault((athlete, day, test), {})[side, trial] = value
    columns = [(side, trial) for side in ("left", "right") for trial in range(1, 10)]
    lines = [["athlete", "date", "test", *(f"{side}_{trial}" for side, trial in columns)]]
    for (athlete, day, test), values in grouped.items():
        numbers = [f"{values[key]:.2f}" if key in values else "" for key in columns]
        lines.append([athlete, day.isoformat(), test, *numbers])
    text = "\n".join(dialect.delimiter.join(line) for line in lines)
    wanted = [(*row[:6], None) for row in sorted(rows, key=lambda row: row[:5])]
    assert read_back({"tests.csv": text.encode(dialect.encoding)}) == wanted


@QUICKLY
@given(ROWS, DIALECTS, st.permutations(range(4)))
def test_a_table_of_one_column_a_test_and_side_says_the_same_as_a_long_one(
    rows: list[Row], dialect: Dialect, order: list[int]
) -> None:
    grouped: dict[tuple[str, date], dict[tuple[str, str, int], float]] = {}
    for athlete, day, test, side, trial, value, _ in rows:
        grouped.setdefault((athlete, day), {})[test, side, trial] = value
    columns = sorted({row[2:5] for row in rows})
    words = {column: [column[0], column[1][0], "trial", str(column[2])] for column in columns}
    headers = [_ordered(words[column], order) for column in columns]
    lines = [["athlete", "date", *headers]]
    for (athlete, day), values in grouped.items():
        numbers = [f"{values[key]:.2f}" if key in values else "" for key in columns]
        lines.append([athlete, day.isoformat(), *numbers])
    text = "\n".join(dialect.delimiter.join(line) for line in lines)
    wanted = [(*row[:6], None) for row in sorted(rows, key=lambda row: row[:5])]
    assert read_back({"tests.csv": text.encode(dialect.encoding)}) == wanted


def _ordered(words: list[str], order: list[int]) -> str:
    """A header of these words; the number of a trial stays behind the word for it."""
    test, side, trial, number = words
    parts = [test, side, f"{trial} {number}"]
    return " ".join(parts[place] for place in order if place < len(parts))
