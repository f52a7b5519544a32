"""How long a million rows take to be read, validated and stored, against polars alone.

    python -m tests.benchmarks.intake [rows]

Prints each round, then the medians of the ratios and the peak memory. "Stored" are all raw tables
of a build, written to a warehouse file that is closed again. Compare ratios, not seconds.
"""

import gc
import resource
import statistics
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake import Intake, read_exports
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.stock import raw_frames

ATHLETES, SIDES, TRIALS, ROUNDS = 200, 2, 3, 7
MEASURES = ("single_hop", "grip_strength", "knee_to_wall", "imtp_single_peak_force", "thigh_girth")


def write_exports(folder: Path, row_count: int) -> Path:
    """A roster of 200 and one long file of side tests with so many rows."""
    ids = [f"A{number:03d}" for number in range(ATHLETES)]
    roster = pl.DataFrame({"athlete_id": ids, "name": ids, "squad": "all"})
    roster.write_csv(folder / "roster.csv")
    chance = np.random.default_rng(7)
    place = np.arange(row_count)
    test = place // (TRIALS * SIDES) % len(MEASURES)
    athlete = place // (TRIALS * SIDES * len(MEASURES)) % ATHLETES
    side = place // TRIALS % SIDES
    known = [catalogue().measures[name] for name in MEASURES]
    mean = np.array([m.expected_men[0] for m in known])
    spread = np.array([m.expected_men[1] for m in known])
    # Persons differ from each other, their sides less, their attempts least.
    person = np.clip(chance.normal(0, 0.6, (ATHLETES, len(MEASURES))), -1.2, 1.2) * spread
    apart = chance.normal(0, 0.03, (ATHLETES, len(MEASURES))) * mean
    value = (mean + person)[athlete, test] + apart[athlete, test] * (side - 0.5)
    value = value + chance.normal(0, 0.03, row_count) * mean[test]
    days = [date(2010, 1, 1) + timedelta(days=3 * number) for number in range(2000)]
    path = folder / "tests.csv"
    pl.DataFrame(
        {
            "athlete_id": np.array(ids)[athlete],
            "tested_on": np.array([day.isoformat() for day in days])[
                place // (TRIALS * SIDES * len(MEASURES) * ATHLETES)
            ],
            "test": np.array(MEASURES)[test],
            "side": np.array(["left", "right"])[side],
            "trial": place % TRIALS + 1,
            "value": np.round(value, 1),
            "unit": np.array([m.unit for m in known])[test],
        }
    ).write_csv(path)
    return path


def store(intake: Intake, path: Path) -> None:
    """Load the raw tables into a new warehouse file, as a build does."""
    with Warehouse(path) as warehouse:
        for name, frame in raw_frames(intake).items():
            warehouse.load(name, frame)


def main() -> None:
    """Print one line a round: seconds of each part and the ratio of the whole; then medians."""
    row_count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    rounds: list[tuple[float, float, float]] = []
    with tempfile.TemporaryDirectory() as name:
        exports = Path(name) / "exports"
        exports.mkdir()
        path = write_exports(exports, row_count)
        read_exports(exports, Settings())  # imports and first touch of the file
        for number in range(ROUNDS):
            gc.collect()
            start = time.perf_counter()
            pl.read_csv(path, try_parse_dates=True)
            read = time.perf_counter()
            intake = read_exports(exports, Settings())
            validated = time.perf_counter()
            store(intake, Path(name) / f"warehouse_{number}.duckdb")
            end = time.perf_counter()
            rounds.append((read - start, validated - read, end - validated))
            alone, taken, stored = (1000 * part for part in rounds[-1])
            accepted = intake.trials.height - int(intake.trials["held"].sum())
            print(
                f"polars {alone:5.0f} ms   intake {taken:5.0f} ms   stored {stored:5.0f} ms"
                f"   ratio {(taken + stored) / alone:5.2f}   rows accepted {accepted:,}"
            )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    for what, ratios in {
        "read and validated": [taken / alone for alone, taken, _ in rounds],
        "and stored": [(taken + stored) / alone for alone, taken, stored in rounds],
    }.items():
        print(f"{what}: median ratio {statistics.median(ratios):.2f}")
    print(f"peak memory {peak:.0f} MiB")


if __name__ == "__main__":
    main()
