"""Spread between people and error from day to day against a mixed model fitted by REML.

Three systolic readings of 150 people (NHANES 2017-2018, public domain; see data/README.md) stand
in for differences tested on three days; some are left out, so that people have one to three.
"""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import polars as pl
import pytest
from statsmodels.formula.api import mixedlm

from pipeline.catalogue import catalogue
from pipeline.estimate import estimate
from pipeline.settings import EstimateSettings, Settings

DATA = Path(__file__).parent / "data" / "nhanes_2017_2018_systolic_150.csv"
FIRST = date(2018, 1, 1)


@pytest.fixture(scope="module")
def readings() -> pl.DataFrame:
    long = pl.read_csv(DATA).unpivot(index="person", variable_name="reading", value_name="mmhg")
    number = pl.col("reading").str.tail(1).cast(pl.Int64)
    long = long.with_columns(number=number, d=(pl.col("mmhg") / 120).log())
    return long.filter(~((pl.col("person") % 5 == 0) & (pl.col("number") > 1))).filter(
        ~((pl.col("person") % 7 == 0) & (pl.col("number") == 2))
    )


@pytest.fixture(scope="module")
def ours(readings: pl.DataFrame) -> dict[str, float]:
    """The squad's figures with one normal for a prior, and no drift."""
    trials = pl.concat(
        readings.select(
            squad=pl.lit("adults"),
            athlete_id=pl.format("P{}", "person"),
            measure=pl.lit("single_hop"),
            tested_on=pl.lit(FIRST) + pl.duration(days=pl.col("number")),
            side=pl.lit(side),
            trial=pl.lit(1, pl.Int64),
            score=pl.col("d") if side == "right" else pl.lit(0.0),
            shapes=pl.lit(True),
        )
        for side in ("left", "right")
    )
    people = trials.select("athlete_id", "squad").unique().sort("athlete_id")
    people = people.with_columns(
        dominant_hand=pl.lit(None, pl.String), dominant_foot=pl.lit(None, pl.String)
    ).with_columns(shapes=pl.lit(True))
    # Single trials without an error of their own: all scatter is from day to day.
    hop = replace(catalogue().measures["single_hop"], error=0.01, side_sd=10.0)
    settings = EstimateSettings.model_construct(
        error_df=1e9, day_share=300.0, day_log_sd=1.0, spread_log_sd=1.0, lead_share=100.0,
        drift_share=1e-6, drift_log_sd=0.01, tail_weights=(1.0,), tail_scales=(1.0,),
        odd_share=1e-12, jump_rate=1e-12,
    )  # fmt: skip
    found = estimate(
        trials, people, {"single_hop": hop}, FIRST + timedelta(days=9), Settings(estimate=settings)
    )
    return found.errors.row(0, named=True)


@pytest.fixture(scope="module")
def reference(readings: pl.DataFrame) -> tuple[float, float, float]:
    """Mean, SD between and SD within people by REML."""
    table = pd.DataFrame({name: readings[name].to_list() for name in ("person", "d")})
    fit = mixedlm("d ~ 1", table, groups=table["person"]).fit(reml=True)
    return (
        float(fit.fe_params.iloc[0]),
        float(np.sqrt(fit.cov_re.iloc[0, 0])),
        float(np.sqrt(fit.scale)),
    )


def test_the_spread_between_people_is_that_of_a_mixed_model(
    ours: dict[str, float], reference: tuple[float, float, float]
) -> None:
    assert ours["spread_sd"] == pytest.approx(reference[1], rel=0.01)


def test_the_error_from_day_to_day_is_that_of_a_mixed_model(
    ours: dict[str, float], reference: tuple[float, float, float]
) -> None:
    assert ours["day_sd"] == pytest.approx(reference[2], rel=0.08)  # a coarse grid for this one


def test_the_centre_is_that_of_a_mixed_model(
    ours: dict[str, float], reference: tuple[float, float, float]
) -> None:
    assert ours["lead_none"] == pytest.approx(reference[0], abs=1e-4)
