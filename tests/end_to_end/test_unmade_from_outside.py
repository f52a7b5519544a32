"""What could not be made, from outside: workers, cluster, command line, builds without PDFs."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from distributed import Client, LocalCluster

import pipeline.build
from pipeline import __main__ as cli
from pipeline.errors import STOPS, SquadsidesError
from pipeline.last_build import Request, inputs_digest
from pipeline.parts import places
from pipeline.plan import blocks
from pipeline.report.outputs import write_pages
from pipeline.report.pdf.render import render
from pipeline.report.pdf.workers import printers
from pipeline.report.sections import attempted_points
from pipeline.settings import Settings
from tests.conftest import Built, Quiet, built
from tests.end_to_end.failing import (
    RECORD,
    Weeks,
    athlete,
    block,
    drawing,
    failed,
    model,
    pages_are_printed_here,
    replaced,
    weeks,
    with_film,
)
from tests.end_to_end.small import contents
from tests.end_to_end.test_stopped import hear_stops
from tests.test_architecture import ROOT

__all__ = ["failed", "pages_are_printed_here", "weeks"]

pytestmark = pytest.mark.usefixtures("pages_are_printed_here")

# ---------------------------------------------------------------- what is no matter of one page


@pytest.mark.parametrize(
    ("where", "name", "error"),
    [
        (write_pages, "athlete_page", MemoryError),
        (blocks, "next_block", SquadsidesError),
        (attempted_points, "point", KeyboardInterrupt),
    ],
    ids=["page", "block", "point"],
)
def test_what_stops_a_build_stops_it_wherever_it_comes(
    where: Any, name: str, error: type[BaseException], weeks: Weeks, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def stops(*_: object) -> None:
        raise error

    monkeypatch.setattr(where, name, stops)
    with pytest.raises(error):
        weeks.on_top(tmp_path / "reports")
    assert contents(tmp_path / "reports") == contents(weeks.old)


class OnArrival:
    """Something on a page that does its worst where the page is printed."""

    def __init__(self, what: Callable[..., object], *given: object) -> None:
        self.worst = what, given

    def __reduce__(self) -> Any:
        return self.worst

    def __repr__(self) -> str:
        return "on arrival"


def test_a_worker_that_is_lost_is_told_as_ever(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    deadly = with_film((OnArrival(os._exit, 9),))
    replaced(monkeypatch, write_pages, "athlete_page", athlete("B2"), deadly)
    monkeypatch.setattr(places, "printers", printers)
    monkeypatch.setattr(write_pages, "render", render)
    with pytest.raises(SquadsidesError, match="A process that prints pages was ended from outside"):
        weeks.on_top(tmp_path / "reports")
    assert contents(tmp_path / "reports") == contents(weeks.old)


def test_a_full_memory_where_pages_are_printed_is_no_matter_of_one_page(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    huge = with_film((OnArrival(bytearray, 1 << 62),))
    replaced(monkeypatch, write_pages, "athlete_page", athlete("B2"), huge)
    with pytest.raises(MemoryError):
        weeks.on_top(tmp_path / "reports")


# ---------------------------------------------------------------- workers, cluster, command line


def fails_there() -> None:
    """In a worker, for as long as it lives."""
    drawing(pytest.MonkeyPatch())


def test_a_cluster_and_processes_leave_the_same_files(
    weeks: Weeks, failed: Callable[[str], Built], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawing(monkeypatch)
    monkeypatch.setattr(places, "printers", printers)
    monkeypatch.setattr(write_pages, "render", render)
    inputs = inputs_digest(weeks.exports, None)
    with (
        LocalCluster(
            n_workers=1, threads_per_worker=1, dashboard_address=":0", silence_logs=50
        ) as cluster,
        Client(cluster, set_as_default=False) as client,
    ):
        client.run(fails_there)
        for name, workers in (("cluster", cluster.scheduler_address), ("here", 2)):
            pipeline.build.build(
                weeks.exports, tmp_path / name, Settings(), Quiet(), Request(inputs), workers
            )
            assert contents(tmp_path / name) == contents(failed("drawing").reports)


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., int]]:
    """The command line in this process, which is as it was afterwards."""
    monkeypatch.setattr("pipeline.report.pdf.workers.start_early", lambda: None)
    mask, handler = os.umask(0o022), signal.getsignal(signal.SIGINT)
    os.umask(mask)
    hear_stops()
    yield lambda *arguments: cli.main(list(map(str, arguments)))
    STOPS.clear()
    os.umask(mask)
    signal.signal(signal.SIGINT, handler)


FAILS = """
import sys
import pytest
from pipeline.report.sections import attempted_points
from pipeline.__main__ import main
from tests.end_to_end.failing import CASES
CASES["drawing"].patch(pytest.MonkeyPatch())
sys.exit(main(sys.argv[1:]))
"""


def test_a_page_that_could_not_be_made_is_exit_status_4_and_the_last_lines(
    weeks: Weeks, failed: Callable[[str], Built], tmp_path: Path, command: Callable[..., int],
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """With its workers, as a person starts it; the second time it is mended."""
    reports = tmp_path / "reports"
    arguments = ["build", "--exports", str(weeks.exports), "--reports", str(reports)]
    done = subprocess.run(
        [sys.executable, "-c", FAILS, *arguments], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == cli.UNMADE == 4, done.stderr
    assert "Traceback" not in done.stdout + done.stderr
    assert done.stdout.splitlines()[-3:] == [
        f"Reports are in {reports}",
        f"Could not be made: athletes/B2.pdf (see {reports}/problems/athletes/B2.txt).",
        "All else is made. Please show these files to whoever looks after the program; "
        "the next build tries again.",
    ]
    assert contents(reports) == contents(failed("drawing").reports)
    written = [reports, *reports.rglob("*")]
    assert {path.name for path in written if path.stat().st_mode & 0o077} == set()

    assert command(*arguments) == cli.BUILT
    said = capsys.readouterr().out
    assert "Nothing has changed" not in said
    assert said.splitlines()[-1] == f"Reports are in {reports}"
    assert contents(reports) == contents(weeks.clean)


@pytest.mark.parametrize(
    ("refused", "more", "status"),
    [(False, ["--strict"], 4), (True, ["--strict"], 3), (True, [], 4)],
)
def test_refused_rows_go_before_what_could_not_be_made(
    refused: bool, more: list[str], status: int, weeks: Weeks, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, command: Callable[..., int],
) -> None:  # fmt: skip
    block(monkeypatch)
    exports = tmp_path / "exports"
    shutil.copytree(weeks.exports, exports)
    if refused:
        (exports / "more.csv").write_text(
            "athlete_id,tested_on,test,side,value\nA1,2026-04-27,single_hop,left,far\n"
        )
    build = ["build", "--exports", exports, "--reports", tmp_path / "r", "--skip-pdf", *more]
    assert command(*build) == status
    assert command(*build) == status  # and nothing is taken for done


def test_ctrl_c_that_a_library_makes_its_own_error_of_is_still_a_stop(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Callable[..., int],
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    def stopped(*_: object) -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            raise ValueError("a library's own") from None

    monkeypatch.setattr(attempted_points, "point", stopped)
    shutil.copytree(weeks.old, tmp_path / "reports")
    build = ["build", "--exports", weeks.exports, "--reports", tmp_path / "reports", "--skip-pdf"]
    assert command(*build) == cli.MENDABLE
    assert "squadsides: stopped; the earlier reports are untouched." in capsys.readouterr().err
    assert contents(tmp_path / "reports") == contents(weeks.old)


def test_who_is_forgotten_is_gone_and_what_could_not_be_made_is_said(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Callable[..., int],
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    exports, reports = tmp_path / "exports", tmp_path / "reports"
    shutil.copytree(weeks.exports, exports)
    drawing(monkeypatch)
    model(monkeypatch)
    built(exports, reports, skip_pdf=False)
    assert {path.name for path in reports.rglob("*.txt")} == {"A1.txt", "B2.txt"}
    assert command("forget", "--exports", exports, "--reports", reports, "A1") == cli.UNMADE
    assert "Could not be made: athletes/B2.pdf" in capsys.readouterr().out
    assert not [path for path in reports.rglob("*") if path.stem == "A1"]


# ---------------------------------------------------------------- builds without PDFs


def test_without_pdfs_the_page_in_its_place_stays_beside_its_reason(
    weeks: Weeks, failed: Callable[[str], Built], tmp_path: Path
) -> None:
    reports = tmp_path / "reports"
    shutil.copytree(failed("drawing").reports, reports)
    before = contents(reports)
    for _ in range(2):
        made = built(weeks.exports, reports)
        assert made.summary.unmade == ()
        assert {name for name in before if before[name] != contents(reports)[name]} == {RECORD}
    built(weeks.exports, reports, skip_pdf=False)
    assert contents(reports) == contents(weeks.clean)


def test_without_pdfs_what_is_mended_leaves_no_reason_behind(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        block(patched)
        made = built(weeks.exports, tmp_path / "reports")
    assert made.summary.unmade == (("the next block of B1", "problems/athletes/B1.txt"),)
    built(weeks.exports, tmp_path / "reports")
    built(weeks.exports, tmp_path / "clean")
    assert contents(tmp_path / "reports") == contents(tmp_path / "clean")
    assert not (tmp_path / "reports" / "problems").exists()


def test_without_a_record_the_old_page_and_its_reason_do_not_stay(
    weeks: Weeks, failed: Callable[[str], Built], tmp_path: Path
) -> None:
    reports = tmp_path / "reports"
    shutil.copytree(failed("pack").reports, reports)
    (reports / RECORD).unlink()
    (reports / "problems" / "notes.txt").write_text("mine")
    built(weeks.exports, reports, skip_pdf=False)
    (reports / "problems" / "notes.txt").unlink()  # nobody takes that for ours
    assert contents(reports) == contents(weeks.clean)
