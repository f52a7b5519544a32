"""Builds stopped with Ctrl-C, and builds that lose a worker, at random moments; by hand, on Linux.

    python -m tests.end_to_end.stops [Ctrl-Cs] [lost workers]

Each must say one plain line, leave nothing running and leave the reports whole; how long the
slowest took is printed, as a busy machine is no fault of the code.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from pipeline.report.pdf.workers import LOST
from tests.end_to_end.test_stopped import STOPPED, begin, is_over
from tests.end_to_end.weeks import Weeks, finished

FIRST = 0.3  # seconds; before that Python itself is beginning
# A Ctrl-C that comes while Python makes code of a text, as it does for each dataclass, is caught as
# any other, and yet Python ends itself by that signal in the end.
ENDED = (1, -signal.SIGINT)
PARENT = 1  # place in /proc/<id>/stat behind the name
EARLIER = "2026-03-30"


class AllPages(Weeks):
    """Last week's reports are of an earlier day, so that this week's build prints every page."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        shutil.rmtree(self.old)
        finished(self.exports, self.old, "--as-of", EARLIER)


def processes() -> dict[int, tuple[list[str], bytes]]:
    """Every process: what the system tells of it behind its name, and how it was begun."""
    found = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            stat, line = (folder / "stat").read_text(), (folder / "cmdline").read_bytes()
        except OSError:
            continue  # it has ended meanwhile
        found[int(folder.name)] = stat.rpartition(")")[2].split(), line
    return found


def workers_of(build: int) -> list[int]:
    """The processes that print for a build: those the process to fork from has forked."""
    there = processes()
    forking = {
        number for number, (stat, line) in there.items()
        if stat[PARENT] == str(build) and b"forkserver" in line
    }  # fmt: skip
    return [number for number, (stat, _) in there.items() if int(stat[PARENT]) in forking]


def ctrl_c(build: "subprocess.Popen[str]") -> bool:
    """As a terminal does it: to every process of the session."""
    os.killpg(build.pid, signal.SIGINT)
    return True


def lose_a_worker(build: "subprocess.Popen[str]") -> bool:
    """End one that prints, as the system does where memory runs out; whether there was one."""
    try:
        os.kill(random.choice(workers_of(build.pid)), signal.SIGKILL)
    except (IndexError, ProcessLookupError):  # none has begun, or the build is done with them
        return False
    return True


def stop_in_turn(
    weeks: Weeks, times: int, stop: Callable[["subprocess.Popen[str]"], bool], told: str
) -> str:
    """Stop so many builds at moments from the first to the last; what was seen."""
    begun = stopped = 0
    slowest = 0.0
    while stopped < times:
        weeks.begin()
        begun += 1
        with tempfile.TemporaryDirectory() as passing:
            build = begin(weeks.exports, weeks.reports, Path(passing))
            time.sleep(random.uniform(FIRST, weeks.seconds))
            was_running = build.poll() is None and stop(build)
            at = time.monotonic()
            said, _ = build.communicate()
            seconds = time.monotonic() - at
            is_built = "Reports are in" in said  # all that was left is to end
            if was_running and not is_built:
                stopped += 1
                slowest = max(slowest, seconds)
                *steps, last = said.splitlines()
                assert f"{last}\n" == told, (build.returncode, said)
                assert build.returncode in ENDED, build.returncode
                assert all(step.endswith("…") for step in steps), said
            for _ in range(20):  # those forked from are told by the end of a pipe
                if is_over(build.pid):
                    break
                time.sleep(0.1)
            assert is_over(build.pid), f"left running after {seconds:.1f} s"
        weeks.assert_whole()
    return f"{begun} builds begun, {stopped} stopped on the way, the slowest in {slowest:.1f} s"


def main() -> None:
    """The long run."""
    given = [int(text) for text in sys.argv[1:]]
    stops, losses = (*given, *(40, 20)[len(given) :])
    with tempfile.TemporaryDirectory() as name:
        weeks = AllPages(Path(name))
        print("Ctrl-C:", stop_in_turn(weeks, stops, ctrl_c, STOPPED), flush=True)
        lost = f"squadsides: {LOST}\n"
        print("lost workers:", stop_in_turn(weeks, losses, lose_a_worker, lost), flush=True)
        weeks.assert_next_is_clean()
    print("Each told in one line, nothing left running, nothing torn or lost.")


if __name__ == "__main__":
    main()
