"""The estimate on real people: two grip trials with each hand foretell the third.

NHANES 2011-2012, 4,948 adults with all six trials (public domain; see data/README.md). Shrinkage
by handedness foretells the third difference with 0.932 of the error of the raw mean of the first
two; the estimate, which pools the error too, comes to 0.903, and its intervals must hold what
they promise.
"""

from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.catalogue import catalogue
from pipeline.estimate import estimate
from pipeline.settings import Settings

DAY = date(2012, 1, 1)
SIDES = ("left", "right")
Z90 = 1.644854


@pytest.fixture(scope="module")
def survey() -> pl.DataFrame:
    rows = pl.read_csv(Path(__file__).parent / "data" / "nhanes_grip_2011_2012.csv")
    return rows.drop_nulls([f"{side}_{n}" for side in SIDES for n in (1, 2, 3)])


@pytest.fixture(scope="module")
def found(survey: pl.DataFrame) -> pl.DataFrame:
    """Estimate and spread from trials 1 and 2 beside the third difference, one row a person."""
    person = pl.col("person").alias("athlete_id")
    trials = pl.concat(
        survey.select(
            person,
            pl.lit("adults").alias("squad"),
            pl.lit("grip_strength").alias("measure"),
            pl.lit(DAY).alias("tested_on"),
            pl.lit(side).alias("side"),
            pl.lit(n, pl.Int64).alias("trial"),
            pl.col(f"{side}_{n}").log().alias("score"),
            pl.lit(True).alias("shapes"),
        )
        for side in SIDES
        for n in (1, 2)
    )
    people = survey.select(
        person,
        pl.lit("adults").alias("squad"),
        pl.col("dominant").alias("dominant_hand"),
        pl.lit(None, pl.String).alias("dominant_foot"),
        pl.lit(True).alias("shapes"),
    )
    result = estimate(trials, people, catalogue().measures, DAY, Settings())
    error = result.errors.row(0, named=True)
    # One more pair of trials on the same day: both trials' errors less what they share.
    noise = 2 * error["within_sd"] ** 2 * (1 - error["pairing"])
    logs = {(side, n): pl.col(f"{side}_{n}").log() for side in SIDES for n in (1, 2, 3)}
    seen = survey.select(
        person,
        (logs["right", 3] - logs["left", 3]).alias("third"),
        ((logs["right", 1] + logs["right", 2] - logs["left", 1] - logs["left", 2]) / 2).alias(
            "raw"
        ),
    )
    return result.today.join(seen, on="athlete_id").with_columns(
        (pl.col("sd") ** 2 + noise).sqrt().alias("forecast_sd"),
        pl.lit(error["lead_right"]).alias("lead_right"),
        pl.lit(error["lead_left"]).alias("lead_left"),
    )


def root_mean_square(error: pl.Series) -> float:
    return float(np.sqrt((error.to_numpy() ** 2).mean()))


def test_the_third_trial_is_foretold_better_than_by_the_raw_mean(found: pl.DataFrame) -> None:
    raw = root_mean_square(found["third"] - found["raw"])
    assert raw == pytest.approx(0.104262, abs=1e-6)
    assert root_mean_square(found["third"] - found["estimate"]) / raw <= 0.91


def test_nine_in_ten_third_trials_fall_into_their_interval(found: pl.DataFrame) -> None:
    miss = (found["third"] - found["estimate"]).abs() / found["forecast_sd"]
    assert 0.87 <= (miss <= Z90).mean() <= 0.93


def test_right_handers_lead_and_left_handers_are_even(found: pl.DataFrame) -> None:
    """Means of the survey: right-handed 0.066581, left-handed -0.017207 (their hands even)."""
    assert found["lead_right"][0] == pytest.approx(0.066581, abs=0.004)
    assert found["lead_left"][0] == pytest.approx(-0.017207, abs=0.012)
