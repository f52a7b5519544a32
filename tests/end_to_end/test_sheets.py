"""The sheets of a build: what they hold, for whom, and that they are as sealed as all the rest."""

import re
import shutil
from contextlib import nullcontext
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pypdf
import pytest

from pipeline.commands.forget import forget
from pipeline.plan.rows import SET_ROW, TEST_ROW
from pipeline.report.outputs.print_sheets import sheet_of_tests, sheet_of_training
from pipeline.report.pdf.render import source_of
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from schemas.contracts.own_sheets import TESTS_COLUMNS, TRAINING_COLUMNS
from schemas.plan_words import CountedIn, StepPart, TestReason
from tests.conftest import Built, Quiet, built
from tests.end_to_end.small import contents, write_small_exports
from tests.raw import trials_of, week

SQUADS = ("Tidewick Handball", "Tidewick Morning Group", "Tidewick Volleyball")
CONTRACT = {
    "tests": "athlete_id name tested_on test first_side left_1 right_1 left_2 right_2 left_3 "
    "right_3 unit pain note",
    "training": "athlete_id trained_on exercise set_number side reps load unit order rir tempo "
    "pain note planned_reps planned_load done",
}


def rows_of(path: Path, name: str) -> list[dict[str, Any]]:
    head, *rows = openpyxl.load_workbook(path)[name].iter_rows(values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


def printed(path: Path) -> list[str]:
    """The text of each page, line by line."""
    return [page.extract_text(extraction_mode="layout") for page in pypdf.PdfReader(path).pages]


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Built]:
    exports = write_small_exports(tmp_path_factory.mktemp("sheets") / "exports")
    decisions = "flag_id,decision,listed_on\nBL-3.single_hop.difference,train,2026-04-13\n"
    (exports / "decisions.csv").write_text(decisions)
    return exports, built(exports, exports.parent / "reports")


def test_the_columns_are_those_that_are_read() -> None:
    assert " ".join(TESTS_COLUMNS) == CONTRACT["tests"]
    assert set(TRAINING_COLUMNS) == {*CONTRACT["training"].split(), "name"}


@pytest.mark.parametrize("squad", SQUADS)
def test_every_squad_has_both_sheets_and_their_print_twins(squad: str, sample: Built) -> None:
    for kind in ("tests", "training"):
        for suffix in ("xlsx", "pdf"):
            assert (sample.reports / "sheets" / f"{kind}_{squad}.{suffix}").is_file()


@pytest.mark.parametrize("squad", SQUADS)
def test_no_sheet_holds_an_earlier_value_or_somebody_elses_words(squad: str, sample: Built) -> None:
    rows = rows_of(sample.reports / "sheets" / f"tests_{squad}.xlsx", "tests")
    for row in rows:
        assert not any(row[name] for name in TESTS_COLUMNS if name[-1].isdigit())
        assert row["pain"] is None and row["note"] is None
    text = "\n".join(printed(sample.reports / "sheets" / f"tests_{squad}.pdf"))
    assert not re.search(r"(left|right) lower|ahead", text)
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as house:
        notes = house.fetch("raw_trials")["note"].drop_nulls().unique().to_list()
        due = house.fetch("mart_next_tests").filter(squad=squad)
    assert not any(note in text for note in notes)
    assert [row["athlete_id"] for row in rows] == due["athlete_id"].to_list()
    assert all(name in text for name in due["name"])


@pytest.mark.parametrize("squad", SQUADS)
def test_the_training_sheet_holds_the_coming_week_of_the_plan(squad: str, sample: Built) -> None:
    rows = rows_of(sample.reports / "sheets" / f"training_{squad}.xlsx", "training")
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as house:
        plans = house.fetch("mart_plans").filter(squad=squad).drop_nulls("step")
    planned = {(row["athlete_id"], row["exercise"]) for row in plans.iter_rows(named=True)}
    assert {(row["athlete_id"], row["exercise"]) for row in rows} <= planned
    for row in rows:
        assert date(2026, 11, 21) <= row["trained_on"].date() <= date(2026, 11, 27)
        assert [row[name] for name in ("reps", "load", "done", "pain", "note")] == [None] * 5
    keys = [(row["athlete_id"], row["trained_on"], row["exercise"], row["side"], row["set_number"])
            for row in rows]  # fmt: skip
    assert len(set(keys)) == len(keys)


def test_a_page_an_athlete(sample: Built) -> None:
    for squad in SQUADS:
        rows = rows_of(sample.reports / "sheets" / f"training_{squad}.xlsx", "training")
        pages = printed(sample.reports / "sheets" / f"training_{squad}.pdf")
        people = list(dict.fromkeys(row["name"] for row in rows))
        assert len(pages) == max(1, len(people))
        for page, own in zip(pages, people, strict=False):
            assert own in page
            assert not any(name in page for name in people if name != own)


def test_an_untouched_sheet_dropped_back_is_no_row(
    small: tuple[Path, Built], tmp_path: Path
) -> None:
    exports, made = small
    again = shutil.copytree(exports, tmp_path / "exports")
    for path in (made.reports / "sheets").iterdir():
        shutil.copy(path, again / path.name)
    back = built(again, tmp_path / "reports")
    assert back.summary.rows_read == made.summary.rows_read
    for name in ("flags.csv", "asymmetries.csv", "plans.csv"):
        assert (back.reports / name).read_bytes() == (made.reports / name).read_bytes()


def test_the_same_bytes_from_another_folder_and_a_second_build(
    small: tuple[Path, Built], tmp_path: Path
) -> None:
    exports, made = small
    other = built(shutil.copytree(exports, tmp_path / "elsewhere"), tmp_path / "reports")
    sheets = {name: data for name, data in contents(made.reports).items() if "sheets/" in name}
    assert len(sheets) == 2
    again = contents(other.reports)
    assert sheets == {name: again[name] for name in sheets}


def test_with_codes_no_sheet_names_anybody(small: tuple[Path, Built], tmp_path: Path) -> None:
    exports = shutil.copytree(small[0], tmp_path / "exports")
    shared = built(exports, tmp_path / "shared", pseudonyms=True).reports / "sheets"
    kinds = {path.stem.partition("_")[0]: path for path in shared.iterdir()}
    for kind, path in kinds.items():
        rows = rows_of(path, kind)
        assert rows or kind == "tests"
        for row in rows:
            assert re.fullmatch(r"P[0-9A-Z]{5}", row["athlete_id"])
            assert re.fullmatch(r"P[0-9A-Z]{5}", row["name"])
        assert "Blues" not in path.name


def test_who_is_forgotten_leaves_the_sheets(
    small: tuple[Path, Built], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.build.printing", lambda *_: nullcontext())
    exports = shutil.copytree(small[0], tmp_path / "exports")
    reports = built(exports, tmp_path / "reports").reports
    before = rows_of(reports / "sheets" / "training_Blues.xlsx", "training")
    assert {row["athlete_id"] for row in before} == {"BL-3"}
    forget(exports, reports, Settings(), Quiet(), "BL-3")
    for kind in ("tests", "training"):
        rows = rows_of(reports / "sheets" / f"{kind}_Blues.xlsx", kind)
        assert "BL-3" not in {row["athlete_id"] for row in rows}


def test_a_squad_that_is_gone_takes_its_sheets_along(
    small: tuple[Path, Built], tmp_path: Path
) -> None:
    exports = shutil.copytree(small[0], tmp_path / "exports")
    reports = built(exports, tmp_path / "reports").reports
    roster = exports / "roster.csv"
    roster.write_text(roster.read_text().replace("Blues", "Greens"))
    built(exports, reports)
    names = {path.name for path in (reports / "sheets").iterdir()}
    assert names == {"tests_Greens.xlsx", "training_Greens.xlsx"}


def test_a_sheet_filled_in_where_it_lies_is_kept(small: tuple[Path, Built], tmp_path: Path) -> None:
    exports = shutil.copytree(small[0], tmp_path / "exports")
    reports = built(exports, tmp_path / "reports").reports
    sheet = reports / "sheets" / "training_Blues.xlsx"
    book = openpyxl.load_workbook(sheet)
    book["training"]["L2"] = "x"
    book.save(sheet)
    filled_in = sheet.read_bytes()
    told = built(exports, reports).remarks
    assert any("sheets/training_Blues.xlsx had been filled in" in one for one in told)
    assert (reports / "training_Blues_filled_in.xlsx").read_bytes() == filled_in
    assert sheet.read_bytes() != filled_in


def test_every_word_of_a_closed_set_has_its_place_on_paper() -> None:
    """Two people with different content in every cell: no row takes another's."""
    known = week(date(2026, 11, 20), trials=trials_of("single_hop", [date(2026, 11, 20)], 150, 160))
    base = {"squad": "Squad", "tested_on": date(2026, 11, 27), "station": "hops"}
    tests = [
        {**base, "athlete_id": f"X{n}", "name": f"Name {n}", "measure": name, "because": reason,
         "about": name, "first_side": side, "trial_count": count, "unit": unit}
        for n, (reason, (name, side, count, unit)) in enumerate(
            (reason, one)
            for reason in TestReason
            for one in (("single_hop", "left", 3, "cm"), ("triple_hop", "right", 1, "m"))
        )
    ]  # fmt: skip
    page = source_of(sheet_of_tests("Squad", pl.DataFrame(tests, TEST_ROW), known))
    for row in tests:
        cells = re.search(rf"<tr><td>{row['name']} .*?</tr>", page)
        assert cells and str(row["athlete_id"]) in cells[0] and str(row["first_side"]) in cells[0]
    lifts = iter(known.catalogue.exercises)  # every set another: no line is taken for the next
    sets = [
        {"squad": "Squad", "athlete_id": f"X{n}", "name": f"Name {n}",
         "trained_on": date(2026, 11, 21 + n % 2), "session": "A", "exercise_order": 1,
         "part": part, "exercise": next(lifts), "exercise_name": f"Lift {n} {place}",
         "set_number": 1, "side": side, "planned_reps": 5 + n, "reps_unit": unit,
         "planned_load_kg": 10.0 + n}
        for n in range(2)
        for place, part in enumerate(StepPart)
        for side in ("left", "right", "both")
        for unit in (CountedIn.REPS,)
    ]  # fmt: skip
    one_each = pl.DataFrame(sets, SET_ROW)
    pages = source_of(sheet_of_training("Squad", one_each, known)).split("<h1>")[1:]
    assert [re.findall(r"Lift (\d)", page)[0] for page in pages] == ["0", "1"]
    for n, page in enumerate(pages):
        assert set(re.findall(r"Lift (\d) \d", page)) == {str(n)}
        assert re.findall(r"<td>(1[01])\W+kg", page) == [f"{10 + n}"] * (3 * len(StepPart))
    for unit in CountedIn:
        frame = one_each.with_columns(pl.lit(unit).alias("reps_unit"))
        assert sheet_of_training("Squad", frame, known).athletes[0].days[0].lines[0].planned


def test_two_days_of_tests_stand_apart_on_both_sheets_and_are_read_back(tmp_path: Path) -> None:
    """Hops on the first day, grip 48 hours later (common practice)."""
    exports = tmp_path / "exports"
    exports.mkdir()
    (exports / "roster.csv").write_text("athlete_id,name,squad\nA1,Ada,Reds\nB2,Bo,Reds\n")
    head = "athlete_id,tested_on,test,left,right\n"
    rows = [f"{who},2026-11-20,{test}" for who in ("A1", "B2")
            for test in ("single_hop,150,152", "grip_strength,45,44")]  # fmt: skip
    (exports / "tests.csv").write_text(head + "\n".join(rows) + "\n")
    made = built(exports, tmp_path / "reports", skip_pdf=False)
    path = made.reports / "sheets" / "tests_Reds.xlsx"
    days = {row["test"]: row["tested_on"].date() for row in rows_of(path, "tests")}
    assert days == {"single_hop": date(2026, 11, 27), "grip_strength": date(2026, 11, 29)}
    first, second = printed(path.with_suffix(".pdf"))
    assert "First day, planned for Friday, 27" in first and "(single_hop)" in first
    assert "Second day, strength, planned for Sunday, 29" in second and "(grip_" in second
    pack = " ".join(printed(made.reports / "squad_Reds.pdf"))
    assert "Next test days: Friday, 27" in pack and "and strength Sunday, 29" in pack
    book = openpyxl.load_workbook(path)
    for line in range(2, book["tests"].max_row + 1):
        for column in "FG":
            book["tests"][f"{column}{line}"] = 100 if line < 4 else 40
    book.save(exports / path.name)
    back = built(exports, tmp_path / "again")
    with Warehouse(back.reports / "warehouse.duckdb", read_only=True) as house:
        trials = house.fetch("raw_trials").filter(pl.col("source_file") == path.name)
    read = trials.group_by("measure").agg(pl.col("tested_on").unique(), pl.len())
    assert {row[0]: row[1:] for row in read.iter_rows()} == {
        "single_hop": ([date(2026, 11, 27)], 4), "grip_strength": ([date(2026, 11, 29)], 4),
    }  # fmt: skip
