"""Squads whose true differences are known, as the frames the estimate takes."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import polars as pl

from pipeline import scales
from pipeline.catalogue import Measure, catalogue

AS_OF = date(2024, 11, 4)
LAST_DAY = (AS_OF - date(1970, 1, 1)).days
# Hop, jump, strength and grip: one steady test, two noisy ones, and one in which the right-handed
# are expected to differ from the left-handed.
MEASURES = ("single_hop", "sl_cmj_height", "hip_abduction_torque", "grip_strength")


@dataclass(frozen=True)
class Scenario:
    """How the simulated squads differ from each other; pairs are lowest and highest."""

    squads: int = 200
    athletes: tuple[int, int] = (12, 40)
    dates: tuple[int, int] = (1, 10)
    trials: tuple[int, int] = (2, 4)
    gap_days: tuple[int, int] = (7, 28)
    missing: float = 0.05  # sessions an athlete does not turn up for
    error_factor: tuple[float, float] = (0.7, 1.5)  # of the catalogue's error
    spread_factor: tuple[float, float] = (0.7, 1.5)  # of the catalogue's side SD
    day_share: tuple[float, float] = (0.3, 0.8)  # day-to-day SD of d, of the squad's trial error
    drift_share: tuple[float, float] = (0.0, 0.04)  # weekly drift SD, of the squad's spread
    lead_share: float = 0.1  # SD of a squad's own lead, of the catalogue's side SD
    heavy_tails: float = 0.5  # share of squads with t-distributed differences, 4 df, same SD
    botched: float = 0.0  # share of trials that are 8 to 28 % too low
    seed: int = 1
    measures: tuple[str, ...] = MEASURES


@dataclass(frozen=True)
class Simulated:
    """Frames for the estimate and the truth of each athlete and measure at the as-of date."""

    trials: pl.DataFrame
    athletes: pl.DataFrame
    truth: pl.DataFrame  # athlete_id, measure, true_d, true_lead and what they were drawn from
    measures: Mapping[str, Measure]
    as_of: date = AS_OF


def ten_percent_measures(names: tuple[str, ...]) -> dict[str, Measure]:
    """Measures of the catalogue with their line at 10 % of the better side."""
    return {name: replace(catalogue().measures[name], review=10.0) for name in names}


def simulate(scenario: Scenario) -> Simulated:
    """All squads of a scenario; the same seed gives the same squads."""
    rng = np.random.default_rng(scenario.seed)
    measures = ten_percent_measures(scenario.measures)
    parts = [_squad(rng, scenario, measures, number) for number in range(scenario.squads)]
    trials, athletes, truth = (pl.concat(frames) for frames in zip(*parts, strict=True))
    return Simulated(trials, athletes, truth, measures)


def _squad(
    rng: np.random.Generator, scenario: Scenario, measures: Mapping[str, Measure], number: int
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    size = int(rng.integers(scenario.athletes[0], scenario.athletes[1] + 1))
    date_count = int(rng.integers(scenario.dates[0], scenario.dates[1] + 1))
    gaps = rng.integers(scenario.gap_days[0], scenario.gap_days[1] + 1, date_count)
    # All squads end on the same day, which is the as-of date.
    days = LAST_DAY - np.cumsum(np.r_[0, gaps[1:]])[::-1]
    heavy = bool(rng.random() < scenario.heavy_tails)
    names = [f"S{number:03d}A{athlete:02d}" for athlete in range(size)]
    foot = rng.choice(["right", "left", "both"], size, p=[0.78, 0.17, 0.05])
    frames = [
        _measure(rng, scenario, measure, names, foot, days, heavy) for measure in measures.values()
    ]
    squad = pl.lit(f"S{number:03d}").alias("squad")
    athletes = pl.DataFrame(
        {"athlete_id": names, "dominant_hand": foot, "dominant_foot": foot, "shapes": True}
    )
    trials = pl.concat([trials for trials, _ in frames]).with_columns(squad)
    return trials, athletes.with_columns(squad), pl.concat([truth for _, truth in frames])


def _measure(
    rng: np.random.Generator,
    scenario: Scenario,
    measure: Measure,
    names: list[str],
    foot: np.ndarray,
    days: np.ndarray,
    heavy: bool,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    size, date_count = len(names), len(days)
    side_sd = float(scales.from_shown(measure.side_sd, measure.formula))
    spread = side_sd * rng.uniform(*scenario.spread_factor)
    error = scales.trial_error(measure) * rng.uniform(*scenario.error_factor)
    day_sd = error * rng.uniform(*scenario.day_share)
    drift = spread * rng.uniform(*scenario.drift_share)
    trial_count = int(rng.integers(scenario.trials[0], scenario.trials[1] + 1))
    lead = leads(measure, foot) + side_sd * scenario.lead_share * rng.normal()
    unit = rng.standard_t(4, size) / np.sqrt(2) if heavy else rng.normal(size=size)
    moves = (
        rng.normal(size=(size, date_count)) * drift * np.sqrt(np.diff(days, prepend=days[0]) / 7)
    )
    true = (lead + spread * unit)[:, None] + np.cumsum(moves, axis=1)
    base = np.log(measure.expected_men[0]) + 0.15 * rng.normal(size=size)
    base = base[:, None] + 0.03 * rng.normal(size=(size, date_count))
    half = (true + day_sd * rng.normal(size=true.shape)) / 2
    level = np.stack([base - half, base + half], axis=2)
    shape = (size, date_count, 2, trial_count)
    score = level[..., None] + error * rng.normal(size=shape)
    botched = rng.random(shape) < scenario.botched
    score += np.where(botched, np.log1p(-rng.uniform(0.08, 0.28, shape)), 0.0)
    came = rng.random((size, date_count)) >= scenario.missing
    came[:, -1] |= ~came.any(axis=1)
    truth = pl.DataFrame(
        {
            "athlete_id": names,
            "measure": measure.id,
            "true_d": true[:, -1],
            "true_lead": lead if measure.lead.by != "none" else np.zeros(size),
            "spread": spread,
            "error": error,
            "day_sd": day_sd,
            "drift": drift,
            "centre": lead,
            "heavy": heavy,
        }
    )
    return trial_frame(names, measure, days, came, score), truth


def leads(measure: Measure, foot: np.ndarray) -> np.ndarray:
    """Expected d of each athlete by the catalogue."""
    right = float(scales.from_shown(measure.lead.right_dominant, measure.formula))
    left = -float(scales.from_shown(measure.lead.left_dominant, measure.formula))
    if measure.lead.by == "none":
        return np.zeros(len(foot))
    return np.select([foot == "right", foot == "left"], [right, left], (right + left) / 2)


def trial_frame(
    names: list[str], measure: Measure, days: np.ndarray, came: np.ndarray, score: np.ndarray
) -> pl.DataFrame:
    """Scores [athlete, day, side, trial] of the days on which an athlete came, one row each."""
    there = np.broadcast_to(came[:, :, None, None], score.shape)
    athlete, day, side, trial = np.nonzero(there)
    return pl.DataFrame(
        {
            "athlete_id": np.array(names)[athlete],
            "measure": np.full(len(athlete), measure.id),
            "tested_on": pl.Series(days, dtype=pl.Int32).cast(pl.Date).gather(day),
            "side": np.array(["left", "right"])[side],
            "trial": trial + 1,
            "score": score[athlete, day, side, trial],
            "shapes": np.ones(len(athlete), dtype=bool),
        }
    )
