"""Last week's reports, this week's exports, and ways to stop the build between them."""

import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import duckdb

from tests.end_to_end.small import contents, write_small_exports
from tests.test_architecture import ROOT

NAMING_CALLS = {"open", "open64", "openat", "mkdir", "rename", "unlink", "unlinkat", "rmdir"}
BLOCK = 4096


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
        self.folder = folder
        self.told = folder / "told"
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

    def write_count(self, breaker: Path) -> int:
        """How many calls of this week's build write to the reports folder."""
        self.begin()
        self._run_broken(breaker, 0, 0)
        return int(self.told.read_text())

    def break_one_write(self, breaker: Path, turn: int, error: int) -> str:
        """Let one call fail; what it was, nothing if there were fewer. The reports stay whole."""
        self.begin()
        done = self._run_broken(breaker, turn, error)
        call = self.told.read_text() if self.told.exists() else ""
        self.assert_told(done, call)
        return call

    def _run_broken(self, breaker: Path, turn: int, error: int) -> subprocess.CompletedProcess[str]:
        self.told.unlink(missing_ok=True)
        broken = {
            "LD_PRELOAD": str(breaker), "FAIL_UNDER": str(self.reports), "FAIL_AT": str(turn),
            "FAIL_AS": str(error), "FAIL_TOLD": str(self.told),
        }  # fmt: skip
        return subprocess.run(
            command(self.exports, self.reports, *self.more),
            cwd=ROOT, env={**os.environ, **broken}, capture_output=True, text=True,
        )  # fmt: skip

    def build_on_disk_of(self, size: int) -> bool:
        """Build on a file system of so many bytes; whether it was too small.

        The file system belongs to the build's own name space and is gone with it, so what lay
        there is copied out.
        """
        self.begin()
        disk = self.folder / "disk"
        disk.mkdir(exist_ok=True)
        build = shlex.join(command(self.exports, disk / "reports", *self.more))
        script = f"""
            mount -t tmpfs -o size={size} tmpfs {disk} && cp -a {self.reports} {disk} || exit 8
            {build}
            status=$?
            rm -r {self.reports} && cp -a {disk}/reports {self.reports} || exit 9
            exit $status"""
        done = subprocess.run(
            ["unshare", "--map-root-user", "--mount", "sh", "-c", script],
            cwd=ROOT, capture_output=True, text=True,
        )  # fmt: skip
        self.assert_told(done, f"a disk of {size} bytes")
        return done.returncode == 1

    def assert_told(self, done: subprocess.CompletedProcess[str], what: str) -> None:
        """The build ended as it should or said in one sentence why not; the reports are whole."""
        said = [line for line in done.stderr.splitlines() if not line.endswith("…")]
        if done.returncode == 0:
            assert (said, self.standing()) == ([], contents(self.clean)), what
        else:
            assert (done.returncode, len(said)) == (1, 1), (what, done.stderr)
            assert said[0].startswith("squadsides: "), what
            assert "cannot be written" in said[0], what
        self.assert_whole()


def size_of(folder: Path) -> int:
    """Bytes that a folder takes on a disk that hands out space in whole blocks."""
    blocks = sum(1 + path.stat().st_size // BLOCK for path in [folder, *folder.rglob("*")])
    return (blocks + 1) * BLOCK  # one for the folder it lies in


def write_breaker(folder: Path) -> Path:
    """Compile the library that makes one write fail."""
    source, library = Path(__file__).with_name("one_write_fails.c"), folder / "one_write_fails.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-Wall", "-o", library, source, "-ldl"], check=True)
    return library


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
