"""How long a build takes, step by step, in seconds and against a reference of this machine.

    python -m tests.benchmarks.build_time [--exports sample_exports] [--rounds 3] [--workers 2]

Prints a table in Markdown. Compare ratios, not seconds: shared machines drift by half and more.
"""

import argparse
import gc
import statistics
import tempfile
import time
from pathlib import Path

from pipeline.build import build
from pipeline.settings import Settings


class StepTimes:
    """A progress that notes how long each step took."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.current: str | None = None
        self.begin = time.perf_counter()

    def step(self, text: str, total: int = 1) -> None:
        """A new step begins; the last one is over."""
        self.close()
        self.current = f"{text} ({total})" if total > 1 else text

    def advance(self) -> None:
        """One part of the step is done."""

    def remark(self, text: str) -> None:
        """Nobody reads along."""

    def close(self) -> None:
        """The running step is over."""
        now = time.perf_counter()
        if self.current is not None:
            self.seconds[self.current] = now - self.begin
        self.begin = now


def reference_seconds() -> float:
    """A fixed piece of plain Python work, as a measure of the machine."""
    begin = time.perf_counter()
    total = 0
    for number in range(3_000_000):
        total += number % 7
    return time.perf_counter() - begin


def timed(exports: Path, workers: int) -> tuple[dict[str, float], float]:
    """Seconds of each step of one build into an empty folder, and of the reference beside it."""
    gc.collect()
    reference = reference_seconds()
    with tempfile.TemporaryDirectory() as folder:
        times = StepTimes()
        build(exports, Path(folder) / "reports", Settings(), times, workers=workers)
        times.close()
    return times.seconds, reference


def main() -> None:
    """Time the rounds and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--exports", type=Path, default=Path("sample_exports"))
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    rounds = [timed(options.exports, options.workers) for _ in range(options.rounds)]
    print(f"Median of {options.rounds} builds of {options.exports}, {options.workers} workers\n")
    print("| step | seconds | times the reference |\n| --- | ---: | ---: |")
    for step in [*rounds[0][0], "whole build"]:
        spent = [seconds.get(step, sum(seconds.values())) for seconds, _ in rounds]
        ratios = [part / reference for part, (_, reference) in zip(spent, rounds, strict=True)]
        print(f"| {step} | {statistics.median(spent):.2f} | {statistics.median(ratios):.1f} |")


if __name__ == "__main__":
    main()
