"""How long the intake takes for a million rows, against polars alone, in one run.

`python tests/benchmarks/intake.py [rows]` prints the ratio of each round and the peak memory.
The file is written once and deleted at the end; nothing else is left behind.
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
from pipeline.intake import read_exports
from pipeline.settings import Settings

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


def main() -> None:
    """Print one line a round: polars alone, the intake, their ratio; then the medians."""
    row_count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    ratios: list[float] = []
    with tempfile.TemporaryDirectory() as name:
        path = write_exports(Path(name), row_count)
        read_exports(Path(name), Settings())  # imports and first touch of the file
        for _ in range(ROUNDS):
            gc.collect()
            start = time.perf_counter()
            pl.read_csv(path, try_parse_dates=True)
            middle = time.perf_counter()
            intake = read_exports(Path(name), Settings())
            end = time.perf_counter()
            accepted = intake.trials.height - int(intake.trials["held"].sum())
            ratios.append((end - middle) / (middle - start))
            print(
                f"polars {1000 * (middle - start):6.0f} ms   intake {1000 * (end - middle):6.0f} ms"
                f"   ratio {ratios[-1]:5.2f}   rows accepted {accepted:,}"
            )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"median ratio {statistics.median(ratios):.2f}, peak memory {peak:.0f} MiB")


if __name__ == "__main__":
    main()
