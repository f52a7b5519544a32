"""How right the estimate is about those who change, on squads whose true paths are known.

    python -m tests.benchmarks.following [--squads 150] [--seed 3031]

Scored apart: who is stable, who changes, each path, and by weeks since the change; then a third as
many squads that are harder to follow, as after eight weeks without a test. The seeds that the
filter's rates were chosen with (101 to 299, 2026) are not the one that is reported.
"""

import argparse
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import polars as pl

from pipeline.estimate import Estimates, estimate
from pipeline.settings import Settings
from tests.benchmarks.changing import PATHS, Changing, simulate_changing
from tests.benchmarks.simulate import Simulated

REPORTED_SEED = 4047
FRESH_WEEKS = 4  # as long as a loss is listed without a new sign
REAL_LOSS = 0.20
KEY = ["athlete_id", "measure"]
CHANGED = pl.col("path") != "stable"
HARDER: dict[str, dict[str, Any]] = {
    "eight weeks without a test": {"untested": 8},
    "one trial a side": {"trials": (1, 1)},
    "squads of 1 to 6": {"athletes": (1, 6)},
    "errors of two days in a row alike (0.5)": {"day_memory": 0.5},
    "nobody changes": {"shares": (1.0, 0.0, 0.0, 0.0)},
}


@dataclass(frozen=True)
class Followed:
    """What some of the cases came to; shares are fractions, errors in points (100 d)."""

    cases: int
    covered: float
    calibration_error: float
    confirmed: int
    confirmed_right: float  # nan where none is confirmed
    error: float
    latest_error: float  # of the latest session alone
    three_error: float  # of the mean of the last three sessions
    width: float


@dataclass(frozen=True)
class Losses:
    """Sudden losses of one side, and what is listed as one."""

    fresh: int
    found: float
    false_share: float  # of the series in which no side was lost


def followed(simulated: Simulated, settings: Settings | None = None) -> tuple[pl.DataFrame, Losses]:
    """One row a case, its estimate beside the truth; and the losses found."""
    found: Estimates = estimate(
        simulated.trials,
        simulated.athletes,
        simulated.measures,
        simulated.as_of,
        settings or Settings(),
    )
    rows = found.today.join(simulated.truth.drop("squad"), on=KEY).join(
        _last_three(simulated.trials), on=KEY
    )
    return rows, _losses(rows)


def score(rows: pl.DataFrame) -> Followed:
    """The cases of these rows."""
    true, estimated = rows["true_d"].to_numpy(), rows["estimate"].to_numpy()
    chance = rows["chance_over_line"].to_numpy()
    is_over = (np.abs(true - rows["true_lead"].to_numpy())) > rows["line"].to_numpy()
    confirmed = (chance >= 0.80) & (rows["same_side_days"].to_numpy() >= 2)
    inside = (rows["low"].to_numpy() <= true) & (true <= rows["high"].to_numpy())
    return Followed(
        cases=rows.height,
        covered=float(inside.mean()),
        calibration_error=calibration_error(chance, is_over),
        confirmed=int(confirmed.sum()),
        confirmed_right=float(is_over[confirmed].mean()) if confirmed.any() else np.nan,
        error=_rms(estimated - true),
        latest_error=_rms(rows["observed"].to_numpy() - true),
        three_error=_rms(rows["mean_of_three"].to_numpy() - true),
        width=100 * float((rows["high"] - rows["low"]).to_numpy().mean()),
    )


def still_confirmed(rows: pl.DataFrame, weeks: float) -> tuple[int, float]:
    """Of blocks that ended at least so long ago below the line: how many, and the share listed."""
    beyond = (pl.col("true_d") - pl.col("true_lead")).abs()
    closed = rows.filter(
        pl.col("path") == "closing", pl.col("ended") >= weeks, beyond < 0.8 * pl.col("line")
    )
    listed = closed.filter(pl.col("chance_over_line") >= 0.80, pl.col("same_side_days") >= 2)
    return closed.height, listed.height / max(closed.height, 1)


def calibration_error(chance: np.ndarray, is_over: np.ndarray, bins: int = 10) -> float:
    """Mean gap between the chance said and the share true, weighted by cases."""
    place = np.minimum((chance * bins).astype(int), bins - 1)
    hits = [place == number for number in range(bins)]
    gaps = [hit.sum() * abs(chance[hit].mean() - is_over[hit].mean()) for hit in hits if hit.any()]
    return float(sum(gaps) / len(chance))


def groups(rows: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """The cases that are scored apart."""
    parts = {"all": rows, "stable": rows.filter(~CHANGED), "changed": rows.filter(CHANGED)}
    parts |= {path: rows.filter(pl.col("path") == path) for path in PATHS[1:]}
    for path in ("closing", "hurt"):
        for low, high in ((0, 3), (3, 6), (6, 10), (10, 24)):
            parts[f"{path}, begun {low} to {high} weeks ago"] = rows.filter(
                pl.col("path") == path, pl.col("began") >= low, pl.col("began") < high
            )
    for gap, name in ((7, "week"), (14, "two weeks"), (28, "four weeks")):
        parts[f"changed, tested every {name}"] = rows.filter(CHANGED, pl.col("gap") == gap)
    return parts


def _last_three(trials: pl.DataFrame) -> pl.DataFrame:
    """Mean difference of the last three sessions of each series."""
    day = [*KEY, "tested_on"]
    sides = trials.group_by(*day, "side").agg(pl.col("score").mean())
    both = sides.pivot("side", index=day, values="score").sort(day)
    d = (pl.col("right") - pl.col("left")).tail(3).mean().alias("mean_of_three")
    return both.group_by(KEY).agg(d)


def _losses(rows: pl.DataFrame) -> Losses:
    tested_since = (
        pl.col("began") * 7
        > (pl.lit(rows["last_tested_on"].max()) - pl.col("last_tested_on")).dt.total_days()
    )
    fresh = rows.filter(
        pl.col("path") == "hurt",
        pl.col("began") <= FRESH_WEEKS,
        pl.col("lost_now") > REAL_LOSS,
        tested_since,
        pl.col("session_count") > 1,
    )
    others = rows.filter(pl.col("path") != "hurt")
    return Losses(
        fresh=fresh.height,
        found=float(fresh["one_sided_loss"].to_numpy().mean()) if fresh.height else np.nan,
        false_share=float(others["one_sided_loss"].to_numpy().mean()),
    )


def _rms(values: np.ndarray) -> float:
    return float(100 * np.sqrt((values**2).mean()))


def table(parts: Mapping[str, pl.DataFrame]) -> str:
    """One line a group, in Markdown."""
    lines = [
        "| | cases | 90 % intervals hold | calibration error | confirmed | of them right "
        "| error, points | of the last three's | of the latest's | width |",
        "| --- |" + " ---: |" * 9,
    ]
    for name, rows in parts.items():
        if rows.is_empty():
            continue
        found = score(rows)
        lines.append(
            f"| {name} | {found.cases:,d} | {found.covered:.3f} | {found.calibration_error:.3f} "
            f"| {found.confirmed:,d} | {found.confirmed_right:.3f} | {found.error:.2f} "
            f"| {found.error / found.three_error:.2f} | {found.error / found.latest_error:.2f} "
            f"| {found.width:.1f} |"
        )
    return "\n".join(lines)


def main() -> None:
    """All tables, in Markdown."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--squads", type=int, default=150)
    parser.add_argument("--seed", type=int, default=REPORTED_SEED)
    chosen = parser.parse_args()
    scenario = Changing(squads=chosen.squads, seed=chosen.seed)
    rows, losses = followed(simulate_changing(scenario))
    print(table(groups(rows)), end="\n\n")
    for weeks in (4, 10):
        count, share = still_confirmed(rows, weeks)
        print(f"closed {weeks} weeks ago or more: {count:,d}, still confirmed {share:.3f}")
    print(
        f"fresh losses over {REAL_LOSS:.0%}: {losses.fresh:,d}, listed {losses.found:.3f}; "
        f"of the series without a loss {losses.false_share:.4f} are\n"
    )
    for number, (name, changes) in enumerate(HARDER.items(), start=1):
        harder = replace(
            scenario, **changes, squads=-(-chosen.squads // 3), seed=chosen.seed + number
        )
        rows, losses = followed(simulate_changing(harder))
        print(f"{name}:\n\n{table(dict(list(groups(rows).items())[:6]))}\n")
        print(f"losses {losses.fresh}: listed {losses.found:.3f}, false {losses.false_share:.4f}\n")


if __name__ == "__main__":
    main()
