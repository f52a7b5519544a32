"""How long a million trials take, and whether the time grows with the data alone.

    python -m tests.benchmarks.estimate_speed

5,000 athletes in squads of 25, eight measures, 25 dates, on one core. Of the 1,000,000 possible
sessions each athlete comes to as many as make the wanted number of trials; half as many athletes
are half the trials.
"""

import os
import time
from datetime import date

import numpy as np
import polars as pl

from pipeline.catalogue import catalogue
from pipeline.estimate import estimate
from pipeline.settings import Settings
from tests.benchmarks.simulate import AS_OF

MEASURES = (
    "single_hop", "triple_hop", "sl_cmj_height", "hip_adduction_torque",
    "hip_abduction_torque", "grip_strength", "soleus_iso_force", "knee_to_wall",
)  # fmt: skip
SQUAD_SIZE, DATES = 25, 25


def many_trials(athletes: int, trials: int, a_side: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Frames of about this many trials, `a_side` on each side of a session."""
    rng = np.random.default_rng(7)
    cells = athletes * len(MEASURES) * DATES
    sessions = np.sort(rng.choice(cells, round(trials / (2 * a_side)), replace=False))
    athlete, rest = np.divmod(sessions, len(MEASURES) * DATES)
    measure, day = np.divmod(rest, DATES)
    true = 0.06 * rng.normal(size=(athletes, len(MEASURES)))
    d = true[athlete, measure] + 0.03 * rng.normal(size=len(sessions))
    side = np.tile(np.repeat([0, 1], a_side), len(sessions))
    row = np.repeat(np.arange(len(sessions)), 2 * a_side)
    score = 4 + (side - 0.5) * d[row] + 0.05 * rng.normal(size=len(row))
    names = pl.Series([f"A{number:05d}" for number in range(athletes)])
    squads = pl.Series([f"S{number // SQUAD_SIZE:04d}" for number in range(athletes)])
    last = (AS_OF - date(1970, 1, 1)).days
    frame = pl.DataFrame(
        {
            "squad": squads.gather(athlete[row]),
            "athlete_id": names.gather(athlete[row]),
            "measure": pl.Series(MEASURES).gather(measure[row]),
            "tested_on": pl.Series(last - 14 * (DATES - 1 - day[row]), dtype=pl.Int32).cast(
                pl.Date
            ),
            "side": pl.Series(["left", "right"]).gather(side),
            "trial": np.tile(np.arange(1, a_side + 1), 2 * len(sessions)),
            "score": score,
            "shapes": True,
        }
    )
    foot = pl.Series(rng.choice(["right", "left"], athletes, p=[0.85, 0.15]))
    roster = pl.DataFrame(
        {"athlete_id": names, "squad": squads, "dominant_hand": foot, "dominant_foot": foot}
    ).with_columns(shapes=pl.lit(value=True))
    order = ["squad", "measure", "athlete_id", "tested_on", "side", "trial"]
    return frame.sort(order), roster


def seconds(athletes: int, trials: int, a_side: int) -> float:
    """Processor time of the best of three runs."""
    frame, roster = many_trials(athletes, trials, a_side)
    measures = {name: catalogue().measures[name] for name in MEASURES}
    taken = []
    for _ in range(3):
        begin = time.process_time()
        estimate(frame, roster, measures, AS_OF, Settings())
        taken.append(time.process_time() - begin)
    return min(taken)


def main() -> None:
    """The table, in Markdown."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    print("| athletes | trials | trials a side | seconds | microseconds a trial |")
    print("| ---: | ---: | ---: | ---: | ---: |")
    for athletes, trials, a_side in (
        (1250, 250_000, 3),
        (2500, 500_000, 3),
        (5000, 1_000_000, 3),
        (5000, 1_000_000, 2),
        (5000, 1_000_000, 1),
    ):
        taken = seconds(athletes, trials, a_side)
        print(
            f"| {athletes:,d} | {trials:,d} | {a_side} | {taken:.2f} | {1e6 * taken / trials:.2f} |"
        )


if __name__ == "__main__":
    main()
