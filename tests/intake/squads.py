"""Made-up squads whose true differences are known, as settled rows of the intake."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from pipeline.catalogue import Measure, catalogue
from pipeline.intake.rows.people import People, make_people

FIRST_DAY = date(2024, 1, 8)
STEPS = {"cm": 0.5, "kg": 0.5, "deg": 1.0, "N": 1.0, "s": 0.01, "reps": 1.0, "Nm": 1.0}
TESTED = [
    "single_hop", "grip_strength", "knee_to_wall", "imtp_single_peak_force", "thigh_girth",
    "sl_cmj_height", "side_plank_hold", "isok_knee_extension_60", "calf_raise_reps",
    "hip_ir_rom", "nordic_ecc_force", "cod_505_time", "db_bench_single_rm", "shoulder_er_iso_force",
]  # fmt: skip


@dataclass(frozen=True)
class Squad:
    """Settled rows (one file a session, numbered from 0) and the people they are about."""

    rows: pl.DataFrame
    people: People


def people_of(count: int, chance: np.random.Generator) -> People:
    """Athletes of both sexes, most of them right-handed and right-footed."""
    sides = np.array(["left", "right"])
    return make_people(
        pl.DataFrame(
            {
                "athlete_id": [f"P{number:02d}" for number in range(count)],
                "name": [f"Person {number}" for number in range(count)],
                "sex": [chance.choice(["female", "male"])] * count,
                "dominant_hand": sides[(chance.random(count) < 0.9).astype(int)],
                "dominant_foot": sides[(chance.random(count) < 0.8).astype(int)],
                "known_side": pl.Series([None] * count, dtype=pl.String),
                "birth_date": pl.Series([None] * count, dtype=pl.Date),
                "height_cm": 175.0,
                "body_mass_kg": 75.0,
                "left_limb_length_cm": 88.0,
                "right_limb_length_cm": 88.0,
            }
        ),
        {},
    )


def squad(seed: int, sessions: int | None = None, tests: list[str] | None = None) -> Squad:
    """A squad of 8 to 28 over two to eight sessions of three to seven tests."""
    chance = np.random.default_rng(seed)
    people = people_of(int(chance.integers(8, 29)), chance)
    known = catalogue().measures
    pool = [name for name in TESTED if name in known]
    count = int(chance.integers(3, 8))
    chosen = tests or [str(name) for name in chance.choice(pool, count, replace=False)]
    days = int(sessions or chance.integers(2, 9))
    parts = [_test(people, known[name], days, chance) for name in chosen]
    rows = pl.concat(parts).sort("entry", "athlete", "measure", "side", "trial")
    return Squad(rows.with_row_index("row"), people)


def _test(people: People, measure: Measure, days: int, chance: np.random.Generator) -> pl.DataFrame:
    """All attempts of one test: person, true difference, drift, the day and the attempt."""
    count, is_log = len(people.ids), measure.scale == "log"
    mean, sd = measure.expected_women if people.sex[0] == "female" else measure.expected_men
    scale = {"pct_of_best": 0.01, "bilateral_index": 0.02}.get(measure.formula, 1.0)
    hand = (people.hand if measure.lead.by == "hand" else people.foot).to_numpy()
    leads = np.where(hand == 1, measure.lead.right_dominant, -measure.lead.left_dominant)
    true = leads * (measure.lead.by != "none") + 0.8 * measure.side_sd * chance.standard_t(5, count)
    level = mean * np.exp(chance.normal(0, 0.08) + chance.normal(0, min(0.35, sd / mean), count))
    error = measure.error / 100 if measure.error_kind == "pct" else measure.error
    if is_log != (measure.error_kind == "pct"):
        error = error / mean if is_log else error * mean
    # day, side, trial, athlete
    shape = days, 2, measure.trials, count
    drift = 0.15 * measure.side_sd * chance.normal(size=(days, count)).cumsum(axis=0)
    apart = scale * (true + drift)[:, None, None, :] * np.array([-0.5, 0.5])[:, None, None]
    apart = -apart if measure.better == "lower" else apart
    noise = chance.normal(0, 0.6 * error, (days, 2, 1, count)) + chance.normal(0, error, shape)
    value = level * np.exp(apart + noise) if is_log else level + apart + noise
    step = STEPS.get(measure.unit, 0.01)
    value = np.maximum(step, np.round(value / step) * step).round(6)
    day, side, trial, athlete = (axis.ravel() for axis in np.indices(shape))
    present = (chance.random((days, count)) < 0.9)[day, athlete]
    rows = pl.DataFrame(
        {
            "entry": pl.Series(day, dtype=pl.UInt32),
            "athlete": pl.Series(athlete, dtype=pl.UInt32),
            "day": pl.Series(day * 7).cast(pl.Int32) + (FIRST_DAY - date(1970, 1, 1)).days,
            "side": pl.Series(side, dtype=pl.UInt8),
            "trial": pl.Series(trial + 1),
            "value": value.ravel(),
        }
    )
    place = list(catalogue().measures).index(measure.id)
    return rows.filter(pl.Series(present)).with_columns(
        pl.col("day").cast(pl.Date), measure=pl.lit(place, pl.UInt32), factor=pl.lit(1.0)
    )
