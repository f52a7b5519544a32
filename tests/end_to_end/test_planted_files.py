"""What lies in the reports folder is not followed out of it; a stopped build leaves nothing."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.__main__ import main
from pipeline.last_build import RECORD, UNFINISHED, LastBuild
from pipeline.report.outputs.reports_folder import (
    SEAL,
    _files_of,
    building,
    publish,
    temporary_folder,
)
from pipeline.report.outputs.tables import _as_text
from tests.conftest import built
from tests.end_to_end.small import contents, write_small_exports
from tests.end_to_end.test_stopped import hear_stops
from tests.test_architecture import ROOT

OUTSIDE = ["../mine.pdf", "athletes/../../mine.pdf", "/tmp/../{}/mine.pdf", "athletes/mine.pdf"]


@pytest.fixture(scope="module")
def built_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with exports, reports and a file of somebody's own beside them."""
    folder = tmp_path_factory.mktemp("planted")
    built(write_small_exports(folder / "exports"), folder / "reports")
    (folder / "mine.pdf").write_text("mine")
    return folder


@pytest.fixture
def place(built_once: Path, tmp_path: Path) -> Path:
    """A copy of it for each test."""
    return shutil.copytree(built_once, tmp_path / "place")


def build(place: Path) -> dict[str, bytes]:
    folders = ["--exports", str(place / "exports"), "--reports", str(place / "reports")]
    assert main(["build", *folders, "--skip-pdf"]) == 0
    assert (place / "mine.pdf").read_text() == "mine"
    assert not (place / "reports" / UNFINISHED).exists()
    return contents(place / "reports")


SEALS = [["../mine.pdf"], ["/etc/x.pdf"], ["a.csv"], {"a": 1}, [1], "x"]


@pytest.mark.parametrize("seal", [*map(json.dumps, SEALS), "", "[", "[" * 100_000, "\xff"])
def test_a_seal_that_no_build_wrote_moves_and_removes_nothing(seal: str, place: Path) -> None:
    before = contents(place / "reports")
    new = place / "reports" / UNFINISHED
    new.mkdir()
    (new / "flags.csv").write_text("planted")
    (new / SEAL).write_text(seal, encoding="latin-1")
    assert build(place) == before


@pytest.mark.parametrize("name", OUTSIDE)
def test_a_record_or_seal_never_leads_out_of_the_folder(name: str, place: Path) -> None:
    reports = place / "reports"
    if name == "athletes/mine.pdf":
        (reports / "athletes").symlink_to(place, target_is_directory=True)
    name = name.format(place)
    record = json.loads((reports / RECORD).read_text())
    record["files"][name] = record["pages"][name] = "0" * 64
    (reports / RECORD).write_text(json.dumps(record))
    (place / "exports" / "more.csv").write_text("athlete_id,tested_on,test,side,value\n")
    build(place)
    with building(reports) as new:
        publish(new, reports, [name])
    assert (place / "mine.pdf").read_text() == "mine"


def _folder_with_a_link(new: Path, other: Path) -> None:
    new.mkdir()
    (new / "athletes").symlink_to(other, target_is_directory=True)


PLANTED: dict[str, Callable[[Path, Path], object]] = {
    "a link to a folder": lambda new, other: new.symlink_to(other, target_is_directory=True),
    "a link to nowhere": lambda new, other: new.symlink_to(other / "none"),
    "a file": lambda new, other: new.write_text("x"),
    "a folder with a link": _folder_with_a_link,
}


@pytest.mark.parametrize("kind", PLANTED)
def test_what_stands_where_a_build_is_made_is_not_followed(kind: str, place: Path) -> None:
    before = contents(place / "reports")
    other = place / "other"
    other.mkdir()
    (other / "keep.csv").write_text("keep")
    PLANTED[kind](place / "reports" / UNFINISHED, other)
    (place / "reports" / RECORD).write_text("{")
    assert build(place) == before
    assert {path.name for path in other.iterdir()} == {"keep.csv"}


def test_a_folder_of_athletes_that_leads_elsewhere_is_put_aside(place: Path) -> None:
    other = place / "other"
    other.mkdir()
    (other / "x.pdf").write_text("mine")
    reports = place / "reports"
    (reports / "athletes").symlink_to(other, target_is_directory=True)
    (reports / RECORD).unlink()
    with building(reports) as new:
        (new / "athletes" / "BL-1.pdf").write_text("new")
        publish(new, reports, ["athletes/x.pdf"])
    assert {path.name: path.read_text() for path in other.iterdir()} == {"x.pdf": "mine"}
    assert not (reports / "athletes").is_symlink()


def test_a_record_that_cannot_be_read_is_none(place: Path) -> None:
    for text in ("", "[]", '{"files": 3}', "\x00", "[" * 100_000):
        (place / "reports" / RECORD).write_text(text)
        assert LastBuild.read(place / "reports") is None


def test_a_filled_in_sheet_is_kept_for_its_owner_alone(place: Path) -> None:
    sheet = place / "reports" / "decisions.xlsx"
    sheet.write_bytes(sheet.read_bytes() + b"x")
    sheet.chmod(0o644)
    (place / "exports" / "log.csv").unlink()
    build(place)
    kept = place / "reports" / "decisions_filled_in.xlsx"
    assert kept.stat().st_mode & 0o777 == 0o600
    kept.unlink()
    sheet.unlink()
    sheet.symlink_to(place / "mine.pdf")
    (place / "exports" / "tests.csv").touch()
    (place / "reports" / RECORD).write_text(
        (place / "reports" / RECORD).read_text().replace('"inputs": "', '"inputs": "0')
    )
    build(place)
    assert not kept.exists()


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("  =1+1", "'  =1+1"),
        ("\t=1", "'\t'=1"),
        ("x;=1+1", "x;'=1+1"),
        ("x; @SUM(A1)", "x;' @SUM(A1)"),
        ("x\t+cmd|' /C calc'!A0", "x\t'+cmd|' /C calc'!A0"),
        ("x\n-2+3", "x\n'-2+3"),
        ("A1;-5;=2;-1,5", "A1;-5;'=2;-1,5"),
        ("-5", "'-5"),
        ("a; b - c", "a; b - c"),
        (";＝1", ";'＝1"),
    ],
)
def test_no_cell_begins_a_formula_wherever_cells_may_be_parted(cell: str, written: str) -> None:
    assert _as_text(cell) == written


def begun(place: Path, until: str) -> "subprocess.Popen[str]":
    """A build of `exports` with `t` as its temporary folder, once such a file is unfinished."""
    process = subprocess.Popen(
        [sys.executable, "-m", "pipeline", "build", "--exports", str(place / "exports"),
         "--reports", str(place / "reports")],
        cwd=ROOT, env={**os.environ, "TMPDIR": str(place / "t")},
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, preexec_fn=hear_stops,
    )  # fmt: skip
    while not [*(place / "reports" / UNFINISHED).glob(until)]:
        assert process.poll() is None
        time.sleep(0.02)
    return process


def test_a_build_asked_to_stop_leaves_nothing_anywhere(tmp_path: Path) -> None:
    write_small_exports(tmp_path / "exports")
    (reports := tmp_path / "reports").mkdir()
    (temporary := tmp_path / "t").mkdir()
    for number in (signal.SIGTERM, signal.SIGHUP):
        process = begun(tmp_path, until="warehouse.duckdb")
        process.send_signal(number)
        _, said = process.communicate()
        assert process.returncode == 1
        assert "stopped; the earlier reports are untouched" in said
        assert [*reports.iterdir()] == []
        assert [*temporary.iterdir()] == []


def test_a_killed_build_leaves_nothing_in_the_temporary_folder(tmp_path: Path) -> None:
    write_small_exports(tmp_path / "exports")
    reports = tmp_path / "reports"
    (temporary := tmp_path / "t").mkdir()
    process = begun(tmp_path, until="athletes/*.pdf")
    process.kill()
    process.communicate()
    for _ in range(500):
        if not [*temporary.iterdir()]:
            break
        time.sleep(0.02)
    assert [*temporary.iterdir()] == []
    assert (reports / UNFINISHED).stat().st_mode & 0o077 == 0


def test_what_helps_a_build_is_no_part_of_it(tmp_path: Path) -> None:
    with building(tmp_path / "reports") as new:
        (temporary_folder(new) / "fonts").mkdir()
        (temporary_folder(new) / "fonts" / "x.ttf").write_text("x")
        (new / "a.csv").write_text("a")
        (new / "b.csv").symlink_to(tmp_path)
        assert [path.name for path in _files_of(new)] == ["a.csv"]
        publish(new, tmp_path / "reports", [])
    assert [path.name for path in (tmp_path / "reports").rglob("*")] == ["a.csv"]


def test_a_process_without_a_home_or_with_an_odd_day_builds(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "abc")
    monkeypatch.delenv("HOME")

    def nobody(_: object) -> None:
        raise KeyError("getpwuid(): uid not found: 12345")

    monkeypatch.setattr("pwd.getpwuid", nobody)
    (place / "exports" / "log.csv").unlink()
    assert "flags.csv" in build(place)
