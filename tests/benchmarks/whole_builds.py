"""How long whole builds take, against a peer, a floor and themselves; every line a process.

    python -m tests.benchmarks.whole_builds [--rounds 5]

In turn, so that a busy machine is busy for all; ratios are medians of the rounds. Wall time and
processor time (all processes together) stand beside each other: two workers share the wall time,
not the work.
"""

import argparse
import gc
import json
import shutil
import statistics
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.floor import finished_pages
from tests.benchmarks.processes import Spent, build, machine, spent
from tests.benchmarks.squads import write_late, write_squads

SAMPLE = Path("sample_exports")
QUICK_ROUNDS = 11


def sample_round(folder: Path, pages: Path) -> dict[str, Spent]:
    """One cold build, one peer, one floor, each into an empty folder, and a build of nothing."""
    found = {
        "build": build(SAMPLE, folder / "reports"),
        "peer": spent("-m", "tests.benchmarks.peer", SAMPLE, folder / "peer"),
        "floor": spent("-m", "tests.benchmarks.floor", pages, folder / "floor"),
    }
    for name in ("reports", "peer", "floor"):
        shutil.rmtree(folder / name)
    return found


def squad_round(folder: Path) -> dict[str, Spent]:
    """Forty athletes cold, and again with one athlete's new test file."""
    exports, reports = folder / "exports", folder / "reports"
    write_squads(exports, athletes=40, dates=10)
    cold = build(exports, reports)
    write_late(exports)
    found = {"squad of 40, cold": cold, "one new file": build(exports, reports)}
    shutil.rmtree(exports)
    shutil.rmtree(reports)
    return found


def quick(folder: Path) -> dict[str, list[Spent]]:
    """What must answer at once."""
    build(SAMPLE, folder / "reports")
    found: dict[str, list[Spent]] = {}
    for _ in range(QUICK_ROUNDS):
        for name, one in {
            "nothing changed": build(SAMPLE, folder / "reports"),
            "--help": spent("-m", "pipeline", "--help"),
            "wrong arguments": spent("-m", "pipeline", "build", "--workers", "none", status=2),
            "an empty Python": spent("-c", "pass"),
        }.items():
            found.setdefault(name, []).append(one)
    shutil.rmtree(folder / "reports")
    return found


def ratio_line(what: str, of: Sequence[Spent], to: Sequence[Spent], wanted: str) -> str:
    """Median and spread of the ratios round by round, as a line of the table."""
    walls = [one.wall / other.wall for one, other in zip(of, to, strict=True)]
    cores = statistics.median(one.cores / other.cores for one, other in zip(of, to, strict=True))
    return (
        f"| {what} | {statistics.median(walls):.2f} | {min(walls):.2f} to {max(walls):.2f} "
        f"| {cores:.2f} | {wanted} |"
    )


def main() -> None:
    """All rounds, then both tables in Markdown."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    found: dict[str, list[Spent]] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pages = folder / "pages.json"
        pages.write_text(json.dumps(finished_pages(SAMPLE)), encoding="utf-8")
        gc.collect()
        gc.disable()
        for number in range(rounds):
            for step, one in (sample_round(folder, pages) | squad_round(folder)).items():
                found.setdefault(step, []).append(one)
                print(f"{number + 1}  {one.wall:6.2f} s  {one.cores:6.2f} s  {step}", flush=True)
        short = quick(folder)
    print(f"\n{machine()}; {rounds} rounds\n")
    print("| | wall time | spread | processor time | wanted |\n| --- | ---: | ---: | ---: | ---: |")
    for what, of, to, wanted in (
        ("sample, cold, of the peer", "build", "peer", "≤ 0.3"),
        ("sample, cold, of the floor", "build", "floor", "≤ 1.4"),
        ("one new file in a squad of 40, of the cold build", "one new file", "squad of 40, cold",
         "≤ 0.25"),
    ):  # fmt: skip
        print(ratio_line(what, found[of], found[to], wanted))
    print("\n| | seconds | least | wanted |\n| --- | ---: | ---: | ---: |")
    for step, ones in short.items():
        walls = [one.wall for one in ones]
        wanted = "" if step == "an empty Python" else "< 0.1"
        print(f"| {step} | {statistics.median(walls):.3f} | {min(walls):.3f} | {wanted} |")


if __name__ == "__main__":
    main()
