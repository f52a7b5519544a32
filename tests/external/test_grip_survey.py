"""Three grip trials with each hand of 5,064 adults, by way of our own intake and marts.

Data: National Health and Nutrition Examination Survey 2011-2012, muscle strength (grip test),
public-use file of the US National Center for Health Statistics, public domain; see data/README.md.
All trials count, those of questionable effort included. The expected figures were worked out from
the raw columns with polars and numpy alone.
"""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.intake import Intake, read_exports
from pipeline.scales import percent_of_better
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.stock import raw_frames, stock

SURVEY = Path(__file__).parent / "data" / "nhanes_grip_2011_2012.csv"
TESTED_ON = date(2012, 6, 30)  # the survey names no day
TRIALS = [f"{side}_{trial}" for side in ("left", "right") for trial in (1, 2, 3)]


def write_exports(folder: Path, survey: pl.DataFrame) -> None:
    """The survey as a team would have it: a roster, and one row per trial and hand."""
    survey.select(
        athlete_id="person",
        name=pl.format("Person {}", "person"),
        squad=pl.lit("Survey"),
        sex="sex",
        dominant_hand="dominant",
    ).write_csv(folder / "roster.csv")
    survey.unpivot(TRIALS, index="person").select(
        athlete_id="person",
        tested_on=pl.lit(TESTED_ON),
        test=pl.lit("Hand grip"),
        side=pl.col("variable").str.split("_").list.first(),
        trial=pl.col("variable").str.split("_").list.last(),
        value="value",
        unit=pl.lit("kg"),
    ).write_csv(folder / "grip.csv")


@pytest.fixture(scope="module")
def intake(tmp_path_factory: pytest.TempPathFactory) -> Intake:
    folder = tmp_path_factory.mktemp("exports")
    write_exports(folder, pl.read_csv(SURVEY))
    return read_exports(folder, Settings())


@pytest.fixture(scope="module")
def warehouse(intake: Intake) -> Iterator[Warehouse]:
    with Warehouse() as house:
        stock(house, raw_frames(intake), TESTED_ON, Settings())
        yield house


@pytest.fixture(scope="module")
def complete(warehouse: Warehouse) -> pl.DataFrame:
    """One row per person with all six trials."""
    people = warehouse.fetch("stg_athletes").select("athlete_id", "dominant_hand")
    return (
        warehouse.fetch("mart_day_asymmetry")
        .filter((pl.col("left_trial_count") == 3) & (pl.col("right_trial_count") == 3))
        .join(people, on="athlete_id")
        .sort("athlete_id")
    )


def test_every_trial_of_the_survey_is_read_and_none_is_doubted(intake: Intake) -> None:
    rows = {row["file"]: row for row in intake.files.iter_rows(named=True)}
    grip = rows["grip.csv"]
    assert (grip["rows_accepted"], grip["rows_refused"], grip["rows_repeated"]) == (30_057, 0, 0)
    assert rows["roster.csv"]["rows_accepted"] == 5_064
    assert intake.doubts.filter(pl.col("is_held")).height == 0


def test_error_of_a_trial_is_pooled_over_hands_with_its_degrees_of_freedom(
    warehouse: Warehouse,
) -> None:
    sides = warehouse.fetch("mart_side_values").filter(pl.col("trial_count") > 1)
    freedom = (sides["trial_count"] - 1).to_numpy()
    assert freedom.sum() == 20_026
    pooled = (sides["score_variance"].to_numpy() * freedom).sum() / freedom.sum()
    assert np.sqrt(pooled) == pytest.approx(0.077535, abs=1e-6)


@pytest.mark.parametrize(
    ("hand", "people", "mean", "sd"),
    [
        ("right", 4_371, 0.066581, 0.128656),
        ("left", 383, -0.017207, 0.152234),
        ("both", 194, 0.036301, None),
    ],
)
def test_right_hand_leads_in_right_handers_only(
    complete: pl.DataFrame, hand: str, people: int, mean: float, sd: float | None
) -> None:
    d = complete.filter(pl.col("dominant_hand") == hand)["d"].to_numpy()
    assert len(d) == people
    assert np.mean(d) == pytest.approx(mean, abs=1e-6)
    if sd is not None:
        assert np.std(d, ddof=1) == pytest.approx(sd, abs=1e-6)


def test_plain_ten_percent_rule_would_flag_four_adults_in_ten(complete: pl.DataFrame) -> None:
    by_mean = percent_of_better(complete["d"].to_numpy())
    best = (complete["right_best_value"] / complete["left_best_value"]).log().to_numpy()
    by_best = percent_of_better(best)
    nearly_ten = 10 - 1e-9  # seven people differ by ten percent exactly
    assert len(complete) == 4_948
    assert np.mean(np.abs(by_mean) >= nearly_ten) == pytest.approx(0.387429, abs=1e-6)
    assert np.mean(np.abs(by_best) >= nearly_ten) == pytest.approx(0.381164, abs=1e-6)


def test_the_same_trials_written_in_pounds_come_to_the_same_kilograms(tmp_path: Path) -> None:
    some = pl.read_csv(SURVEY).drop_nulls(TRIALS).head(50)
    pounds = some.with_columns(pl.col(TRIALS) / 0.45359237)
    write_exports(tmp_path, pounds)
    table = (tmp_path / "grip.csv").read_text().replace(",kg\n", ",lb\n")
    (tmp_path / "grip.csv").write_text(table)
    trials = read_exports(tmp_path, Settings()).trials.sort("athlete_id", "side", "trial")
    expected = some.unpivot(TRIALS, index="person").sort("person", "variable")["value"]
    assert trials["value"].to_list() == pytest.approx(expected.to_list(), rel=1e-12)
