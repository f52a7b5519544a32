"""Chances and quantiles of mixtures, against scipy and simulation."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

from pipeline.estimate.filter import mixture
from pipeline.estimate.filter.mixture import Mixture

BELIEF = Mixture(
    np.array([[0.7, 0.2], [0.25, 0.5], [0.05, 0.3]]),
    np.array([[0.02, -0.10], [0.05, 0.0], [0.20, 0.15]]),
    np.array([[0.001, 0.002], [0.004, 0.001], [0.01, 0.003]]),
)


def cdf(value: float, row: int) -> float:
    sds = np.sqrt(BELIEF.variance[:, row])
    return float(BELIEF.weight[:, row] @ norm.cdf(value, BELIEF.mean[:, row], sds))


@pytest.mark.parametrize("chance", [0.05, 0.25, 0.5, 0.95])
def test_quantiles_are_those_of_the_mixture(chance: float) -> None:
    for row, found in enumerate(mixture.quantile(BELIEF, chance)):
        exact = brentq(lambda value, row=row: cdf(value, row) - chance, -2, 2, xtol=1e-14)
        assert found == pytest.approx(exact, abs=1e-6 * mixture.sd_of(BELIEF)[row])


def test_chances_beyond_a_line_count_both_directions() -> None:
    found = mixture.chance_beyond(BELIEF, np.array([0.1, 0.1]))
    assert found == pytest.approx([cdf(-0.1, row) + 1 - cdf(0.1, row) for row in (0, 1)])


@pytest.mark.parametrize("correlation", [-0.999, -0.4, 0.0, 0.5, 0.99])
def test_two_bounds_are_met_together_as_the_bivariate_normal_says(correlation: float) -> None:
    cov = [[1, correlation], [correlation, 1]]
    for pair in ((0.3, -0.7), (-1.2, -0.4), (0.0, 0.8), (2.0, 2.0), (0.0, 0.0)):
        first, second, shared = (np.array([value]) for value in (*pair, correlation))
        expected = multivariate_normal([0, 0], cov).cdf(pair)
        found = mixture.both_below(first, second, shared)
        assert found == pytest.approx(expected, abs=2e-6)


def test_the_published_example_of_a_closing_difference() -> None:
    # d 0.14 then 0.08, each with error 0.03 and nothing shared: normal algebra gives 0.92135 for
    # one side and simulation 0.9214 for the absolute values (own derivation).
    then = Mixture(np.ones((1, 1)), np.array([[0.14]]), np.array([[0.03**2]]))
    now = Mixture(np.ones((1, 1)), np.array([[0.08]]), np.array([[0.03**2]]))
    found = mixture.chance_nearer(then, now, np.zeros((1, 1)), np.zeros(1))
    assert found == pytest.approx(0.9214, abs=2e-4)


def test_a_flip_to_a_smaller_difference_on_the_other_side_is_closing() -> None:
    rng = np.random.default_rng(4)
    cov = np.array([[0.0016, 0.0009], [0.0009, 0.0025]])
    draws = rng.multivariate_normal([0.08, -0.05], cov, 400_000)
    expected = np.mean(np.abs(draws[:, 1] - 0.01) < np.abs(draws[:, 0] - 0.01))
    then = Mixture(np.ones((1, 1)), np.array([[0.08]]), np.array([[0.0016]]))
    now = Mixture(np.ones((1, 1)), np.array([[-0.05]]), np.array([[0.0025]]))
    found = mixture.chance_nearer(then, now, np.array([[0.0009]]), np.array([0.01]))
    assert found == pytest.approx(expected, abs=4 * np.sqrt(0.25 / 400_000))


def test_beliefs_pooled_keep_their_mean_and_variance_and_each_part_its_own() -> None:
    other = Mixture(BELIEF.weight[::-1], BELIEF.mean + 0.03, 2 * BELIEF.variance)
    found = mixture.pooled([BELIEF, other])
    mean = (mixture.mean_of(BELIEF) + mixture.mean_of(other)) / 2
    assert mixture.mean_of(found) == pytest.approx(mean)
    square = (
        sum(belief.weight * (belief.variance + belief.mean**2) for belief in (BELIEF, other)).sum(
            axis=0
        )
        / 2
    )
    assert mixture.sd_of(found) == pytest.approx(np.sqrt(square - mean**2))
    assert found.weight == pytest.approx((BELIEF.weight + other.weight) / 2)


def test_a_part_nobody_believes_in_does_no_harm() -> None:
    none = Mixture(np.array([[1.0], [0.0]]), np.array([[0.1], [0.0]]), np.full((2, 1), 0.01))
    found = mixture.pooled([none, none])
    assert np.isfinite(found.mean).all()
    assert (found.variance > 0).all()
    assert mixture.quantile(found, 0.5) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("then", "now", "shared", "lead"),
    [
        ((0.10, 0.0004), (0.06, 0.0100), 0.0010, 0.0),
        ((0.10, 0.0100), (0.06, 0.0004), 0.0010, 0.0),
        ((-0.03, 0.0060), (0.05, 0.0010), -0.0012, 0.04),
        ((0.02, 0.0030), (0.02, 0.0030), 0.0, 0.10),
    ],
)
def test_coming_nearer_is_what_simulation_says_however_unlike_the_two_days(
    then: tuple[float, float], now: tuple[float, float], shared: float, lead: float
) -> None:
    rng = np.random.default_rng(21)
    cov = np.array([[then[1], shared], [shared, now[1]]])
    draws = rng.multivariate_normal([then[0], now[0]], cov, 1_000_000)
    expected = np.mean(np.abs(draws[:, 1] - lead) < np.abs(draws[:, 0] - lead))
    first, last = (
        Mixture(np.ones((1, 1)), np.array([[mean]]), np.array([[variance]]))
        for mean, variance in (then, now)
    )
    found = mixture.chance_nearer(first, last, np.array([[shared]]), np.array([lead]))
    assert found == pytest.approx(expected, abs=4 * np.sqrt(0.25 / 1_000_000))
