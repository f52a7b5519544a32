"""Whatever stops a build, earlier reports stay whole and the next build equals a clean one.

`python -m tests.end_to_end.test_crashes 40` is the long run: it kills so many builds, makes each
write of a build fail, and fills small file systems.
"""

import errno
import fcntl
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline import __main__ as cli
from pipeline.errors import SquadsidesError
from pipeline.report.workers import printers
from tests.conftest import built
from tests.end_to_end.small import contents
from tests.end_to_end.weeks import (
    NAMING_CALLS,
    Weeks,
    command,
    kill_at,
    size_of,
    write_breaker,
)
from tests.test_architecture import ROOT

KILLS = 6  # in every test run; the long run has forty
STOPPED = "squadsides: stopped; the earlier reports are untouched.\n"
WRITES = 6  # the long run has all
BEGINNINGS = 2


@pytest.fixture(scope="module")
def weeks(tmp_path_factory: pytest.TempPathFactory) -> Weeks:
    return Weeks(tmp_path_factory.mktemp("crashes"), "--skip-pdf")


def test_a_killed_build_leaves_whole_reports_and_the_next_is_clean(weeks: Weeks) -> None:
    chance = random.Random(11)
    stopped = 0
    for number in range(KILLS):
        weeks.begin()
        # The second half of a build writes; the last of it publishes.
        stopped += kill_at(weeks, weeks.seconds * (number + chance.random()) / KILLS)
        weeks.assert_whole()
    assert stopped >= KILLS // 2
    weeks.assert_next_is_clean()


@pytest.fixture(scope="module")
def breaker(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_breaker(tmp_path_factory.mktemp("breaker"))


@pytest.mark.skipif(sys.platform != "linux", reason="libraries are preloaded in Linux's way")
def test_a_write_that_fails_leaves_whole_reports_and_the_next_is_clean(
    weeks: Weeks, breaker: Path
) -> None:
    """A few of the writes; the long run makes each of them fail."""
    chance = random.Random(5)
    total = weeks.write_count(breaker)
    assert total > 100  # there were writes to fail
    for part in range(WRITES):
        turn = 1 + int(total * (part + chance.random()) / WRITES)
        weeks.break_one_write(breaker, turn, errno.ENOSPC)
    weeks.assert_next_is_clean()


@pytest.mark.parametrize("limit", [0, 500, 4_000, 100_000, 1_000_000])
def test_a_full_disk_is_told_in_plain_words(weeks: Weeks, limit: int) -> None:
    """A limit on the size of a file stands in for a disk that fills up at that point."""

    def narrow() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    weeks.begin()
    done = subprocess.run(
        command(weeks.exports, weeks.reports, *weeks.more),
        cwd=ROOT, capture_output=True, text=True, preexec_fn=narrow,
    )  # fmt: skip
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "cannot be written" in done.stderr
    weeks.assert_last_weeks()


def test_no_part_of_a_build_lies_in_the_machines_folder_for_temporary_files(
    weeks: Weeks, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    weeks.begin()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "there is none"))
    built(weeks.exports, weeks.reports)
    assert contents(weeks.reports) == contents(weeks.clean)


STOPPING = {"killed": (signal.SIGKILL, os.kill), "Ctrl-C": (signal.SIGINT, os.killpg)}
# Where workers are forked from a process that is begun before; a socket's place may have a hundred
# letters, and where it has more, each worker begins by itself, as all do on macOS.
BEGUN = {"forked": "t", "by themselves": "t" * 100}


@pytest.mark.parametrize("begun", BEGUN)
@pytest.mark.parametrize("how", STOPPING)
def test_a_stopped_build_leaves_no_worker_and_no_passing_file(
    weeks: Weeks, how: str, begun: str
) -> None:
    with tempfile.TemporaryDirectory() as place:
        (passing := Path(place) / BEGUN[begun]).mkdir()
        build = begin(weeks, passing)
        wait_for(lambda: any(passing.glob("weasyprint-*/*")))  # workers are at their first pages
        number, send = STOPPING[how]
        send(build.pid, number)
        said, _ = build.communicate(timeout=60)
        assert "Traceback" not in said, said[-3000:]
        assert said.endswith(STOPPED) == (how == "Ctrl-C")
        wait_for(lambda: not is_running(build.pid) and not any(passing.glob("weasyprint-*")))


@pytest.mark.parametrize("begun", BEGUN)
def test_ctrl_c_while_workers_begin_is_one_line(weeks: Weeks, begun: str) -> None:
    """At moments of which some fall between a worker's first instruction and its readiness.

    So did a stop in the test above: one worker was at its first page, the other still importing.
    """
    chance = random.Random(3)
    with tempfile.TemporaryDirectory() as place:
        (passing := Path(place) / BEGUN[begun]).mkdir()
        for _ in range(BEGINNINGS):
            build = begin(weeks, passing)
            time.sleep(chance.uniform(0.5, 2))
            os.killpg(build.pid, signal.SIGINT)
            said, _ = build.communicate(timeout=60)
            assert said in (STOPPED, f"Reading the exports …\n{STOPPED}")


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
    try:
        assert cli.main(arguments) == cli.MENDABLE
    finally:
        signal.signal(signal.SIGINT, handler)
    assert capsys.readouterr().err == STOPPED

    monkeypatch.setattr(cli, "_build", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):  # what nobody stopped is a mistake of ours
        cli.main(arguments)


def begin(weeks: Weeks, passing: Path, reports: Path | None = None) -> "subprocess.Popen[str]":
    """A build with all pages, in a session of its own, that puts passing files into a folder."""
    return subprocess.Popen(
        command(weeks.exports, reports or passing / "reports"),
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={**os.environ, "TMPDIR": str(passing)}, start_new_session=True,
    )  # fmt: skip


def test_a_worker_that_is_ended_from_outside_is_told_in_plain_words() -> None:
    with (
        pytest.raises(SquadsidesError, match="A process that prints pages was ended from outside"),
        printers(1) as pool,
    ):
        pool.submit(os._exit, 9).result()


def wait_for(is_so: Callable[[], bool]) -> None:
    latest = time.monotonic() + 60
    while not is_so():
        assert time.monotonic() < latest
        time.sleep(0.05)


def is_running(session: int) -> bool:
    """Whether any process of a session's group is left."""
    try:
        os.killpg(session, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_second_build_at_the_same_time_is_turned_away(weeks: Weeks) -> None:
    weeks.begin()
    held = os.open(weeks.reports, os.O_RDONLY)
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(SquadsidesError, match="Another build is writing to"):
            built(weeks.exports, weeks.reports)
    finally:
        os.close(held)
    weeks.assert_last_weeks()
    weeks.assert_next_is_clean()


def test_a_folder_in_the_place_of_the_reports_that_cannot_be_written(
    weeks: Weeks, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(SquadsidesError, match="cannot be written: Not a directory"):
        built(weeks.exports, tmp_path / "file" / "reports")


def stopped_while_moving(with_what: type[BaseException], monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on the third file that is moved to its place stops the build."""
    moves = 0
    replace = Path.replace

    def stopping(path: Path, target: Path) -> Any:
        nonlocal moves
        moves += not path.name.endswith(".part")
        if moves == 3:
            moves += 1
            raise with_what
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", stopping)


def test_ctrl_c_is_too_late_once_a_complete_build_is_moved_to_its_place(
    weeks: Weeks, monkeypatch: pytest.MonkeyPatch
) -> None:
    weeks.begin()
    stopped_while_moving(KeyboardInterrupt, monkeypatch)
    built(weeks.exports, weeks.reports)
    assert weeks.standing() == contents(weeks.clean)


def test_a_build_that_ends_between_seal_and_end_is_moved_to_its_end(
    weeks: Weeks, monkeypatch: pytest.MonkeyPatch
) -> None:
    weeks.begin()
    with monkeypatch.context() as patched:
        stopped_while_moving(SystemExit, patched)
        with pytest.raises(SystemExit):
            built(weeks.exports, weeks.reports)
    weeks.assert_whole()
    assert weeks.standing() not in (contents(weeks.old), contents(weeks.clean))
    weeks.assert_next_is_clean()


def test_what_a_build_stopped_at_its_very_end_leaves_is_cleared_away(weeks: Weeks) -> None:
    shutil.rmtree(weeks.reports, ignore_errors=True)
    shutil.copytree(weeks.clean, weeks.reports)
    (weeks.reports / ".unfinished").mkdir()
    (weeks.reports / ".unfinished" / ".complete.json").write_text("[]")
    weeks.assert_next_is_clean()


def kill_in_turn(weeks: Weeks, kills: int) -> str:
    """Kill so many builds with all their PDFs, each followed by a clean one."""
    chance = random.Random()
    begun = stopped = 0
    seconds = weeks.seconds
    while stopped < kills:
        weeks.begin()
        begun += 1
        moment = seconds * (begun % kills + chance.random()) / kills  # from first to last in turn
        if kill_at(weeks, moment):
            stopped += 1
        else:
            seconds = moment  # a build takes less than that
        weeks.assert_whole()
        weeks.assert_next_is_clean()
    return f"{begun} builds begun, {stopped} killed on the way"


def break_in_turn(weeks: Weeks, breaker: Path) -> str:
    """Let each write of a build fail as on a full disk, and each that names a file as in a folder
    where one may not write; a clean build follows each state that is new."""
    followed = [contents(weeks.old)]  # from here on to a clean build has been gone already
    calls: list[str] = []

    def broken(turn: int, error: int) -> str:
        call = weeks.break_one_write(breaker, turn, error)
        if (state := contents(weeks.reports)) not in followed:
            weeks.assert_next_is_clean()
            followed.append(state)
        return call.split()[0] if call else ""

    while call := broken(len(calls) + 1, errno.ENOSPC):
        calls.append(call)
    refused = [turn for turn, call in enumerate(calls, start=1) if call in NAMING_CALLS]
    for turn in refused:
        broken(turn, errno.EACCES)
    kinds = ", ".join(f"{calls.count(call)} {call}" for call in sorted(set(calls)))
    return (
        f"{len(calls)} writes failed on a full disk ({kinds}), {len(refused)} for want of rights, "
        f"{len(followed)} states followed up"
    )


def fill_in_turn(weeks: Weeks, steps: int) -> str:
    """Build on file systems that are too small by more and by less, until one is large enough."""
    full = 0
    needed = size_of(weeks.old) + size_of(weeks.clean)
    for step in range(steps):
        full += weeks.build_on_disk_of(size_of(weeks.old) + step * (needed // steps))
        weeks.assert_next_is_clean()
    assert not weeks.build_on_disk_of(2 * needed)
    return f"{steps + 1} small file systems, {full} of them filled up"


def main() -> None:
    """The long run, with all PDFs: `python -m tests.end_to_end.test_crashes [kills]`."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    with tempfile.TemporaryDirectory() as name:
        weeks = Weeks(Path(name))
        print(kill_in_turn(weeks, kills), flush=True)
        print(fill_in_turn(weeks, 20), flush=True)
        print(break_in_turn(weeks, write_breaker(Path(name))), flush=True)
    print("Nothing torn or lost, each stopped build told in one sentence, each next build clean.")


if __name__ == "__main__":
    main()
