"""Squads in which people change, each by a path of its own, as the frames the estimate takes.

Most stay where they are. Some close in a block of training (30 to 80 % of what lies beyond the
lead, in 6 to 10 weeks), some lose 15 to 40 % of one side on one day and win it back, some widen
slowly. Squads test every week, every other week or every month.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline import scales
from pipeline.catalogue import Measure
from tests.benchmarks.simulate import (
    LAST_DAY,
    MEASURES,
    Simulated,
    leads,
    ten_percent_measures,
    trial_frame,
)

PATHS = ("stable", "closing", "hurt", "widening")
STABLE, CLOSING, HURT, WIDENING = range(4)


@dataclass(frozen=True)
class Changing:
    """How the squads differ; pairs are lowest and highest, weeks count back from the as-of day."""

    squads: int = 150
    seed: int = 1
    shares: tuple[float, float, float, float] = (0.60, 0.20, 0.08, 0.12)  # as PATHS
    athletes: tuple[int, int] = (12, 40)
    gaps: tuple[int, ...] = (7, 14, 28)  # days between tests, one of them a squad
    weeks: tuple[int, int] = (16, 30)  # from the first test to the last
    trials: tuple[int, int] = (2, 4)
    untested: int = 0  # weeks since the last test
    missing: float = 0.07
    error_factor: tuple[float, float] = (0.7, 1.5)
    spread_factor: tuple[float, float] = (0.7, 1.5)
    day_share: tuple[float, float] = (0.3, 0.8)
    day_memory: float = 0.0  # correlation of the errors of two test days in a row
    drift_share: tuple[float, float] = (0.0, 0.04)
    lead_share: float = 0.1
    heavy_tails: float = 0.5
    step: float = 0.0  # scores are known to this step alone, as loads are
    measures: tuple[str, ...] = MEASURES


@dataclass(frozen=True)
class _Path:
    """Where each athlete's sides go beyond the start; arrays [athlete, day]."""

    d: np.ndarray  # true difference
    lower: np.ndarray  # of each side, [athlete, day, side]; what adds up to d
    kind: np.ndarray  # [athlete]
    began: np.ndarray  # [athlete] weeks before the end; nan for the stable
    ended: np.ndarray  # [athlete] the same for the end of a block; nan for all others
    lost: np.ndarray  # [athlete] share of the side lost at once; nan for all but the hurt
    lost_now: np.ndarray  # [athlete] what is still lost of it at the end


def simulate_changing(scenario: Changing) -> Simulated:
    """All squads of a scenario; the same seed gives the same squads."""
    rng = np.random.default_rng([scenario.seed, 20])
    measures = ten_percent_measures(scenario.measures)
    parts = [_squad(rng, scenario, measures, number) for number in range(scenario.squads)]
    trials, athletes, truth = (pl.concat(frames) for frames in zip(*parts, strict=True))
    return Simulated(trials, athletes, truth, measures)


def _squad(
    rng: np.random.Generator, scenario: Changing, measures: Mapping[str, Measure], number: int
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    size = int(rng.integers(scenario.athletes[0], scenario.athletes[1] + 1))
    gap = int(rng.choice(scenario.gaps))
    weeks = int(rng.integers(scenario.weeks[0], scenario.weeks[1] + 1))
    count = max(2, round(7 * weeks / gap) + 1)
    wander = rng.integers(-1, 2, count)
    wander[-1] = 0
    days = LAST_DAY - 7 * scenario.untested - gap * np.arange(count)[::-1] + wander
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
    truth = pl.concat([truth for _, truth in frames]).with_columns(squad, gap=pl.lit(gap))
    return trials, athletes.with_columns(squad), truth


def _measure(
    rng: np.random.Generator,
    scenario: Changing,
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
    all_days = np.append(days, LAST_DAY)  # what is true at the as-of date, tested or not
    gone = np.sqrt(np.diff(all_days, prepend=all_days[0]) / 7)
    moves = np.cumsum(rng.normal(size=(size, len(all_days))) * drift * gone, axis=1)
    path = _path(rng, scenario, spread * unit, (LAST_DAY - all_days) / 7)
    beyond = path.d + moves
    true = lead[:, None] + beyond
    base = np.log(measure.expected_men[0]) + 0.15 * rng.normal(size=size)
    base = base[:, None] + 0.03 * rng.normal(size=(size, date_count))
    odd = day_sd * _remembered(rng, (size, date_count), scenario.day_memory)
    half = (lead[:, None] + moves[:, :-1] + path.d[:, :1] + odd) / 2
    level = np.stack([base - half, base + half], axis=2) + path.lower[:, :-1]
    score = level[..., None] + error * rng.normal(size=(size, date_count, 2, trial_count))
    if scenario.step:
        load = np.maximum(np.exp(score) // scenario.step, 1) * scenario.step
        score = np.log(load)
    came = rng.random((size, date_count)) >= scenario.missing
    came[:, -1] |= ~came.any(axis=1)
    truth = pl.DataFrame(
        {
            "athlete_id": names,
            "measure": measure.id,
            "true_d": true[:, -1],
            "true_lead": lead if measure.lead.by != "none" else np.zeros(size),
            "path": np.array(PATHS)[path.kind],
            "began": path.began,
            "ended": path.ended,
            "lost": path.lost,
            "lost_now": path.lost_now,
            "spread": spread,
            "error": error,
            "day_sd": day_sd,
            "drift": drift,
            "centre": lead,
            "heavy": heavy,
        }
    )
    return trial_frame(names, measure, days, came, score), truth


def _remembered(rng: np.random.Generator, shape: tuple[int, int], memory: float) -> np.ndarray:
    """Errors of days with SD 1, each sharing so much with the one before. Shape [athlete, day]."""
    found = rng.normal(size=shape)
    for day in range(1, shape[1]):
        found[:, day] = memory * found[:, day - 1] + np.sqrt(1 - memory**2) * found[:, day]
    return found


def _path(
    rng: np.random.Generator, scenario: Changing, start: np.ndarray, left: np.ndarray
) -> _Path:
    """Each athlete's way from `start` beyond the lead; `left` [day] weeks before the end."""
    size = len(start)
    kind = rng.choice(4, size, p=scenario.shares)
    sign = np.where(start < 0, -1.0, 1.0)
    # A block is begun where the difference is large.
    begin = np.where(
        kind == CLOSING, sign * np.maximum(np.abs(start), rng.uniform(0.10, 0.25, size)), start
    )
    began = np.select(
        [kind == CLOSING, kind == HURT, kind == WIDENING],
        [rng.uniform(2, 22, size), rng.uniform(0.2, 20, size), rng.uniform(6, 24, size)],
        np.nan,
    )
    since = np.maximum(began[:, None] - left, 0.0)
    took = rng.uniform(6, 10, size)
    share = rng.uniform(0.3, 0.8, size)[:, None] * np.minimum(since / took[:, None], 1.0)
    loss = rng.uniform(0.15, 0.40, size)
    mends = rng.uniform(5, 12, size)[:, None]
    hit = np.log1p(-loss)[:, None] * np.exp(-since / mends) * (began[:, None] > left)
    hurt_side = rng.integers(0, 2, size)
    grows = rng.uniform(0.004, 0.012, size)[:, None] * since
    right = np.array([-1.0, 1.0])  # how a rise of each side moves d
    weaker = np.where(sign > 0, 0, 1)
    lower = np.zeros((size, len(left), 2))
    rows = np.arange(size)
    # The weaker side rises in a block; the hurt side falls; what widens is the better side's gain.
    rise = np.abs(begin)[:, None] * share
    lower[rows, :, weaker] += np.where((kind == CLOSING)[:, None], rise, 0.0)
    lower[rows, :, hurt_side] += np.where((kind == HURT)[:, None], hit, 0.0)
    lower[rows, :, 1 - weaker] += np.where((kind == WIDENING)[:, None], grows, 0.0)
    return _Path(
        d=begin[:, None] + (lower * right).sum(axis=2),
        lower=lower,
        kind=kind,
        began=began,
        ended=np.where(kind == CLOSING, began - took, np.nan),
        lost=np.where(kind == HURT, loss, np.nan),
        lost_now=np.where(kind == HURT, -np.expm1(hit[:, -1]), 0.0),
    )
