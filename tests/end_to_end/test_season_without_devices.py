"""A season without any device: templates, sheets filled in with gaps and slips, dropped back."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from pipeline.report.outputs.templates import write_templates
from pipeline.warehouse import Warehouse
from tests.conftest import built
from tests.intake.exports import listed

SQUAD = "Harbour Rowing"
PEOPLE = {
    "A1": "Ada Lund",
    "B2": "=1+1",
    "C3": "Cor Vik",
    "D4": "Dea Moe",
    "E5": "@Eli",
    "F6": "Fay",
}
FIRST = date(2026, 1, 5)  # a Monday
LEVELS = {"A1": 150.0, "B2": 171.0, "C3": 158.0, "D4": 163.0, "E5": 149.0, "F6": 180.0}
Typed = tuple[str, str, int, str, str, str, int, float]


@dataclass
class Season:
    """Folders, and every number somebody typed with the cell it stands in."""

    exports: Path
    reports: Path
    tests: list[Typed] = field(default_factory=list)
    sets: list[tuple[str, str, int, str, str, str, float, float | None]] = field(
        default_factory=list
    )

    def build(self) -> None:
        built(self.exports, self.reports)

    def sheet(self, kind: str) -> Path:
        return self.reports / "sheets" / f"{kind}_{SQUAD}.xlsx"

    def fill_in_tests(self, name: str, left: float, skip: str = "") -> list[str]:
        """The sheet of tests filled in as a coach would: one gap, one slip, one who was away."""
        book = openpyxl.load_workbook(self.sheet("tests"))
        sheet = book["tests"]
        head = [cell.value for cell in sheet[1]]
        tested = []
        for row in sheet.iter_rows(min_row=2):
            cells = dict(zip(head, row, strict=True))
            who, test = cells["athlete_id"].value, cells["test"].value
            if who is None or who == skip:
                continue
            tested.append(who)
            level = LEVELS[who] / (1 if test == "single_hop" else 15)
            for trial in (1, 2, 3):
                for side in ("left", "right"):
                    if who == "C3" and (trial, side) == (3, "left"):
                        continue  # a gap
                    lower = left if who == "A1" and side == "left" and test == "single_hop" else 1.0
                    value = round(level * lower * (1 + 0.004 * trial), 1)
                    cell = cells[f"{side}_{trial}"]
                    assert cell.value is None
                    if who == "D4" and (trial, side) == (2, "right"):
                        cell.value = "15o"  # a slip
                        continue
                    cell.value = value
                    place = (name, "tests", cell.row)
                    self.tests.append((*place, who, test, side, trial, value))
            if who == "F6":
                cells["note"].value = "=SUM(A1:A9) is what the tablet typed"
        book.save(self.exports / name)
        return tested

    def fill_in_training(self, name: str) -> int:
        """The training sheet: the first day as planned, one set changed, the rest not ticked."""
        book = openpyxl.load_workbook(self.sheet("training"))
        sheet = book["training"]
        head = [cell.value for cell in sheet[1]]
        rows = [dict(zip(head, row, strict=True)) for row in sheet.iter_rows(min_row=2)]
        first = rows[0]["trained_on"].value
        count = 0
        for cells in rows:
            if cells["trained_on"].value != first:
                continue
            cells["done"].value = "x"
            reps, load = cells["planned_reps"].value, cells["planned_load"].value
            if cells["side"].value == "right" and cells["set_number"].value == 2:
                cells["reps"].value = reps = 5
                cells["load"].value = load = 12.5
            key = (cells["athlete_id"].value, cells["exercise"].value, cells["side"].value)
            place = (name, "training", cells["done"].row)
            self.sets.append((*place, *key, float(reps), None if load is None else float(load)))
            count += 1
        book.save(self.exports / name)
        return count


def fill_template(path: Path, rows: list[list[Any]]) -> None:
    book = openpyxl.load_workbook(path)
    for row in rows:
        book.worksheets[0].append(row)
        for cell in book.worksheets[0][book.worksheets[0].max_row]:
            if isinstance(cell.value, str):
                cell.data_type = "s"
    book.save(path)


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Season]:
    place = tmp_path_factory.mktemp("season")
    one = Season(place / "exports", place / "reports")
    write_templates(one.exports)
    for spare in ("side_tests_long", "side_tests_columns", "film_review", "decisions"):
        (one.exports / f"{spare}.xlsx").unlink()
    # Week 1: templates, examples left in, one test with one trial too few for anybody.
    fill_template(one.exports / "roster.xlsx", [[who, name, SQUAD] for who, name in PEOPLE.items()])
    day = datetime(FIRST.year, FIRST.month, FIRST.day)
    tests = [
        [who, day, "single_hop", round(LEVELS[who] * (0.72 if who == "A1" else 1), 1), LEVELS[who]]
        for who in PEOPLE
    ]
    fill_template(one.exports / "side_tests_wide.xlsx", tests)
    for line, (who, _, test, left, right) in enumerate(tests, start=4):
        place_of = ("side_tests_wide.xlsx", "side_tests_wide", line)
        one.tests += [
            (*place_of, who, test, "left", 1, left), (*place_of, who, test, "right", 1, right),
        ]  # fmt: skip
    one.build()
    yield one


def decide(one: Season, decision: str, name: str) -> None:
    book = openpyxl.load_workbook(one.reports / "decisions.xlsx")
    sheet = book["decisions"]
    head = [cell.value for cell in sheet[1]]
    for row in sheet.iter_rows(min_row=2):
        if row[head.index("flag_id")].value == "A1.single_hop.difference":
            row[head.index("decision")].value = decision
            row[head.index("owner")].value = "Kim"
    book.save(one.exports / name)


def numbers(one: Season) -> list[Typed]:
    with Warehouse(one.reports / "warehouse.duckdb", read_only=True) as house:
        trials = house.fetch("raw_trials").filter(pl.col("value").is_not_null())
    columns = ["source_file", "source_sheet", "source_line", "athlete_id", "measure", "side"]
    return trials.select(*columns, "trial", "value").rows()


def test_the_first_week_tells_what_it_can_and_asks_for_another_day(season: Season) -> None:
    assert sorted(numbers(season)) == sorted(season.tests)
    plans = {row["athlete_id"]: row["plan"] for row in listed(season.reports, "plans")}
    assert plans["A1"] == "retest"
    assert {plan for who, plan in plans.items() if who != "A1"} == {"none"}
    files = {row["sheet"]: row["remark"] for row in listed(season.reports, "intake")}
    assert "example rows of a template, which are no data: 2" in files["side_tests_wide"]
    sheet = openpyxl.load_workbook(season.sheet("tests"))["tests"]
    rows = list(sheet.iter_rows(min_row=2, values_only=True))
    assert {row[0] for row in rows} == set(PEOPLE)
    assert {row[2] for row in rows} == {datetime(2026, 1, 12)}
    assert [row[1] for row in rows] == [PEOPLE[row[0]] for row in rows]  # "=1+1" stays a name
    assert {cell.data_type for row in sheet.iter_rows(min_row=2) for cell in row[:2]} == {"s"}
    assert {value for row in rows for value in row[5:11]} == {None}


@pytest.fixture(scope="module")
def played(season: Season) -> Season:
    """Weeks 2 to 6."""
    sheets = {}
    season.fill_in_tests("tests_week_2.xlsx", 0.72, skip="E5")
    season.build()
    sheets[2] = season.sheet("tests").read_bytes()
    season.fill_in_tests("tests_week_3.xlsx", 0.74)
    season.build()
    decide(season, "train (hops)", "decisions_2026-01-19.xlsx")
    season.build()
    assert season.fill_in_training("training_week_4.xlsx") > 3
    season.build()
    # The sheet of two weeks ago is filled in only now, on another day.
    season.sheet("tests").write_bytes(sheets[2])
    before = len(season.tests)
    season.fill_in_tests("old sheet.xlsx", 0.80)
    book = openpyxl.load_workbook(season.exports / "old sheet.xlsx")
    for row in book["tests"].iter_rows(min_row=2):
        if row[0].value:
            row[2].value = datetime(2026, 2, 2)
    book.save(season.exports / "old sheet.xlsx")
    assert len(season.tests) > before
    season.build()
    return season


def test_every_number_typed_is_in_the_warehouse_with_its_cell(played: Season) -> None:
    assert sorted(numbers(played)) == sorted(played.tests)
    with Warehouse(played.reports / "warehouse.duckdb", read_only=True) as house:
        sets = house.fetch("raw_sets").filter(pl.col("reps").is_not_null())
    columns = ["source_file", "source_sheet", "source_line", "athlete_id", "exercise", "side"]
    found = sets.select(*columns, "reps", "load_kg").rows()
    assert sorted(found, key=str) == sorted(played.sets, key=str)


def test_what_could_not_be_read_is_told_and_costs_itself_alone(played: Season) -> None:
    refused = listed(played.reports, "refused_rows")
    slips = [row for row in refused if row["value"] == "15o"]
    assert slips and {row["row_kept"] for row in slips} == {"yes"}
    assert {row["value"] for row in refused} == {"15o"}


def test_the_list_tells_the_story_that_was_put_in(played: Season) -> None:
    [flag] = [row for row in listed(played.reports, "flags") if row["measure"] == "single_hop"]
    assert (flag["athlete_id"], flag["lower_side"], flag["status"]) == ("A1", "left", "running")
    assert (flag["decision"], flag["owner"], flag["decided_on"]) == ("train", "Kim", "2026-01-19")
    plans = {row["athlete_id"]: row["plan"] for row in listed(played.reports, "plans")}
    assert plans["A1"] == "train"
    assert set(plans.values()) <= {"train", "none", "retest"}


def test_that_it_was_done_is_known_without_a_device(played: Season) -> None:
    with Warehouse(played.reports / "warehouse.duckdb", read_only=True) as house:
        [outcome] = house.fetch("mart_block_outcomes").rows(named=True)
    assert (outcome["log_state"], outcome["done_sessions"]) == ("counted", 1)


def test_files_dropped_twice_change_nothing(played: Season, tmp_path: Path) -> None:
    exports = tmp_path / "exports"
    shutil.copytree(played.exports, exports)
    for path in list(exports.iterdir()):
        if path.suffix == ".xlsx" and not path.name.startswith("decisions"):
            shutil.copy(path, exports / f"{path.stem} copy.xlsx")
    built(exports, tmp_path / "reports")
    for name in ("flags.csv", "asymmetries.csv", "plans.csv"):
        assert (tmp_path / "reports" / name).read_bytes() == (played.reports / name).read_bytes()
    for kind in ("tests", "training"):
        own = Path("sheets") / f"{kind}_{SQUAD}.xlsx"
        assert (tmp_path / "reports" / own).read_bytes() == (played.reports / own).read_bytes()
