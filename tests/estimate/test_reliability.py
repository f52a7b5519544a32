"""What a squad's tests can tell apart."""

import numpy as np
import polars as pl
import pytest
from scipy.stats import f

from pipeline.catalogue import catalogue
from pipeline.estimate import estimate
from pipeline.estimate.sessions.agreement import one_way_icc, share_interval
from pipeline.settings import Settings
from tests.estimate.agreed import icc_forms, mean_squares
from tests.estimate.rows import START, estimated, measure, roster, session, squad_trials, trials


def test_the_change_limit_is_196_times_root_two_typical_errors() -> None:
    row = estimated(squad_trials(20)[0]).reliability.row(0, named=True)
    assert row["mdc95"] == pytest.approx(1.96 * np.sqrt(2) * row["typical_error"])


def test_the_typical_error_is_made_of_trials_and_days() -> None:
    row = estimated(squad_trials(20)[0]).errors.row(0, named=True)
    trial_part = 2 * row["within_sd"] ** 2 * (1 - row["pairing"]) / row["usual_trials"]
    assert row["typical_error"] == pytest.approx(np.sqrt(trial_part + row["day_sd"] ** 2))
    assert row["usual_trials"] == 3


def test_two_more_trials_make_the_detectable_difference_smaller() -> None:
    row = estimated(squad_trials(20, a_side=1)[0]).reliability.row(0, named=True)
    assert row["usual_trials"] == 1
    assert row["mdc95_more_trials"] < 0.75 * row["mdc95"]


def test_numbers_of_athletes_days_and_trials_are_counted() -> None:
    frame, _ = squad_trials(20)
    lone = trials(session("X", 0, [150] * 2, [150] * 2))
    row = estimated(pl.concat([frame, lone])).reliability.row(0, named=True)
    assert (row["athlete_count"], row["session_count"], row["trial_count"]) == (21, 61, 364)
    assert row["retested_count"] == 20


def test_the_within_day_variation_is_a_coefficient_only_on_the_ratio_scale() -> None:
    hop = estimated(squad_trials(20)[0]).reliability.row(0, named=True)
    assert hop["within_cv"] == pytest.approx(np.sqrt(np.expm1(hop["within_sd"] ** 2)))
    frame = squad_trials(20, name="hip_ir_rom")[0]
    degrees = estimated(frame, of=measure("hip_ir_rom")).reliability.row(0, named=True)
    assert degrees["within_cv"] is None


def test_the_icc_is_that_of_the_difference_not_of_the_raw_scores() -> None:
    # Everybody jumps a very different distance and nobody has a side: the difference is noise.
    rng = np.random.default_rng(3)
    rows = []
    for number in range(40):
        level = 100 + 3 * number
        for day in (0, 14):
            left, right = level * np.exp(0.03 * rng.normal(size=(2, 3)))
            rows += session(f"A{number:02d}", day, left, right)
    row = estimated(trials(rows)).reliability.row(0, named=True)
    assert abs(row["icc"]) < 0.35
    assert row["icc_low"] < row["icc"] < row["icc_high"]


def test_unequal_numbers_of_repeats_give_the_complete_tables_icc_where_they_are_equal() -> None:
    rng = np.random.default_rng(0)
    table = rng.normal(size=(12, 1)) + 0.5 * rng.normal(size=(12, 3))
    series = np.repeat(np.arange(12), 3)
    found = one_way_icc(table.ravel(), series, np.zeros(12, dtype=np.int64), 1)
    assert found.icc[0] == pytest.approx(icc_forms(table)["1,1"])
    ragged = one_way_icc(
        np.append(table.ravel(), 99.0), np.append(series, 12), np.zeros(13, dtype=np.int64), 1
    )
    assert ragged.icc[0] == found.icc[0]  # a single value says nothing about repeats


def test_the_side_that_stays_the_same_is_counted_with_its_interval() -> None:
    rows = []
    for number, second in enumerate([160, 160, 160, 140]):
        rows += session(f"A{number}", 0, [150] * 2, [160] * 2)
        rows += session(f"A{number}", 14, [150] * 2, [second] * 2)
    row = estimated(trials(rows)).reliability.row(0, named=True)
    assert row["same_side_count"] == 4
    assert row["same_side_share"] == 0.75
    low, high = share_interval(np.array([3.0]), np.array([4.0]))
    assert (row["same_side_low"], row["same_side_high"]) == (low[0], high[0])


def test_kappa_is_not_defined_where_everybody_leans_to_one_side() -> None:
    rows = []
    for number in range(6):
        for day in (0, 14):
            rows += session(f"A{number}", day, [150], [160])
    row = estimated(trials(rows)).reliability.row(0, named=True)
    assert row["same_side_share"] == 1
    assert row["kappa_days"] is None


def test_one_athlete_tested_twice_is_counted_too() -> None:
    rows = session("A", 0, [150], [160]) + session("A", 14, [150], [160])
    row = estimated(trials(rows)).reliability.row(0, named=True)
    assert (row["same_side_count"], row["same_side_share"]) == (1, 1)


def test_sides_that_are_equal_to_the_last_digit_have_no_direction() -> None:
    rows = session("A", 0, [150], [150]) + session("A", 14, [150], [160])
    row = estimated(trials(rows)).reliability.row(0, named=True)
    assert row["same_side_count"] == 0
    assert row["same_side_share"] is None
    assert row["same_side_low"] is None


def test_two_tests_are_compared_by_the_people_who_did_both() -> None:
    from datetime import timedelta

    from pipeline.estimate import estimate
    from pipeline.settings import Settings
    from tests.estimate.rows import START

    hop = trials(
        [
            row
            for name, right in (("A", 160), ("B", 160), ("C", 140), ("D", 140), ("E", 160))
            for row in session(name, 0, [150], [right])
        ]
    )
    jump = trials(
        [
            row
            for name, right in (("A", 16), ("B", 14), ("C", 14), ("D", 14))
            for row in session(name, 0, [15], [right])
        ],
        "sl_cmj_height",
    )
    measures = {name: measure(name) for name in ("single_hop", "sl_cmj_height")}
    people = roster(["A", "B", "C", "D", "E"])
    on = START + timedelta(days=1)
    found = estimate(pl.concat([hop, jump]), people, measures, on, Settings()).agreement
    assert found.rows() == [("Squad", "single_hop", "sl_cmj_height", 4, 3, pytest.approx(0.5))]


def test_mean_squares_of_a_table_without_error_are_zero() -> None:
    assert mean_squares([[1, 2], [2, 3], [5, 6]]).typical_error == pytest.approx(0, abs=1e-7)


def test_the_interval_of_the_icc_is_the_exact_one_where_repeats_are_equal() -> None:
    """Shrout & Fleiss 1979, Psychol Bull 86:420-428: limits from F, here scipy's."""
    found = estimated(squad_trials(12, days=(0, 14, 28, 42))[0], on=42)
    table = (
        found.days.pivot("tested_on", index="athlete_id", values="d").drop("athlete_id").to_numpy()
    )
    n, k = table.shape
    m = mean_squares(table)
    ratio = m.between / m.within
    low = ratio / f.ppf(0.975, n - 1, n * (k - 1))
    high = ratio * f.ppf(0.975, n * (k - 1), n - 1)
    row = found.reliability.row(0, named=True)
    assert row["icc"] == pytest.approx(icc_forms(table)["1,1"])
    assert row["icc_low"] == pytest.approx((low - 1) / (low + k - 1))
    assert row["icc_high"] == pytest.approx((high - 1) / (high + k - 1))


def test_one_test_day_says_nothing_of_the_side_that_stays_the_same() -> None:
    several = squad_trials(3, days=(0,))[0]
    alone = trials(session("A", 0, [150] * 3, [160] * 3))
    for frame in (several, alone):
        row = estimated(frame, on=0).reliability.row(0, named=True)
        assert (row["same_side_count"], row["same_side_share"]) == (0, None)


def test_the_usual_number_of_trials_is_the_median_over_sides_and_days() -> None:
    rng = np.random.default_rng(2)
    frames, expected = [], {}
    for name in ("single_hop", "triple_hop"):
        for sides in (7, 8):
            sizes = rng.integers(1, 7, size=(sides, 2))
            rows = [
                row
                for number, (left, right) in enumerate(sizes)
                for row in session(f"A{number}", 0, [150.0] * left, [150.0] * right)
            ]
            rows += [("B", 0, "left", 150.0)] * 7  # one side alone, so that the number is odd
            frames.append(trials(rows, name, f"Squad of {sides}"))
            expected[f"Squad of {sides}", name] = float(np.median([*sizes.ravel(), 7]))
    whole = pl.concat(frames)
    book = catalogue().measures
    people = roster(whole["athlete_id"].unique().sort())
    found = estimate(whole, people, book, START, Settings()).errors
    columns = found.select("squad", "measure", "usual_trials")
    assert {(squad, name): usual for squad, name, usual in columns.iter_rows()} == expected


@pytest.mark.parametrize(("athletes", "has_one"), [(2, False), (3, True)])
def test_an_icc_needs_three_athletes(athletes: int, has_one: bool) -> None:
    row = estimated(squad_trials(athletes)[0]).reliability.row(0, named=True)
    assert (row["icc"] is not None) == has_one


def test_sides_equal_to_the_last_digit_agree_with_no_other_test() -> None:
    frames = [
        trials(session("A", 0, [150], [150]) + session("B", 0, [150], [160])),
        trials(session("A", 0, [15], [16]) + session("B", 0, [15], [16]), "sl_cmj_height"),
    ]
    measures = {name: measure(name) for name in ("single_hop", "sl_cmj_height")}
    people = roster(["A", "B"])
    found = estimate(pl.concat(frames), people, measures, START, Settings()).agreement
    assert found["athlete_count"].to_list() == [1]


def test_a_day_of_the_usual_trials_is_as_unsure_as_the_typical_error_says() -> None:
    found = estimated(squad_trials(20)[0])
    assert found.days["se"].to_numpy() == pytest.approx(found.errors["typical_error"].item())
    assert found.today["observed_se"].to_numpy() == pytest.approx(found.days["se"][0])
