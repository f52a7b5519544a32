"""A league of many squads on none, one, two and four workers, one of them killed; by hand, Linux.

    python -m tests.end_to_end.league [squads]

Every file must come out byte for byte as it does without a cluster, whatever the order in which
files and squads lie. One more worker runs in a file system root of its own in which nothing of the
build's folders can be seen, where this user may make one (root).
"""

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from random import uniform
from threading import Timer

import duckdb
from distributed import Client, LocalCluster

from pipeline.build import build
from pipeline.settings import Settings
from tests.conftest import Quiet, built
from tests.end_to_end.small import FIRST, contents
from tests.end_to_end.test_cluster import local
from tests.test_architecture import ROOT

SQUADS, PEOPLE, DAYS = 200, 2, 3
# Files by name, and the rows of the warehouse's tables.
Outcome = tuple[dict[str, bytes], dict[str, list[tuple[object, ...]]]]
# The upper layer is a file system of its own, as it must not lie within the lower one.
OWN_ROOT = """
set -e
mount -t tmpfs tmpfs "$1"
mkdir "$1/up" "$1/work" "$1/root"
mount -t overlay overlay -o "lowerdir=/,upperdir=$1/up,workdir=$1/work" "$1/root"
mount -t proc proc "$1/root/proc"
mount --rbind /dev "$1/root/dev"
mount -t tmpfs tmpfs "$1/root/tmp"
exec chroot "$1/root" sh -c 'cd "$0" && exec "$@"' "${@:2}"
"""


def write_league(folder: Path, squads: int, seed: int) -> Path:
    """The exports of so many squads; the seed shuffles the rows, their content is the same."""
    folder.mkdir(parents=True)
    chance, order = random.Random(5), random.Random(seed)
    roster, tests, log = [], [], []
    for number in range(squads * PEOPLE):
        who = f"L{number:04d}"
        roster.append(f"{who},Person {number},Club {number // PEOPLE:03d}")
        apart = 0.2 if number % 3 == 0 else 0.0
        for place in range(DAYS):
            day = FIRST + timedelta(days=14 * place)
            for test, level in (("single_hop", 160), ("knee_to_wall", 11)):
                for side in ("left", "right"):
                    for trial in (1, 2, 3):
                        value = level * (1 - apart * (side == "left")) * chance.gauss(1, 0.02)
                        tests.append(f"{who},{day},{test},{side},{trial},{value:.1f},cm")
            # Rows of a session stand in the order in which they were done: they stay together.
            sets = (f"{who},{day},Goblet squat,1,{side},8,16,kg" for side in ("left", "right"))
            log.append("\n".join(sets))
    for name, header, rows in (
        ("roster", "athlete_id,name,squad", roster),
        ("tests", "athlete_id,tested_on,test,side,trial,value,unit", tests),
        ("log", "athlete_id,trained_on,exercise,set_number,side,reps,load,unit", log),
    ):
        order.shuffle(rows)
        (folder / f"{name}.csv").write_text("\n".join([header, *rows]) + "\n")
    return folder


def values(reports: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every table of the warehouse but those that tell of files, its rows sorted."""
    with duckdb.connect(str(reports / "warehouse.duckdb"), read_only=True) as base:
        tables = [name for (name,) in base.execute("show tables").fetchall()]
        return {name: sorted(base.execute(f"from {name}").fetchall(), key=str) for name in tables}


def outcome(reports: Path) -> Outcome:
    """All that a build has made, but what it notes of its own command for the next one."""
    files = contents(reports)
    del files[".last_build.json"]
    return files, values(reports)


@contextmanager
def worker_in_own_root(address: str) -> Iterator[None]:
    """A worker that sees the program and nothing of what this process writes."""
    with tempfile.TemporaryDirectory(dir="/var/tmp") as place:
        worker = subprocess.Popen(
            ["unshare", "--mount", "bash", "-c", OWN_ROOT, "bash", place, str(ROOT), sys.executable,
             "-m", "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-dashboard",
             "--no-nanny"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            yield
        finally:
            worker.terminate()
            worker.wait()


def kill_one(cluster: LocalCluster, longest: float) -> None:
    """End a worker at any moment of its work; its nanny begins it again."""
    victim = next(iter(cluster.workers.values())).pid
    Timer(uniform(0.5, longest), os.kill, (victim, signal.SIGKILL)).start()


def main() -> None:
    """Build the league once in each way and hold each against the first."""
    squads = int(sys.argv[1]) if len(sys.argv) > 1 else SQUADS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        exports = write_league(folder / "exports", squads, 1)
        begin = time.monotonic()
        built(exports, folder / "alone", skip_pdf=False)
        alone = time.monotonic() - begin
        wanted = outcome(folder / "alone")
        print(f"{squads} squads, {len(wanted[0])} files: {alone:.0f} s without a cluster")
        turned = outcome(
            built(write_league(folder / "turned", squads, 2), folder / "b", skip_pdf=False).reports
        )
        told(turned, wanted, "people in another order", of_rows=True)

        def on(cluster: LocalCluster, way: str, also: Callable[[], None] = lambda: None) -> None:
            class Steps(Quiet):
                def step(self, text: str, total: int = 1) -> None:
                    if text == "Writing the reports":
                        also()

            reports = folder / way.replace(" ", "_")
            begin = time.monotonic()
            build(exports, reports, Settings(), Steps(), workers=cluster.scheduler_address)
            told(outcome(reports), wanted, f"{way}, {time.monotonic() - begin:.0f} s")

        for workers in (1, 2, 4):
            with local(workers) as cluster:
                on(cluster, f"{workers} workers")
        with local(2) as cluster:
            on(cluster, "a worker killed", lambda: kill_one(cluster, alone))
        if os.geteuid() != 0:
            print("not root: no worker in a file system root of its own")
            return
        with local(0, host="127.0.0.1") as cluster, worker_in_own_root(cluster.scheduler_address):
            with Client(cluster) as client:
                client.wait_for_workers(1, timeout=60)
                seen = client.run(os.path.exists, str(exports))
                assert not any(seen.values()), "its root is not its own"
            on(cluster, "a worker in a root of its own")


def unlike(one: Mapping[str, object], other: Mapping[str, object]) -> set[str]:
    """What stands differently in the two, or in one alone."""
    return {name for name in one.keys() | other.keys() if one.get(name) != other.get(name)}


def told(found: Outcome, wanted: Outcome, way: str, *, of_rows: bool = False) -> None:
    """Print whether two outcomes are the same; where rows were turned, their places may differ."""
    files, tables = unlike(found[0], wanted[0]), unlike(found[1], wanted[1])
    if of_rows:  # digests and lines of files are told as they lie
        files -= {"intake.csv"}
        tables = {name for name in tables if not name.startswith(("raw_", "stg_"))}
    differ = sorted(files | tables)
    print("NOT THE SAME:" if differ else "same:", way, *differ[:9], flush=True)
    if differ:
        sys.exit(1)


if __name__ == "__main__":
    main()
