"""Squads reviewed a few at a time give what they give all at once."""

import pickle
import shutil
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from datetime import date
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import polars as pl
import pytest

from pipeline.parts.places import InPlace
from pipeline.report.outputs import write_pages
from pipeline.report.outputs.write_pages import Pages, Press, Sheet
from pipeline.unmade import LET_THROUGH
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import in_parts
from tests import raw
from tests.conftest import SAMPLE, Built, built


@pytest.fixture(scope="module")
def warehouse(sample: Built) -> Iterator[Warehouse]:
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as house:
        yield house


@pytest.mark.parametrize(("rows", "count"), [(1, 3), (3_000, 3), (12_000, 2), (400_000, 1)])
def test_every_squad_is_in_one_part_in_the_order_of_names(
    warehouse: Warehouse, rows: int, count: int
) -> None:
    parts = in_parts(warehouse, rows)
    assert len(parts) == count
    names = warehouse.fetch("stg_athletes")["squad"].unique().sort().to_list()
    assert [name for part in parts for name in part] == names


def test_a_squad_without_rows_is_in_a_part_too() -> None:
    tests = raw.trials_of("single_hop", [date(2026, 1, 5)], 150.0, 160.0)
    roster = [{"athlete_id": who, "squad": squad} for who, squad in (("A1", "b"), ("A2", "a"))]
    assert in_parts(raw.warehouse(roster=roster, trials=tests), 1) == [["a", "b"]]
    roster.append({"athlete_id": "A3", "squad": "c"})
    assert in_parts(raw.warehouse(roster=roster, trials=tests), 1) == [["a", "b"], ["c"]]


def test_parts_give_the_same_reports(
    sample: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Built on top: no page is printed again, as none of their models is another."""
    reports = tmp_path / "reports"
    shutil.copytree(sample.reports, reports)
    old = {path: path.stat().st_mtime_ns for path in reports.rglob("*.pdf")}
    cut: list[int] = []

    def one_by_one(house: Warehouse, *_: object, **__: object) -> list[list[str]]:
        found = in_parts(house, rows=1)
        cut.append(len(found))
        return found

    monkeypatch.setattr("pipeline.parts.places.in_parts", one_by_one)
    by_squad = built(SAMPLE, reports, skip_pdf=False)
    assert cut == [3]
    assert by_squad.summary == sample.summary
    assert {path: path.stat().st_mtime_ns for path in reports.rglob("*.pdf")} == old
    names = {path.relative_to(sample.reports) for path in sample.reports.rglob("*.*")}
    for name in sorted(names):
        if name.suffix in (".pdf", ".csv", ".xlsx"):
            made = (reports / name).read_bytes()
            assert made == (sample.reports / name).read_bytes(), name
    assert row_counts(by_squad.reports) == row_counts(sample.reports)


def row_counts(reports: Path) -> dict[str, int]:
    with Warehouse(reports / "warehouse.duckdb", read_only=True) as warehouse:
        tables = warehouse.connection.execute("select table_name from duckdb_tables()").fetchall()
        return {name: warehouse.fetch(name).height for (name,) in tables}


def test_a_table_is_read_squad_by_squad_and_added_to() -> None:
    names = ["Crew", "O'Neill", "Ωmega", "empty"]
    with Warehouse() as warehouse:
        for name in names[:3]:
            warehouse.load("people", pl.DataFrame({"squad": [name] * 2, "number": [1, 2]}))
        assert warehouse.fetch("people")["number"].to_list() == [1, 2] * 3
        found = {name: warehouse.fetch("people", squad=[name]).height for name in names}
        assert found == {"Crew": 2, "O'Neill": 2, "Ωmega": 2, "empty": 0}
        both = warehouse.fetch("people", squad=names[1:3])
        assert both["squad"].to_list() == [names[1]] * 2 + [names[2]] * 2


def test_reports_of_one_name_in_two_parts_do_not_share_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.parts.places.in_parts", partial(in_parts, rows=1))
    monkeypatch.setattr("pipeline.parts.places.printers", lambda *_: nullcontext(InPlace()))
    monkeypatch.setattr("pipeline.build.prepare", lambda: None)
    monkeypatch.setattr(
        write_pages,
        "render",
        lambda page, *_: SimpleNamespace(pdf=b"page", boxes=set(), foreign=False),
    )
    exports = tmp_path / "exports"
    exports.mkdir()
    (exports / "roster.csv").write_text("athlete_id,name,squad\na1,Ada,Crew?\nA1,Bo,Crew*\n")
    days = [f"2026-09-0{day}" for day in (1, 2)]
    rows = [
        f"{who},{day},single_hop,{side},{150 + number}"
        for who in ("a1", "A1")
        for day in days
        for number, side in enumerate(("left", "right"))
    ]
    (exports / "hops.csv").write_text("\n".join(["athlete_id,tested_on,test,side,value", *rows]))
    made = built(exports, tmp_path / "reports", skip_pdf=False)
    names = [str(path.relative_to(made.reports)) for path in made.reports.rglob("*.pdf")]
    assert len({name.casefold() for name in names}) == len(names) == 2 + 2 * 4  # packs, …, sheets


def test_a_press_holds_few_pages_at_a_time_and_loses_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def render(packed: bytes, page_size: str, as_of: date) -> Any:
        page = pickle.loads(packed)
        boxes = {"王"} if page == "7" else set()
        return SimpleNamespace(pdf=f"{page} {page_size}".encode(), boxes=boxes, foreign=False)

    monkeypatch.setattr(write_pages, "render", render)
    monkeypatch.setattr(write_pages, "MOST_PRINTING", 3)

    def kept(name: str, pdf: bytes) -> None:
        (tmp_path / name).write_bytes(pdf)

    done: list[int] = []
    waiting: list[int] = []
    with ThreadPoolExecutor(2) as pool:
        pages_of_a_build = Pages(kept, lambda *_: False, done.append)
        press = Press(pool, pages_of_a_build, "A4", date(2026, 1, 5), "", LET_THROUGH)
        names = {str(number): f"{number}.pdf" for number in range(20)}

        def pages() -> Any:
            made: Any = Sheet
            for name in names:
                waiting.append(len(press.printing))
                yield name, made(partial(str, name), instead=None)

        press.take(pages(), names)
        press.finish()
    assert max(waiting) == 3
    assert len(done) == 20
    assert press.boxes == {"7.pdf": "王"}
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {
        f"{number}.pdf": f"{number} A4" for number in range(20)
    }
