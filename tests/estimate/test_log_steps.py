"""Strength from a training log: loads come in steps, and a plateau is one observation."""

from datetime import date, timedelta
from math import log, sqrt
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.estimate import estimate
from pipeline.settings import EstimateSettings, Settings
from tests.estimate.rows import HOP, START, estimated, measure, roster, session, trials
from tests.raw import week

LAST = date(2026, 11, 20)
ROW = "est_1rm:single_arm_dumbbell_row"
# One normal for a prior, nobody changes and no day differs, so that one test is a line of algebra.
PLAIN = EstimateSettings(
    tail_weights=(1.0,), tail_scales=(1.0,), start_rate=0.0, jump_rate=0.0, odd_share=0.0,
    stray_low_share=0.0001, day_share=0.01, day_log_sd=0.05, drift_share=0.001, drift_log_sd=0.05,
    spread_log_sd=0.05,
)  # fmt: skip


def log_of(*loads: tuple[float, float], who: str = "A1", days: int = 7) -> list[dict[str, Any]]:
    """A session of one set a side with these loads, left and right, every so many days."""
    return [
        {"athlete_id": who, "exercise": "single_arm_dumbbell_row", "side": side, "set_number": 1,
         "reps": 8.0, "load_kg": load, "trained_on": LAST - timedelta(days=days * back)}
        for back, pair in zip(reversed(range(len(loads))), loads, strict=True)
        for side, load in zip(("left", "right"), pair, strict=True)
    ]  # fmt: skip


def found(sets: list[dict[str, Any]], who: str = "A1") -> dict[str, Any]:
    return week(LAST, sets=sets).findings.filter(athlete_id=who).row(0, named=True)


def test_one_day_is_the_middle_of_what_was_lifted_and_the_next_loads() -> None:
    """By hand: normal prior, error of a trial, and a twelfth of each step's square (a uniform)."""
    steps = {"left": log(17.5 / 15), "right": log(20 / 17.5)}
    frame = trials(session("A", 28, [15.0], [17.5])).with_columns(
        pl.col("side").replace_strict(steps).alias("step")
    )
    hop = measure()
    people = roster(["A"])
    result = estimate(frame, people, {HOP: hop}, START + timedelta(days=28),
                      Settings(estimate=PLAIN))  # fmt: skip
    own, error = result.errors.row(0, named=True), result.today.row(0, named=True)
    middle = log(17.5 / 15) + (steps["right"] - steps["left"]) / 2
    variance = 2 * own["within_sd"] ** 2 + own["day_sd"] ** 2
    variance += (steps["left"] ** 2 + steps["right"] ** 2) / 12
    prior = own["spread_sd"] ** 2
    assert error["estimate"] == pytest.approx(middle * prior / (prior + variance), rel=0.05)
    assert error["sd"] == pytest.approx(sqrt(prior * variance / (prior + variance)), rel=0.05)
    assert error["observed"] == pytest.approx(log(17.5 / 15))  # as lifted
    assert error["observed_se"] == pytest.approx(sqrt(variance))
    assert error["typical_error"] == pytest.approx(sqrt(variance))


def test_without_steps_nothing_is_added() -> None:
    frame = trials(session("A", 28, [15.0], [17.5]))
    with_none = estimated(frame.with_columns(step=pl.lit(0.0))).today
    assert estimated(frame).today.equals(with_none)


def test_a_simulated_uniform_error_has_the_variance_that_is_said_of_it() -> None:
    """Capacities are even on the logarithm within a step; the middle misses them by its twelfth."""
    rng = np.random.default_rng(5)
    load = np.exp(rng.uniform(np.log(15), np.log(17.5), 20_000))
    middle = (log(15) + log(17.5)) / 2
    assert np.std(np.log(load) - middle) == pytest.approx(log(17.5 / 15) / sqrt(12), rel=0.03)


def test_a_plateau_in_a_squad_of_one_says_no_more_than_its_first_day() -> None:
    """Ten sessions at 15 and 20 kg are one observation, so nothing is confirmed by repeating it."""
    once, often = found(log_of((15, 20))), found(log_of(*[(15, 20)] * 10))
    assert (often["session_count"], often["verdict"]) == (1, "one_session")
    assert often["last_tested_on"] == LAST - timedelta(days=63)
    # Nine weeks on somebody may have changed: no surer than on the day itself.
    assert often["chance_over_line"] <= once["chance_over_line"] + 1e-9
    assert often["high90"] - often["low90"] > once["high90"] - once["low90"]
    assert once["chance_over_line"] < Settings().review.confirmed_chance


def test_a_squad_of_one_learns_from_loads_that_change() -> None:
    rising = [(10.0 + 2.5 * n, 15.0 + 2.5 * n) for n in range(6)]
    several, one = found(log_of(*rising, days=14)), found(log_of(rising[-1]))
    assert several["session_count"] == 6
    assert several["lower_side"] == "left"
    assert several["chance_over_line"] > one["chance_over_line"]
    assert several["high90"] - several["low90"] < one["high90"] - one["low90"]


def test_athletes_of_one_squad_keep_their_own_plateaus() -> None:
    sets = log_of(*[(15, 17.5)] * 4, who="A1") + log_of((15, 17.5), (17.5, 20), (15, 17.5), who="B")
    rows = week(LAST, sets=sets).findings.filter(measure=ROW)
    assert dict(rows.select("athlete_id", "session_count").iter_rows()) == {"A1": 1, "B": 3}


def test_finer_loads_say_more_than_coarse_ones() -> None:
    """21 and 26 kg of a rack with single kilograms, 20 and 25 kg of one with steps of 2.5."""
    fine, coarse = found(log_of((21, 26))), found(log_of((20, 25)))
    assert fine["observed"] < coarse["observed"]
    assert fine["typical_error"] < coarse["typical_error"]
    assert fine["observed_se"] < coarse["observed_se"]


def test_an_error_of_a_trial_is_never_learned_from_single_sets() -> None:
    errors = week(LAST, sets=log_of((15, 17.5), (20, 20), (15, 20))).estimates.errors
    record = errors.filter(measure=ROW).row(0, named=True)
    assert record["within_df"] == 0


def test_the_middle_is_no_trial_that_pairs() -> None:
    """Errors of both sides are not taken for alike because both are moved to the middle."""
    frame = trials(session("A", 0, [15.0], [15.0]) + session("A", 7, [17.5], [17.5]))
    stepped = frame.with_columns(step=pl.lit(0.15))
    assert estimated(stepped).errors["pairing"].to_list() == [0.0]
