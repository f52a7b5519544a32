"""Builds that are stopped or lose a worker: one plain line, and nothing is left running."""

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Future
from functools import partial
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline import __main__ as cli
from pipeline.errors import ASKED, SquadsidesError
from pipeline.report.pdf.workers import printers
from tests.end_to_end.small import write_small_exports
from tests.end_to_end.weeks import command
from tests.test_architecture import ROOT

STOPPED = "squadsides: stopped; the earlier reports are untouched.\n"
BEGINNINGS = 2


@pytest.fixture(scope="module")
def exports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_small_exports(tmp_path_factory.mktemp("stopped") / "exports")


STOPPING = {"killed": (signal.SIGKILL, os.kill), "Ctrl-C": (signal.SIGINT, os.killpg)}
# Where workers are forked from a process that is begun before; a socket's place may have a hundred
# letters, and where it has more, each worker begins by itself, as all do on macOS; from Python 3.14
# on the socket then lies in the system's own temporary folder.
BEGUN = {"forked": "t", "by themselves": "t" * 100}


@pytest.mark.parametrize("begun", BEGUN)
@pytest.mark.parametrize("how", STOPPING)
def test_a_stopped_build_leaves_no_worker_and_no_passing_file(
    exports: Path, how: str, begun: str
) -> None:
    with tempfile.TemporaryDirectory() as place:
        (passing := Path(place) / BEGUN[begun]).mkdir()
        build = begin(exports, passing / "reports", passing)
        assert build.stdout is not None
        said = ""
        while not said.endswith("Writing the reports …\n"):  # workers are at their first pages
            line = build.stdout.readline()
            assert line, said
            said += line
        number, send = STOPPING[how]
        send(build.pid, number)
        said, _ = build.communicate()
        assert said == (STOPPED if how == "Ctrl-C" else "")
        wait_for(partial(is_over, build.pid))
        left = {path.name.partition("-")[0] for path in passing.iterdir()} - {"reports"}
        assert left <= ({"pymp"} if how == "killed" else set())  # who is killed clears nothing away


@pytest.mark.parametrize("begun", BEGUN)
def test_ctrl_c_while_workers_begin_is_one_line(exports: Path, begun: str) -> None:
    """At moments of which some fall between a worker's first instruction and its readiness.

    So did a stop in the test above: one worker was at its first page, the other still importing.
    """
    chance = random.Random(3)
    with tempfile.TemporaryDirectory() as place:
        for number in range(BEGINNINGS):
            (passing := Path(place) / str(number) / BEGUN[begun]).mkdir(parents=True)
            build = begin(exports, passing / "reports", passing)
            assert build.stdout is not None
            while build.stdout.readline() != "Reading the exports …\n":  # workers are begun first
                assert build.poll() is None
            time.sleep(chance.uniform(0, 1))
            os.killpg(build.pid, signal.SIGINT)
            said, _ = build.communicate()
            *steps, last = said.splitlines(keepends=True)
            assert last == STOPPED, said
            assert all(step.endswith("…\n") for step in steps), said
            wait_for(partial(is_over, build.pid))


def test_ctrl_c_that_a_library_passes_on_as_its_own_error_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """DuckDB does so while it is given a frame, and polars within a Python function."""

    class Stopped:
        def __arrow_c_stream__(self, requested_schema: object = None) -> Any:
            signal.raise_signal(signal.SIGINT)

    def building(_: object) -> None:
        with duckdb.connect() as connection:
            connection.register("incoming", Stopped())

    arguments = ["build", "--exports", "exports", "--reports", "reports"]
    monkeypatch.setattr(cli, "_build", building)
    handler = signal.getsignal(signal.SIGINT)
    hear_stops()
    try:
        assert cli.main(arguments) == cli.MENDABLE
    finally:
        signal.signal(signal.SIGINT, handler)
    assert capsys.readouterr().err == STOPPED

    monkeypatch.setattr(cli, "_build", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):  # what nobody stopped is a mistake of ours
        cli.main(arguments)


@pytest.mark.parametrize("number", ASKED)
def test_a_stop_that_python_drops_comes_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], number: signal.Signals
) -> None:
    """No error leaves the clean-up of an object; seen within that of an import's lock.

    Whoever is begun in the background has Ctrl-C ignored, and is asked to stop all the same.
    """

    class CleanedUp:
        def __del__(self) -> None:
            signal.raise_signal(number)

    def building(_: object) -> None:
        CleanedUp()
        wait_for(lambda: False)

    monkeypatch.setattr(cli, "_build", building)
    monkeypatch.setattr(sys, "unraisablehook", sys.unraisablehook)
    handlers = {one: signal.signal(one, signal.SIG_IGN) for one in ASKED}
    signal.signal(number, signal.default_int_handler if number == signal.SIGINT else signal.SIG_DFL)
    try:
        arguments = ["build", "--exports", "exports", "--reports", "reports"]
        assert cli.main(arguments) == cli.MENDABLE
    finally:
        for one, handler in handlers.items():
            signal.signal(one, handler)
    assert capsys.readouterr().err == STOPPED


def begin(exports: Path, reports: Path, passing: Path) -> "subprocess.Popen[str]":
    """A build with all pages, in a session of its own, that puts passing files into a folder."""
    return subprocess.Popen(
        command(exports, reports),
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={**os.environ, "TMPDIR": str(passing)}, start_new_session=True, preexec_fn=hear_stops,
    )  # fmt: skip


def hear_stops() -> None:
    """Whoever runs the tests in the background has some ignored, and every process they begin."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def test_a_worker_that_is_ended_from_outside_is_told_in_plain_words() -> None:
    with (
        pytest.raises(SquadsidesError, match="A process that prints pages was ended from outside"),
        printers(1) as pool,
    ):
        pool.submit(os._exit, 9).result()


LARGE = b"a page as no pipe holds at once" * 100_000


def test_a_worker_is_lost_while_more_waits_for_it_than_a_pipe_holds() -> None:
    """Whoever writes to a worker must not wait for one that is gone, nor a build for the writer."""
    with (
        pytest.raises(SquadsidesError, match="A process that prints pages was ended from outside"),
        printers(2) as pool,
    ):
        jobs: list[Future[Any]] = [pool.submit(os._exit, 9)]
        jobs += [pool.submit(len, LARGE) for _ in range(50)]
        for job in jobs:
            job.result()


def test_a_build_that_stops_leaves_no_worker_however_busy() -> None:
    """Not even one that does not hear that it is to leave, as in a library's own code."""
    with pytest.raises(KeyboardInterrupt), printers(2) as pool:
        numbers = [pool.submit(os.getpid).result() for _ in range(20)]
        pool.submit(deafen).result()
        jobs: list[Future[Any]] = [pool.submit(time.sleep, 600) for _ in range(4)]
        jobs += [pool.submit(len, LARGE) for _ in range(50)]
        raise KeyboardInterrupt
    for number in numbers:
        with pytest.raises(ProcessLookupError):
            os.kill(number, 0)
    assert all(job.done() for job in jobs)


def deafen() -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)


def test_an_error_comes_back_with_the_place_where_it_was_raised() -> None:
    with (
        pytest.raises(ZeroDivisionError) as told,
        printers(1) as pool,
    ):
        pool.submit(divmod, 1, 0).result()
    assert "in _answer" in "".join(told.value.__notes__)


class Stubborn(Exception):
    """An error that does not survive the way between processes."""

    def __reduce__(self) -> Any:
        raise TypeError("stays here")


def insist() -> None:
    raise Stubborn("as it was")


def test_an_error_that_cannot_travel_is_told_as_text() -> None:
    with pytest.raises(RuntimeError, match="Stubborn: as it was"), printers(1) as pool:
        pool.submit(insist).result()


def wait_for(is_so: Callable[[], bool]) -> None:
    latest = time.monotonic() + 600  # only so that nobody waits forever
    while not is_so():
        assert time.monotonic() < latest
        time.sleep(0.05)


def is_over(session: int) -> bool:
    """Whether no process of a session's group is left."""
    try:
        os.killpg(session, 0)
    except ProcessLookupError:
        return True
    return False
