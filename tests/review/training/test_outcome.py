"""Did it help? What was done is counted, and falling back is not taken for success."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.catalogue import full_catalogue
from pipeline.estimate import Estimates, estimate
from pipeline.report.sections.training_page import dose_sentence
from pipeline.review.decisions.standing import STANDING
from pipeline.review.training.dose import dose_response
from pipeline.review.training.outcome import OUTCOME, outcomes
from pipeline.settings import Settings

BOOK = full_catalogue()
START = date(2026, 8, 4)
WEEKS = [0, 2, 4, 8, 10, 12]
DECIDED_WEEK, MEASURE = 5, "single_hop"
DECIDED = START + timedelta(weeks=DECIDED_WEEK)
AS_OF = START + timedelta(weeks=12)
SETS = pl.DataFrame(
    schema={
        "athlete_id": pl.String, "trained_on": pl.Date, "week_on": pl.Date, "exercise": pl.String,
        "exercise_name": pl.String, "pattern": pl.String, "region": pl.String, "type": pl.String,
        "equipment": pl.String, "side": pl.String, "reps": pl.Float64, "load_kg": pl.Float64,
        "rir": pl.Float64, "pain": pl.Float64,
    }
)  # fmt: skip


def simulated(
    squads: int, size: int, effect: float, seed: int, day_noise: float = 0.05
) -> tuple[pl.DataFrame, ...]:
    """Single hops of many squads: true d normal about 0, a day's error, three trials a side.

    From the decision on, the true difference shrinks by the share `effect`.
    """
    draw = np.random.default_rng(seed)
    athletes = [f"S{squad:02}-{n:02}" for squad in range(squads) for n in range(size)]
    true = draw.normal(0.0, 0.08, len(athletes)) * np.where(draw.random(len(athletes)) < 0.1, 2, 1)
    rows = []
    for who, d in zip(athletes, true, strict=True):
        level = np.log(150.0) + draw.normal(0, 0.08)
        for week in WEEKS:
            now = d * (1 - effect) if week > DECIDED_WEEK else d
            now += draw.normal(0, day_noise)
            for side, sign in (("left", -1), ("right", 1)):
                for trial in (1, 2, 3):
                    score = level + sign * now / 2 + draw.normal(0, 0.035)
                    rows.append((who[:3], who, MEASURE, START + timedelta(weeks=week), side,
                                 trial, float(score), True))  # fmt: skip
    trials = pl.DataFrame(
        rows,
        schema=["squad", "athlete_id", "measure", "tested_on", "side", "trial", "score", "shapes"],
        orient="row",
    )
    people = pl.DataFrame(
        {
            "athlete_id": athletes, "squad": [who[:3] for who in athletes],
            "dominant_hand": "right", "dominant_foot": "right", "shapes": True,
        }
    ).with_columns(birth_date=pl.lit(date(1998, 1, 1)))  # fmt: skip
    return trials, people


def standing(*rows: tuple[str, str, str, str, date | None]) -> pl.DataFrame:
    """What stands about flags: athlete, topic, family, decision and when it is looked at again."""
    filled = [
        (f"{who}.{topic}.{family}", who, topic, family, decision, DECIDED, until)
        for who, topic, family, decision, until in rows
    ]
    return pl.DataFrame(filled, STANDING, orient="row")


def decided(estimates: Estimates) -> pl.DataFrame:
    """Everybody picked by eye: 12 % or more apart in the last test before the meeting."""
    picked = estimates.days.filter(
        (pl.col("tested_on") == START + timedelta(weeks=4)) & (pl.col("d").abs() > 0.12)
    )
    return picked.select(
        (pl.col("athlete_id") + f".{MEASURE}.difference").alias("flag_id"),
        "athlete_id",
        pl.lit(MEASURE).alias("topic"),
        pl.lit("difference").alias("family"),
        pl.lit("train").alias("decision"),
        pl.lit(None, pl.Date).alias("review_on"),
        pl.lit(DECIDED).alias("decided_on"),
    )


def judged(effect: float, seed: int, day_noise: float = 0.05) -> pl.DataFrame:
    trials, people = simulated(24, 22, effect, seed, day_noise)
    settings = Settings()
    estimates = estimate(trials, people, BOOK.measures, AS_OF, settings)
    return outcomes(decided(estimates), estimates, SETS, people, BOOK, AS_OF, settings)


@pytest.fixture(scope="module")
def nothing_helped() -> pl.DataFrame:
    return pl.concat([judged(0.0, seed) for seed in (1, 2, 3)])


def test_at_most_one_in_ten_without_any_effect_is_called_smaller(
    nothing_helped: pl.DataFrame,
) -> None:
    assert nothing_helped.height > 100
    share = (nothing_helped["verdict"] == "smaller").mean()
    assert share is not None and share <= 0.10


def test_picked_athletes_fall_back_as_foretold(nothing_helped: pl.DataFrame) -> None:
    """The raw differences they were picked for shrink; the estimates of that day do not."""
    size = pl.col("observed_then_d").sign()
    then, expected, latest = (
        nothing_helped.select((pl.col(name) * size).mean()).item()
        for name in ("observed_then_d", "expected_d", "latest_d")
    )
    assert then - latest > 0.01
    assert expected == pytest.approx(latest, abs=0.01)


def test_chances_of_closing_are_spread_evenly_where_nothing_helped(
    nothing_helped: pl.DataFrame,
) -> None:
    below = (nothing_helped["chance_smaller"] < 0.5).mean()
    assert below == pytest.approx(0.5, abs=0.12)


def test_no_change_shown_is_the_usual_answer_without_an_effect(
    nothing_helped: pl.DataFrame,
) -> None:
    share = (nothing_helped["verdict"] == "no change shown").mean()
    assert share is not None and share >= 0.85


def test_a_difference_that_halves_is_seen_more_often_than_not() -> None:
    assert (judged(0.6, 4, day_noise=0.02)["verdict"] == "smaller").mean() > 0.6


def test_a_block_without_a_later_test_is_too_early_to_judge() -> None:
    trials, people = simulated(1, 22, 0.0, 5)
    early = trials.filter(pl.col("tested_on") <= START + timedelta(weeks=4))
    day = DECIDED + timedelta(days=3)
    estimates = estimate(early, people, BOOK.measures, day, Settings())
    who = str(estimates.today["athlete_id"][0])
    until = DECIDED + timedelta(weeks=6)
    decisions = standing((who, MEASURE, "difference", "train", until))
    row = outcomes(decisions, estimates, SETS, people, BOOK, day, Settings()).row(0, named=True)
    assert (row["verdict"], row["latest_d"]) == ("too early", None)
    assert row["started_on"] == DECIDED


def test_decisions_that_are_not_to_train_start_no_block() -> None:
    trials, people = simulated(1, 22, 0.0, 6)
    estimates = estimate(trials, people, BOOK.measures, AS_OF, Settings())
    who = str(estimates.today["athlete_id"][0])
    decisions = standing(
        (who, MEASURE, "difference", "retest", None),
        (who, "lower_body", "training", "train", None),
        (who, "moon_jump", "difference", "train", None),
        ("nobody", "single_hop", "difference", "train", None),
    )
    assert outcomes(decisions, estimates, SETS, people, BOOK, AS_OF, Settings()).is_empty()


def blocks_with(dose: list[float], change: list[float]) -> pl.DataFrame:
    rows = [
        {"change_in_lines": y, "extra_sets_per_week": x, "adherence": 1.0}
        for x, y in zip(dose, change, strict=True)
    ]
    return pl.DataFrame(rows, schema={name: OUTCOME[name] for name in rows[0]})


def test_too_few_blocks_say_nothing_about_the_dose() -> None:
    found = dose_response(blocks_with([0.0, 1.0, 2.0], [0.1, 0.2, 0.3]))
    assert found.slope is None
    assert dose_sentence(found).startswith("3 blocks with a log and a later test: too few")


def test_the_dose_slope_is_the_least_squares_one_with_its_interval() -> None:
    dose, change = [0.0, 0.0, 1.0, 1.0, 2.0, 2.0], [0.0, 0.2, 0.3, 0.5, 0.6, 0.8]
    found = dose_response(blocks_with(dose, change))
    assert found.slope == pytest.approx(0.3)
    residual = sum((y - (0.1 + 0.3 * x)) ** 2 for x, y in zip(dose, change, strict=True)) / 4
    half = 2.1318 * (residual / 4) ** 0.5  # t at 95 % with 4 degrees of freedom; Sxx = 4
    assert found.low == pytest.approx(0.3 - half, abs=1e-4)
    assert "not drawn by lot" in dose_sentence(found)


def test_noise_over_the_doses_is_said_to_be_just_that() -> None:
    dose, change = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5], [0.3, -0.4, 0.5, -0.2, 0.4, 0.0]
    found = dose_response(blocks_with(dose, change))
    assert found.low is not None and found.low < 0
    assert dose_sentence(found).startswith("These data cannot tell whether more extra work closed")
