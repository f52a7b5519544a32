"""Literal rows as the frames the estimate takes."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl

from pipeline.catalogue import Measure, catalogue
from pipeline.estimate import Estimates, estimate
from pipeline.settings import EstimateSettings, Settings

START = date(2025, 1, 6)
HOP = "single_hop"

Row = tuple[str, int, str, float]  # athlete, day since START, side, value


def measure(name: str = HOP, **changes: Any) -> Measure:
    """A measure of the catalogue with some figures replaced."""
    return replace(catalogue().measures[name], **changes)


def trials(
    rows: Iterable[Row], name: str = HOP, squad: str = "Squad", *, shapes: bool = True
) -> pl.DataFrame:
    """Trials in the order given; values of a ratio measure, so the score is their logarithm."""
    listed = list(rows)
    seen: dict[tuple[str, int, str], int] = {}
    numbers = []
    for athlete, day, side, _ in listed:
        seen[athlete, day, side] = seen.get((athlete, day, side), 0) + 1
        numbers.append(seen[athlete, day, side])
    return pl.DataFrame(
        {
            "squad": [squad] * len(listed),
            "athlete_id": [row[0] for row in listed],
            "measure": [name] * len(listed),
            "tested_on": [START + timedelta(days=row[1]) for row in listed],
            "side": [row[2] for row in listed],
            "trial": numbers,
            "score": [float(np.log(row[3])) for row in listed],
            "shapes": [shapes] * len(listed),
        },
        schema_overrides={"score": pl.Float64, "tested_on": pl.Date, "trial": pl.Int64},
    )


def session(athlete: str, day: int, left: Iterable[float], right: Iterable[float]) -> list[Row]:
    """One day's trials of both sides."""
    return [
        *((athlete, day, "left", value) for value in left),
        *((athlete, day, "right", value) for value in right),
    ]


def roster(names: Iterable[str], squad: str = "Squad", **columns: Any) -> pl.DataFrame:
    """Athletes; a keyword is one value for all or a list of one for each."""
    listed = list(names)
    given = {"dominant_hand": None, "dominant_foot": None, "shapes": True} | columns
    filled = {
        name: value if isinstance(value, list) else [value] * len(listed)
        for name, value in given.items()
    }
    return pl.DataFrame(
        {"athlete_id": listed, "squad": [squad] * len(listed), **filled},
        schema_overrides={"dominant_hand": pl.String, "dominant_foot": pl.String},
    )


def squad_trials(
    size: int = 20,
    days: Iterable[int] = (0, 14, 28),
    *,
    seed: int = 3,
    spread: float = 0.06,
    error: float = 0.035,
    a_side: int = 3,
    name: str = HOP,
    squad: str = "Squad",
    lead: float = 0.0,
) -> tuple[pl.DataFrame, dict[str, float]]:
    """A simulated squad's trials and each athlete's true difference."""
    rng = np.random.default_rng(seed)
    true = {f"{squad}{number:02d}": float(lead + spread * rng.normal()) for number in range(size)}
    rows: list[Row] = []
    for athlete, d in true.items():
        for day in days:
            noise = error * rng.normal(size=(2, a_side))
            left = 150 * np.exp(-d / 2 + noise[0])
            right = 150 * np.exp(d / 2 + noise[1])
            rows += session(athlete, day, left, right)
    return trials(rows, name, squad), true


def estimated(
    frame: pl.DataFrame,
    athletes: pl.DataFrame | None = None,
    *,
    of: Measure | None = None,
    on: int = 28,
    settings: EstimateSettings | None = None,
    review_lines: dict[str, dict[str, float]] | None = None,
) -> Estimates:
    """The estimate of one measure on a day since START."""
    chosen = of or measure()
    people = roster(frame["athlete_id"].unique().sort()) if athletes is None else athletes
    whole = Settings(estimate=settings or EstimateSettings(), review_lines=review_lines or {})
    return estimate(frame, people, {chosen.id: chosen}, START + timedelta(days=on), whole)


def today_of(found: Estimates, athlete: str) -> dict[str, Any]:
    """One athlete's row of today."""
    return found.today.row(by_predicate=pl.col("athlete_id") == athlete, named=True)
