"""Exports of any size: squads of 40, eight tests of three trials a side, every fortnight."""

from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.catalogue import catalogue
from tests.benchmarks.simulate import AS_OF

MEASURES = (
    "single_hop", "triple_hop", "sl_cmj_height", "hip_adduction_torque",
    "hip_abduction_torque", "grip_strength", "soleus_iso_force", "knee_to_wall",
)  # fmt: skip
SIDES, TRIALS, SQUAD_SIZE, ROWS_A_FILE = 2, 3, 40, 1_000_000
ROWS_A_DAY = len(MEASURES) * SIDES * TRIALS  # of one athlete
LATE_ATHLETE, LATE_FILE = "A00000", "late.csv"


def write_squads(folder: Path, athletes: int, dates: int) -> list[Path]:
    """Roster and side tests of this many athletes; the files of tests, a million rows each.

    The first athlete comes on the last date too late: `write_late` adds the file.
    """
    folder.mkdir(parents=True)
    ids = pl.Series([f"A{number:05d}" for number in range(athletes)])
    pl.DataFrame(
        {
            "athlete_id": ids,
            "name": [f"Person {number}" for number in range(athletes)],
            "squad": [f"Squad {number // SQUAD_SIZE:03d}" for number in range(athletes)],
        }
    ).write_csv(folder / "roster.csv")
    rng = np.random.default_rng(7)
    known = [catalogue().measures[name] for name in MEASURES]
    mean = np.array([m.expected_men[0] for m in known])
    spread = np.array([m.expected_men[1] for m in known])
    person = np.clip(rng.normal(0, 0.6, (athletes, len(MEASURES))), -1.2, 1.2) * spread
    apart = rng.normal(0, 0.05, (athletes, len(MEASURES))) * mean
    level = (mean + person)[..., None] + apart[..., None] * np.array([-0.5, 0.5])
    a_file = max(1, ROWS_A_FILE // (ROWS_A_DAY * dates))
    paths = []
    for first in range(0, athletes, a_file):
        who = np.arange(first, min(first + a_file, athletes))
        shape = (dates, len(who), len(MEASURES), SIDES, TRIALS)
        day, athlete, test, side, trial = (part.ravel() for part in np.indices(shape))
        value = level[who][athlete, test, side]
        value += rng.normal(0, 0.03, len(value)) * mean[test]
        frame = pl.DataFrame(
            {
                "athlete_id": ids.gather(who[athlete]),
                "tested_on": _days(dates).gather(day),
                "test": pl.Series(MEASURES).gather(test),
                "side": pl.Series(["left", "right"]).gather(side),
                "trial": trial + 1,
                "value": np.round(value, 2),
                "unit": pl.Series([m.unit for m in known]).gather(test),
            }
        )
        is_late = (pl.col("athlete_id") == LATE_ATHLETE) & (pl.col("tested_on") == str(AS_OF))
        paths.append(folder / f"tests_{len(paths) + 1}.csv")
        frame.filter(~is_late).write_csv(paths[-1])
        if first == 0:
            frame.filter(is_late).write_csv(folder.parent / LATE_FILE)
    return paths


def write_late(folder: Path) -> None:
    """Drop the late athlete's new test file."""
    (folder / LATE_FILE).write_bytes((folder.parent / LATE_FILE).read_bytes())


def _days(dates: int) -> pl.Series:
    return pl.Series(
        [str(AS_OF - timedelta(days=14 * (dates - 1 - number))) for number in range(dates)]
    )
