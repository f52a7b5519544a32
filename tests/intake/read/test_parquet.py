"""Parquet: the same rows as from text, typed cells as text, and no crash on what is broken."""

import io
import random
from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.intake.read import grids, parquet
from pipeline.intake.read.files import open_grids
from pipeline.intake.read.grids import UnreadableFile
from pipeline.intake.recognise.kinds import judge
from tests.intake.exports import LONG, counts, intake_of, refusals, remark, values

ROWS = [
    ("A1", date(2024, 3, 5), "single_hop", "left", 145.5, 1, None),
    ("A1", date(2024, 3, 5), "single_hop", "right", 150.0, 1, "wet floor"),
    ("A2", date(2024, 3, 5), "single_hop", "left", None, 1, None),
    ("A2", date(2024, 3, 5), "single_hop", "right", 9000.5, 1, None),
    ("A9", date(2024, 3, 5), "single_hop", "right", 151.25, 2, None),
]
NAMES = ["Athlete ID", "Tested on", "Test", "Side", "Value", "Trial", "Note"]


def packed(frame: pl.DataFrame) -> bytes:
    buffer = io.BytesIO()
    frame.write_parquet(buffer)
    return buffer.getvalue()


def hops() -> pl.DataFrame:
    return pl.DataFrame(ROWS, schema=NAMES, orient="row")


def cells(frame: pl.DataFrame) -> list[tuple[object, ...]]:
    (grid,) = open_grids("t.parquet", packed(frame), judge)
    assert [["" if c is None else c for c in row[1:]] for row in grid.load(()).rows()] == grid.head
    return grid.load(()).rows()


def test_the_same_rows_come_from_parquet_and_from_text(tmp_path: Path) -> None:
    found = {}
    for ending, data in (("csv", hops().write_csv().encode()), ("parquet", packed(hops()))):
        folder = tmp_path / ending
        folder.mkdir()
        name = f"hops.{ending}"
        intake = intake_of(folder, {name: data})
        refused = [row[1:] for row in refusals(intake)]
        found[ending] = values(intake), refused, counts(intake, name), remark(intake, name)
    assert found["parquet"] == found["csv"]
    assert found["parquet"][0] == [
        ("A1", "single_hop", "left", 1, 145.5),
        ("A1", "single_hop", "right", 1, 150.0),
    ]
    assert [(line, column) for line, column, *_ in found["parquet"][1]] == [
        (5, "Value"), (6, "Athlete ID"),
    ]  # fmt: skip


def test_a_file_is_known_by_its_first_bytes_whatever_its_ending(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"hops.csv": packed(hops())})
    assert len(values(intake)) == 2


def test_typed_cells_are_the_text_a_spreadsheet_shows() -> None:
    frame = pl.DataFrame(
        {
            "whole": pl.Series([3.0, None, float("nan")]),
            "small": pl.Series([0.1, -2.5, 1e-7], dtype=pl.Float32).cast(pl.Float64).round(7),
            "count": pl.Series([1, None, 2], dtype=pl.UInt8),
            "yes": [True, False, None],
            "day": [date(2024, 3, 5), None, date(1999, 12, 31)],
            "stamp": [datetime(2024, 3, 5, 14, 30), None, datetime(2024, 3, 6)],
            "noon": pl.Series([datetime(2024, 3, 5, 23)] * 3).dt.replace_time_zone("Asia/Tokyo"),
            "group": pl.Series(["a", "", None], dtype=pl.Categorical),
            "exact": pl.Series(["1.50", "2.25", None]).cast(pl.Decimal(10, 2)),
            "nothing": pl.Series([None, None, None]),
        }
    )
    assert cells(frame) == [
        (1, *frame.columns),
        (2, "3", "0.1", "1", "true", "2024-03-05", "2024-03-05 14:30:00", "2024-03-05 23:00:00",
         "a", "1.50", None),
        (3, None, "-2.5", None, "false", None, None, "2024-03-05 23:00:00", None, "2.25", None),
        (4, None, "1e-7", "2", None, "1999-12-31", "2024-03-06 00:00:00", "2024-03-05 23:00:00",
         None, None, None),
    ]  # fmt: skip


def test_days_stored_with_a_time_of_midnight_are_days() -> None:
    frame = pl.DataFrame({"day": [datetime(2024, 3, 5), None, datetime(2024, 3, 6)]})
    assert [row[1] for row in cells(frame)] == ["day", "2024-03-05", None, "2024-03-06"]


@pytest.mark.parametrize(
    "column",
    [[[1, 2], [3]], [{"a": 1}, {"a": 2}], [b"\xff\xfe", b""]],
    ids=["list", "map", "bytes"],
)
def test_columns_that_hold_no_cells_are_told(tmp_path: Path, column: list[object]) -> None:
    frame = pl.DataFrame({"athlete_id": ["A1", "A2"], "odd": column})
    intake = intake_of(tmp_path, {"odd.parquet": packed(frame)})
    said = "the column odd holds no plain cells; export it as CSV"
    assert remark(intake, "odd.parquet") == said


def test_a_file_without_rows_is_a_header_without_rows(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"none.parquet": packed(hops().clear())})
    assert remark(intake, "none.parquet").startswith("a header without rows")


def test_damaged_files_are_told_and_never_a_crash(tmp_path: Path) -> None:
    whole = packed(hops())
    chance = random.Random(3)
    told = 0
    for number in range(150):
        damaged = bytearray(whole)
        for _ in range(1 + number % 8):
            damaged[chance.randrange(4, len(damaged))] = chance.randrange(256)
        try:
            for grid in open_grids("t.parquet", bytes(damaged[: -number or None]), judge):
                grid.load((0, 2))
        except UnreadableFile as why:
            assert str(why) in {parquet.BROKEN, grids.TOO_MUCH} or "holds no plain" in str(why)
            told += 1
    assert told > 75
    intake = intake_of(tmp_path, {"half.parquet": whole[: len(whole) // 2], "mark.csv": b"PAR1"})
    assert {remark(intake, name) for name in ("half.parquet", "mark.csv")} == {parquet.BROKEN}


def test_a_small_file_that_unpacks_beyond_all_use_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    many = pl.DataFrame({name: ["x"] for name in LONG.split(",")})
    data = packed(pl.concat([many] * 2000))
    assert len(data) < 5000
    monkeypatch.setattr(parquet, "MOST_CELLS", 9_999)
    intake = intake_of(tmp_path, {"bomb.parquet": data})
    assert remark(intake, "bomb.parquet") == grids.TOO_MUCH
    long = pl.DataFrame({"athlete_id": ["x" * 200_000], "name": ["y"], "squad": ["z"]})
    intake = intake_of(tmp_path, {"long.parquet": packed(long)})
    assert "the cell in line 2 is longer than any" in remark(intake, "long.parquet")
