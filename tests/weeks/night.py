"""Night run: very many generated weeks. `python -m tests.weeks.night 5000 --into damaged/weeks`.

Prints how many went well; writes the seeds that did not, with what was wrong, and keeps the folder
of the first. A run that was stopped goes on with `--from`, the seed it had come to.
"""

import argparse
import os
import shutil
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

os.environ.setdefault("POLARS_MAX_THREADS", "1")  # each process has a core to itself

from tests.weeks.examine import Examined, examine
from tests.weeks.meetings import cards
from tests.weeks.model import folders

PROCESSES = 2
TOLD_EVERY = 20  # folders


def main(arguments: list[str] | None = None) -> int:
    """Examine the weeks and return how many are wrong, at most 100."""
    parser = argparse.ArgumentParser(prog="python -m tests.weeks.night", description=__doc__)
    parser.add_argument("weeks", type=int, help="how many")
    parser.add_argument("--from", type=int, default=0, dest="first", metavar="SEED")
    parser.add_argument("--into", type=Path, default=Path("damaged/weeks"), metavar="DIR")
    parser.add_argument("--processes", type=int, default=PROCESSES, metavar="N")
    options = parser.parse_args(arguments)
    options.into.mkdir(parents=True, exist_ok=True)
    wanted = folders(options.first, options.first + options.weeks)
    with (
        tempfile.TemporaryDirectory() as place,
        ProcessPoolExecutor(options.processes, get_context("spawn")) as pool,
        (options.into / "seeds.txt").open("a", encoding="utf-8") as seeds,
    ):
        jobs = [pool.submit(examine, those, Path(place)) for those in wanted]
        kinds: Counter[str] = Counter()
        met: set[tuple[str, str]] = set()
        done = wrong = 0
        for number, job in enumerate(jobs, start=1):
            for one in job.result():
                done += len(one.seeds)
                met |= one.met
                if not one.is_sound:
                    wrong += 1
                    _tell(one, seeds)
                    kinds.update(fault.split(":")[0] for fault in one.faults)
                    _keep_first(one, Path(place), options.into)
            if number % TOLD_EVERY == 0 or number == len(jobs):
                print(f"{done} weeks, {wrong} wrong; the next seed is {wanted[number - 1][-1] + 1}")
                sys.stdout.flush()
    print(f"{len(met)} of {len(cards())} decisions met a flag of their kind on the list.")
    for kind, count in kinds.most_common(20):
        print(f"{count:6} {kind}")
    return min(wrong, 100)


def _tell(one: Examined, seeds: object) -> None:
    print("seeds", *one.seeds, file=seeds)  # type: ignore[call-overload]
    for fault in one.faults:
        print("   ", fault, file=seeds)  # type: ignore[call-overload]
    seeds.flush()  # type: ignore[attr-defined]


def _keep_first(one: Examined, place: Path, into: Path) -> None:
    """The folder of the first wrong week that was built alone; the others go."""
    folder, first = place / "_".join(map(str, one.seeds)), into / "first"
    if folder.exists() and not first.exists():
        shutil.copytree(folder, first)
    shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
