"""Whatever stops a build, earlier reports stay whole and the next build equals a clean one.

`python -m tests.end_to_end.test_crashes 40` kills so many builds, with their PDFs, one by one.
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
import polars as pl
import pytest
import xlsxwriter

from pipeline.errors import SquadsidesError
from tests.conftest import built
from tests.end_to_end.small import contents, write_small_exports
from tests.test_architecture import ROOT

KILLS = 6  # in every test run; the long run has forty


def command(exports: Path, reports: Path, *more: str) -> list[str]:
    build = [sys.executable, "-m", "pipeline", "build", "--exports", str(exports)]
    return [*build, "--reports", str(reports), *more]


def finished(exports: Path, reports: Path, *more: str) -> float:
    """Build to the end; how long it took."""
    begun = time.perf_counter()
    done = subprocess.run(
        command(exports, reports, *more), cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return time.perf_counter() - begun


class Weeks:
    """Last week's reports, this week's exports, and what this week's reports must be."""

    def __init__(self, folder: Path, *more: str) -> None:
        self.more = more
        self.exports = write_small_exports(folder / "exports")
        self.old = folder / "old"
        finished(self.exports, self.old, *more)
        tests = self.exports / "tests.csv"
        tests.write_text(tests.read_text() + "BL-4,2026-04-13,single_hop,left,4,120,cm\n")
        self.clean = folder / "clean"
        self.seconds = finished(self.exports, self.clean, *more)
        self.reports = folder / "reports"

    def begin(self) -> None:
        """The reports folder as last week's build left it."""
        shutil.rmtree(self.reports, ignore_errors=True)
        shutil.copytree(self.old, self.reports)

    def assert_whole(self) -> None:
        """Every file is last week's or this week's, none is torn or missing."""
        old, new = contents(self.old), contents(self.clean)
        for name, data in self.standing().items():
            assert data in (old.get(name), new.get(name)), name
        assert self.standing().keys() >= old.keys() & new.keys()
        with duckdb.connect(str(self.reports / "warehouse.duckdb"), read_only=True) as base:
            rows = base.execute("select count(*) from mart_findings").fetchone()
        assert rows is not None and rows[0] > 0

    def assert_last_weeks(self) -> None:
        assert self.standing() == contents(self.old)

    def standing(self) -> dict[str, bytes]:
        """The reports folder without a build that is still beside it."""
        names = contents(self.reports).items()
        return {name: data for name, data in names if not name.startswith(".unfinished")}

    def assert_next_is_clean(self) -> None:
        finished(self.exports, self.reports, *self.more)
        assert contents(self.reports) == contents(self.clean)


def kill_at(weeks: Weeks, moment: float) -> bool:
    """Start this week's build and kill it, its workers too; whether it was still running."""
    build = subprocess.Popen(
        command(weeks.exports, weeks.reports, *weeks.more),
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    try:
        build.wait(moment)
    except subprocess.TimeoutExpired:
        os.killpg(build.pid, signal.SIGKILL)
        build.wait()
        return True
    return False


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


def failing_once(
    monkeypatch: pytest.MonkeyPatch, turn: int
) -> Callable[[], bool]:  # whether the turn came
    """Make one write of the whole build fail as on a full disk; `turn` says which."""
    count = 0

    def broken(call: Callable[..., Any], is_write: Callable[..., bool]) -> Callable[..., Any]:
        def wrapped(*args: Any, **named: Any) -> Any:
            nonlocal count
            if is_write(*args, **named):
                count += 1
                if count == turn:
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return call(*args, **named)

        return wrapped

    def opens_to_write(path: Path, mode: str = "r", *args: Any, **named: Any) -> bool:
        return "w" in mode

    always = lambda *args, **named: True  # noqa: E731
    monkeypatch.setattr(Path, "open", broken(Path.open, opens_to_write))
    for owner, name in (
        (Path, "mkdir"),
        (Path, "replace"),
        (Path, "unlink"),
        (pl.DataFrame, "write_csv"),
        (xlsxwriter.Workbook, "close"),
    ):
        monkeypatch.setattr(owner, name, broken(getattr(owner, name), always))
    return lambda: count >= turn


def test_every_write_that_fails_leaves_whole_reports_and_the_next_is_clean(
    weeks: Weeks, monkeypatch: pytest.MonkeyPatch
) -> None:
    turn = 0
    while True:
        turn += 1
        weeks.begin()
        with monkeypatch.context() as patched:
            came = failing_once(patched, turn)
            try:
                built(weeks.exports, weeks.reports)
            except SquadsidesError as said:
                assert "cannot be written: No space left on device" in str(said)
            else:
                assert not came(), f"write {turn} failed and nobody was told"
                break
        weeks.assert_whole()
    assert turn > 15  # there were writes to fail
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


def test_a_build_stopped_between_seal_and_end_is_moved_to_its_end(
    weeks: Weeks, monkeypatch: pytest.MonkeyPatch
) -> None:
    weeks.begin()
    moves = 0
    replace = Path.replace

    def stopping(path: Path, target: Path) -> Any:
        nonlocal moves
        moves += not path.name.endswith(".part")
        if moves == 3:
            raise KeyboardInterrupt
        return replace(path, target)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", stopping)
        with pytest.raises(KeyboardInterrupt):
            built(weeks.exports, weeks.reports)
    weeks.assert_whole()
    assert weeks.standing() not in (contents(weeks.old), contents(weeks.clean))
    weeks.assert_next_is_clean()


def main() -> None:
    """The long run: kill builds with all their PDFs, each followed by a clean one."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    chance = random.Random()
    stopped = 0
    with tempfile.TemporaryDirectory() as name:
        weeks = Weeks(Path(name))
        for number in range(kills):
            weeks.begin()
            stopped += kill_at(weeks, 1.05 * weeks.seconds * (number + chance.random()) / kills)
            weeks.assert_whole()
            weeks.assert_next_is_clean()
    print(f"{kills} builds, {stopped} killed on the way: nothing torn, each next build clean.")


if __name__ == "__main__":
    main()
