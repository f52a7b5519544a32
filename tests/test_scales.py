"""Every index is a function of d; the numbers come from tests/external/test_side_indices.py."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import scales
from tests.estimate.rows import measure

DIFFERENCES = st.floats(-3, 3)


@given(DIFFERENCES)
def test_swapping_the_sides_only_turns_the_sign(d: float) -> None:
    for index in (
        scales.percent_of_better,
        scales.bilateral_index,
    ):
        assert index(-d) == -index(d)


@given(DIFFERENCES, st.sampled_from(["pct_of_best", "bilateral_index", "abs_diff"]))
def test_what_is_shown_leads_back_to_the_difference(d: float, formula: str) -> None:
    assert scales.from_shown(scales.shown(d, formula), formula) == pytest.approx(d, abs=1e-12)


@given(st.floats(1, 1000), st.floats(1, 1000), st.floats(0.1, 10))
def test_a_common_factor_changes_no_index(left: float, right: float, factor: float) -> None:
    d = np.log(right / left)
    scaled = np.log((right * factor) / (left * factor))
    assert scales.percent_of_better(scaled) == pytest.approx(scales.percent_of_better(d), abs=1e-9)


def test_a_column_may_hold_several_formulas() -> None:
    names = ["pct_of_best", "bilateral_index", "abs_diff", "within_limb_ratio"]
    shown = scales.shown([0.1, 0.1, 2.5, -0.2], names)
    assert shown == pytest.approx([-100 * np.expm1(-0.1), 100 * np.tanh(0.05), 2.5, -0.2])


def test_a_hundred_percent_has_no_finite_difference() -> None:
    assert scales.from_shown(100, "pct_of_best") == np.inf
    assert scales.from_shown(-100, "bilateral_index") == -np.inf


def test_lines_of_one_size_differ_between_indices() -> None:
    of_better = scales.from_shown(10, "pct_of_best")
    assert scales.bilateral_index(of_better) == pytest.approx(100 * 10 / 190)


def test_the_catalogues_percent_error_becomes_an_error_of_the_logarithm() -> None:
    hop = measure(error=5.0, error_kind="pct")
    assert scales.trial_error(hop) == pytest.approx(np.sqrt(np.log(1 + 0.05**2)))


def test_an_error_in_the_unit_stays_in_the_unit_of_a_difference() -> None:
    knee_to_wall = measure("knee_to_wall", error=0.6, error_kind="unit")
    assert scales.trial_error(knee_to_wall) == 0.6


def test_a_percent_error_of_a_difference_is_taken_of_the_usual_level() -> None:
    ratio = measure(
        "hq_ratio_con_60", error=7.0, expected_men=(0.6, 0.1), expected_women=(0.5, 0.1)
    )
    assert scales.trial_error(ratio) == pytest.approx(0.07 * 0.55)


def test_an_error_in_the_unit_becomes_a_share_of_the_usual_level_where_sides_are_ratios() -> None:
    hop = measure(
        error=6.0, error_kind="unit", expected_men=(170.0, 20.0), expected_women=(130.0, 20.0)
    )
    assert scales.trial_error(hop) == pytest.approx(np.sqrt(np.log(1 + (6 / 150) ** 2)))
