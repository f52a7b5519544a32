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
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import SquadsidesError
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

KILLS = 2  # in every test run; the long run has forty
WRITES = 2  # the long run has all


@pytest.fixture(scope="module")
def weeks(tmp_path_factory: pytest.TempPathFactory) -> Weeks:
    return Weeks(tmp_path_factory.mktemp("crashes"), "--skip-pdf")


def test_a_killed_build_leaves_whole_reports_and_the_next_is_clean(weeks: Weeks) -> None:
    for _ in killed(weeks, KILLS, random.Random(11)):
        weeks.assert_whole()
    weeks.assert_next_is_clean()


def killed(weeks: Weeks, kills: int, chance: random.Random) -> Iterator[bool]:
    """Begin builds until so many were killed on the way; each time whether one was.

    The moments go from first to last in turn; a build that is done by then says how long one takes.
    """
    stopped, seconds = 0, weeks.seconds
    for begun in count():
        if stopped == kills:
            return
        weeks.begin()
        moment = seconds * (begun % kills + chance.random()) / kills
        was_running = kill_at(weeks, moment)
        stopped += was_running
        seconds = seconds if was_running else moment
        yield was_running


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


@pytest.mark.parametrize("limit", [0, 4_000, 1_000_000])
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
    begun = 0
    for _ in killed(weeks, kills, random.Random()):
        begun += 1
        weeks.assert_whole()
        weeks.assert_next_is_clean()
    return f"{begun} builds begun, {kills} killed on the way"


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
