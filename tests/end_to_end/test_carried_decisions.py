"""A sheet dropped over last week's loses nothing: what was decided, and since when it stands."""

import random
import re
import shutil
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from pipeline.warehouse import Warehouse
from tests.conftest import Built, built

FIRST = date(2026, 3, 2)
APART = {"BL-3": 0.25, "BL-5": 0.22, "BL-6": -0.22, "BL-8": 0.24}  # of the left side
SHEET = "decisions.xlsx"


def write_exports(folder: Path, weeks: int, apart: dict[str, float] | None = None) -> None:
    """Tests of eight athletes every other week; `apart` is how far their sides are at the last."""
    chance = random.Random(3)
    folder.mkdir(parents=True, exist_ok=True)
    people = [f"BL-{n}" for n in range(1, 9)]
    roster = [f"{who},Person {who},{'Blues' if n < 4 else 'Reds'}" for n, who in enumerate(people)]
    (folder / "roster.csv").write_text("\n".join(["athlete_id,name,squad", *roster]) + "\n")
    lines = ["athlete_id,tested_on,test,side,trial,value,unit"]
    for week in range(0, weeks, 2):
        for who in people:
            share = APART.get(who, 0.0)
            if apart is not None and week >= weeks - 6:
                share = apart.get(who, share)
            for side in ("left", "right"):
                lower = abs(share) if (side == "left") == (share > 0) else 0.0
                for trial in (1, 2, 3):
                    value = 160 * (1 - lower) * chance.gauss(1, 0.015)
                    day = FIRST + timedelta(weeks=week)
                    lines.append(f"{who},{day},single_hop,{side},{trial},{value:.1f},cm")
    (folder / "tests.csv").write_text("\n".join(lines) + "\n")


def read(build: Built) -> dict[str, dict[str, Any]]:
    """The rows of a build's sheet by flag, in their order."""
    sheet = openpyxl.load_workbook(build.reports / SHEET).active
    assert sheet is not None
    head, *rows = sheet.iter_rows(values_only=True)
    found = [dict(zip(map(str, head), row, strict=True)) for row in rows]
    return {str(row["flag_id"]): row for row in found}


def day_of(cell: Any) -> date | None:
    return cell.date() if isinstance(cell, datetime) else None


def fill_in(build: Built, said: dict[str, str], place: Path) -> None:
    """The sheet of a build with these decisions in it, put there."""
    book = openpyxl.load_workbook(build.reports / SHEET)
    sheet = book.active
    assert sheet is not None
    column = {cell.value: cell.column for cell in sheet[1]}
    for line in range(2, sheet.max_row + 1):
        flag_id = str(sheet.cell(line, column["flag_id"]).value)
        if flag_id in said:
            sheet.cell(line, column["decision"]).value = said[flag_id]
    book.save(place)


def flag(who: str) -> str:
    return f"{who}.single_hop.difference"


@pytest.fixture(scope="module")
def weeks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Built]]:
    """Three meetings two weeks apart; each time the new sheet goes over the old one."""
    folder = tmp_path_factory.mktemp("carried")
    exports, builds = folder / "exports", []
    said: list[dict[str, str]] = [
        {
            flag("BL-3"): " Accept as structural",
            flag("BL-6"): "train",
            flag("BL-8"): "not structural: train",
            flag("BL-5"): "Accept",
        },
        {flag("BL-6"): "wait"},
        {},
    ]
    for number, decisions in enumerate(said):
        apart = {"BL-5": 0.0} if number else None  # whose difference is gone after the first
        write_exports(exports, 11 + 2 * number + (4 if number else 0), apart)
        builds.append(built(exports, folder / f"reports_{number}"))
        fill_in(builds[-1], decisions, exports / SHEET)
    builds.append(built(exports, folder / "reports_last"))
    yield builds
    shutil.rmtree(folder)


def test_an_accepted_flag_stays_listed_last_in_its_squad(weeks: list[Built]) -> None:
    for build in weeks[1:]:
        flags = pl.read_csv(build.reports / "flags.csv")
        rows = flags.select("squad", "flag_id").rows()
        assert [one for one in rows if one[1] in (flag("BL-3"), flag("BL-5"))] == [
            ("Blues", flag("BL-3")), ("Reds", flag("BL-5")),
        ]  # fmt: skip
        for squad in ("Blues", "Reds"):
            own = flags.filter(squad=squad)["decision"].fill_null("").str.to_lowercase()
            silent = own.str.starts_with("accept").to_list()
            assert silent == sorted(silent) and silent[-1]
        assert list(read(build)) == flags["flag_id"].to_list()


def test_what_was_accepted_is_still_so_when_only_the_newest_sheet_is_left(
    weeks: list[Built],
) -> None:
    first = weeks[0].summary.as_of
    for build in weeks[1:]:
        sheet = read(build)
        assert sheet[flag("BL-3")]["decision"].strip() == "Accept as structural"
        assert sheet[flag("BL-5")]["decision"] == "Accept"
        for who in ("BL-3", "BL-5"):
            assert day_of(sheet[flag(who)]["decided_on"]) == first
            assert day_of(sheet[flag(who)]["listed_on"]) == build.summary.as_of
            assert re.fullmatch(
                r"Accepted until \d+\s\w+: keep as is, compare with own history\.",
                sheet[flag(who)]["suggestion"],
            )


def test_the_last_lines_count_open_flags(weeks: list[Built]) -> None:
    for build in weeks[1:]:
        listed = pl.read_csv(build.reports / "flags.csv").height
        assert build.summary.flag_count == listed - 2
    assert weeks[0].summary.flag_count == pl.read_csv(weeks[0].reports / "flags.csv").height


def test_a_word_further_on_decides_nothing(weeks: list[Built]) -> None:
    sheet = read(weeks[1])
    assert sheet[flag("BL-8")]["decision"] == "not structural: train"
    assert "could not be read" in sheet[flag("BL-8")]["suggestion"]


def test_a_block_keeps_its_beginning_and_a_new_decision_begins_anew(weeks: list[Built]) -> None:
    def outcome(build: Built) -> list[tuple[str, date]]:
        with Warehouse(build.reports / "warehouse.duckdb", read_only=True) as house:
            return house.fetch("mart_block_outcomes").select("flag_id", "started_on").rows()

    first, second = weeks[0].summary.as_of, weeks[1].summary.as_of
    assert outcome(weeks[1]) == [(flag("BL-6"), first)]
    assert day_of(read(weeks[1])[flag("BL-6")]["decided_on"]) == first
    # Then it was decided to wait, in the row that still named the day of the block.
    assert outcome(weeks[2]) == []
    for build in weeks[2:]:
        row = read(build)[flag("BL-6")]
        assert (row["decision"], day_of(row["decided_on"])) == ("wait", second)
