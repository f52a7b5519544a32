"""A person who is forgotten is nowhere; a pack with codes names nobody."""

import subprocess
import sys
from pathlib import Path

import duckdb
import pypdf
import pytest

from pipeline.commands.forget import forget
from pipeline.errors import SquadsidesError
from pipeline.intake import read_exports
from pipeline.intake.privacy.forgotten import id_digest
from pipeline.settings import Settings
from tests.conftest import Quiet, built
from tests.end_to_end.small import ATHLETES, contents, write_small_exports
from tests.test_architecture import ROOT

GONE, GONE_NAME = "BL-3", "Person BL-3"


def everything(reports: Path) -> str:
    """All text of a reports folder: names of files, tables, PDFs, the warehouse's every cell."""
    parts = list(contents(reports))
    for name, data in contents(reports).items():
        if name.endswith(".pdf"):
            pages = pypdf.PdfReader(reports / name).pages
            parts += [page.extract_text() for page in pages]
        elif name.endswith(".xlsx"):
            import openpyxl

            book = openpyxl.load_workbook(reports / name)
            parts += [str(cell.value) for sheet in book for row in sheet.rows for cell in row]
        else:
            parts.append(data.decode("utf-8"))
    with duckdb.connect(str(reports / "warehouse.duckdb"), read_only=True) as base:
        for (table,) in base.execute("show tables").fetchall():
            parts += [str(row) for row in base.execute(f"select * from {table}").fetchall()]
    return "\n".join(parts)


def exports_with_comments(folder: Path) -> Path:
    exports = write_small_exports(folder)
    (exports / "more.csv").write_text(
        "athlete_id,tested_on,test,side,trial,value,unit,note\n"
        f"BL-1,2026-04-13,single_hop,left,4,161,cm,stood in for {GONE_NAME}\n"
        f"{GONE},2026-04-13,single_hop,left,4,x,cm,slipped\n"
    )
    return exports


def test_a_forgotten_person_is_nowhere_and_stays_away(tmp_path: Path) -> None:
    exports, reports = exports_with_comments(tmp_path / "exports"), tmp_path / "reports"
    built(exports, reports, skip_pdf=False)
    assert GONE_NAME in everything(reports)
    lines = forget(exports, reports, Settings(), Quiet(), GONE)
    assert GONE not in everything(reports)
    assert "BL-1" in everything(reports)
    told = "\n".join(lines)
    assert "roster.csv: 1 row\n" in told
    assert "tests.csv: 48 rows" in told
    assert "log.csv: 2 rows" in told
    # A new export brings the person back: still left out, and never by the id itself.
    (exports / "week_9.csv").write_bytes((exports / "tests.csv").read_bytes())
    built(exports, reports)
    assert GONE not in "\n".join(
        data.decode() for name, data in contents(reports).items() if name.endswith(".csv")
    )
    listed = (exports / ".forgotten").read_text().split()
    assert len(listed) == 2  # the id and the name
    assert all(len(digest) == 64 for digest in listed)
    assert (exports / ".forgotten").stat().st_mode & 0o777 == 0o600


def test_nobody_is_forgotten_by_a_slip_of_the_pen(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    with pytest.raises(SquadsidesError, match="BL-33 is not an athlete_id"):
        forget(exports, tmp_path / "reports", Settings(), Quiet(), "BL-33")
    assert not (exports / ".forgotten").exists()
    assert not (tmp_path / "reports").exists()


def test_who_is_forgotten_shapes_no_figure_of_the_squad(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    without = write_small_exports(tmp_path / "without")
    for file in without.iterdir():
        lines = file.read_text().splitlines(keepends=True)
        file.write_text("".join(line for line in lines if not line.startswith(f"{GONE},")))
    forget(exports, tmp_path / "reports", Settings(), Quiet(), GONE)
    built(without, tmp_path / "clean")
    for name in ("asymmetries.csv", "flags.csv"):
        assert (tmp_path / "reports" / name).read_bytes() == (
            tmp_path / "clean" / name
        ).read_bytes()


def test_the_last_person_cannot_be_forgotten_by_an_empty_report(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    (exports / ".forgotten").write_text("\n".join(map(id_digest, ATHLETES)))
    with pytest.raises(SquadsidesError, match="Everybody in the roster has been forgotten"):
        read_exports(exports, Settings())


def test_the_commands_say_what_they_did(tmp_path: Path) -> None:
    exports, reports = write_small_exports(tmp_path / "exports"), tmp_path / "reports"
    folders = ["--exports", str(exports), "--reports", str(reports)]
    command = [sys.executable, "-m", "pipeline"]
    forget = [*command, "forget", *folders, "BL-9"]
    done = subprocess.run(forget, cwd=ROOT, capture_output=True, text=True)
    assert (done.returncode, "nothing was changed" in done.stderr) == (1, True)
    done = subprocess.run([*command, "doctor", *folders], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout
    assert f"ok  {exports} holds 3 files" in done.stdout
