"""Building again: nothing for nothing, no page twice, and always what a clean build gives."""

import os
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from tests.end_to_end.small import contents, write_small_exports
from tests.test_architecture import ROOT, SLOW_TO_IMPORT

NOTHING = "Nothing has changed since the last build; the reports stay as they are."


def run(exports: Path, reports: Path, *more: str, python: tuple[str, ...] = ()) -> str:
    """One build as a person starts it; what it printed."""
    command = [sys.executable, *python, "-m", "pipeline", "build", "--exports", str(exports)]
    done = subprocess.run(
        [*command, "--reports", str(reports), *more], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The small squad with its PDFs, built once: exports and reports."""
    folder = tmp_path_factory.mktemp("rebuilding")
    exports = write_small_exports(folder / "exports")
    run(exports, folder / "reports")
    return exports, folder / "reports"


def copied(first: tuple[Path, Path], folder: Path) -> tuple[Path, Path]:
    subprocess.run(["cp", "-a", str(first[0]), str(first[1]), str(folder)], check=True)
    return folder / "exports", folder / "reports"


def changed_since(reports: Path, before: dict[str, int]) -> set[str]:
    return {name for name, time in times(reports).items() if before.get(name) != time}


def times(reports: Path) -> dict[str, int]:
    return {name: (reports / name).stat().st_mtime_ns for name in contents(reports)}


def test_nothing_changed_costs_nothing(first: tuple[Path, Path], tmp_path: Path) -> None:
    exports, reports = copied(first, tmp_path)
    before = times(reports)
    said = run(exports, reports, python=("-X", "importtime"))
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in said.splitlines()}
    assert NOTHING in said
    assert "8 athletes in 1 squad, as of 2026-04-13" in said
    assert loaded & SLOW_TO_IMPORT == set()
    assert changed_since(reports, before) == set()


def test_the_same_day_asked_for_is_no_change(first: tuple[Path, Path]) -> None:
    assert NOTHING in run(*first, "--as-of", "2026-04-13")
    assert NOTHING in run(*first, "--skip-pdf")


def test_another_day_settings_or_touched_file_is_a_change(
    first: tuple[Path, Path], tmp_path: Path
) -> None:
    exports, reports = copied(first, tmp_path)
    wanted = contents(reports)
    (reports / "flags.csv").write_text("edited")
    (reports / "athletes" / "BL-4.pdf").unlink()
    before = times(reports)
    assert NOTHING not in run(exports, reports)
    assert contents(reports) == wanted
    pdfs = {name for name in changed_since(reports, before) if name.endswith(".pdf")}
    assert pdfs == {"athletes/BL-4.pdf"}
    assert NOTHING not in run(exports, reports, "--skip-pdf", "--as-of", "2026-04-01")
    settings = tmp_path / "team.toml"
    settings.write_text(
        '[report]\nmedical_contact = "the physio"\n[review_lines."Bleu"]\nsingle_hop = 12\n'
    )
    said = run(exports, reports, "--skip-pdf", "--settings", str(settings))
    assert NOTHING not in said
    assert "review lines for Bleu, a squad that nobody in the roster is in" in said


def test_a_new_file_makes_only_the_pages_it_changes_and_equals_a_clean_build(
    first: tuple[Path, Path], tmp_path: Path
) -> None:
    exports, reports = copied(first, tmp_path)
    before = times(reports)
    (exports / "more.csv").write_text(
        "athlete_id,trained_on,exercise,set_number,side,reps,load,unit\n"
        "BL-5,2026-04-12,Goblet squat,2,left,8,16,kg\n"
    )
    run(exports, reports)
    pdfs = {name for name in changed_since(reports, before) if name.startswith("athletes/")}
    assert pdfs <= {"athletes/BL-5.pdf"}
    run(exports, tmp_path / "clean")
    assert contents(reports) == contents(tmp_path / "clean")


def test_who_left_the_roster_leaves_the_folder(first: tuple[Path, Path], tmp_path: Path) -> None:
    exports, reports = copied(first, tmp_path)
    lines = (exports / "roster.csv").read_text().splitlines(keepends=True)
    (exports / "roster.csv").write_text("".join(lines[:-1]))
    own = [reports / "squad_notes.pdf", reports / "athletes" / "notes.pdf"]
    for path in own:
        path.write_bytes(b"saved here by staff")
    run(exports, reports, "--skip-pdf")
    run(exports, reports)
    assert all(path.exists() for path in own)
    assert not (reports / "athletes" / "BL-8.pdf").exists()
    assert (reports / "athletes" / "BL-7.pdf").exists()


def test_a_sheet_filled_in_where_it_lies_is_kept(first: tuple[Path, Path], tmp_path: Path) -> None:
    exports, reports = copied(first, tmp_path)
    book = openpyxl.load_workbook(reports / "decisions.xlsx")
    book.active["A1"] = "filled in"
    book.save(reports / "decisions.xlsx")
    filled_in = (reports / "decisions.xlsx").read_bytes()
    said = run(exports, reports, "--skip-pdf")
    assert "put it into the exports folder, so that it counts" in said
    assert (reports / "decisions_filled_in.xlsx").read_bytes() == filled_in
    assert (reports / "decisions.xlsx").read_bytes() != filled_in


def test_reports_are_their_owners_alone(first: tuple[Path, Path]) -> None:
    reports = first[1]
    everything = [reports, *reports.rglob("*")]
    assert {path.name for path in everything if path.stat().st_mode & 0o077} == set()


def test_workers_place_and_clock_leave_no_trace(first: tuple[Path, Path], tmp_path: Path) -> None:
    exports = first[0]
    (passing := tmp_path / "passing").mkdir()
    elsewhere = {"TZ": "Pacific/Auckland", "LC_ALL": "C", "PYTHONHASHSEED": "77"}
    environment = {**os.environ, **elsewhere, "TMPDIR": str(passing)}
    command = [sys.executable, "-m", "pipeline", "build", "--exports", str(exports)]
    subprocess.run(
        [*command, "--reports", str(tmp_path / "r"), "--workers", "1"],
        cwd=ROOT, env=environment, check=True, capture_output=True,
    )  # fmt: skip
    assert contents(tmp_path / "r") == contents(first[1])
    assert list(passing.iterdir()) == []  # the copies of typefaces are gone as well
