"""The filter against plain matrix algebra of the same model."""

import numpy as np
import pytest

from pipeline.estimate import mixture
from pipeline.estimate.mixture import Prior
from pipeline.estimate.tracker import filtered, layout, smoothed, start_evidence

TRACK = np.array([0, 0, 0, 0, 1, 2, 2])
DAY = np.array([0, 7, 10, 45, 3, 0, 30])
D = np.array([0.1, 0.3, -0.1, 0.2, 0.05, -0.2, 0.0])
VARIANCE = np.array([0.01, 0.02, 0.005, 0.03, 0.01, 0.02, 0.01])
DRIFT = 0.004  # variance a week
PRIOR_MEAN, PRIOR_VARIANCE = 0.02, 0.05


def by_algebra(known: np.ndarray, wanted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of the levels on `wanted` days of track 0, given its `known` tests."""
    days = DAY[:4]
    shared = np.minimum.outer(days, days) / 7 * DRIFT + PRIOR_VARIANCE
    spread = shared[np.ix_(known, known)] + np.diag(VARIANCE[known])
    gain = shared[np.ix_(wanted, known)] @ np.linalg.inv(spread)
    mean = PRIOR_MEAN + gain @ (D[known] - PRIOR_MEAN)
    return mean, shared[np.ix_(wanted, wanted)] - gain @ shared[np.ix_(known, wanted)]


def prior(rows: int) -> Prior:
    return Prior(np.full(rows, PRIOR_MEAN), np.full((1, rows), PRIOR_VARIANCE), np.zeros((1, 1)))


def test_every_step_equals_the_conditional_normal_of_the_tests_so_far() -> None:
    plan = layout(TRACK, DAY)
    found = filtered(plan, D[plan.test], VARIANCE[plan.test], DRIFT * plan.weeks)
    first = mixture.first_level(prior(len(D)), found.info, found.score)
    belief = mixture.carried(first, found.alpha, found.beta, found.gamma)
    for step in range(4):
        slot = int(np.flatnonzero(plan.test == step)[0])
        mean, cov = by_algebra(np.arange(step + 1), np.array([step]))
        assert belief.mean[0, slot] == pytest.approx(mean[0], abs=1e-14)
        assert belief.variance[0, slot] == pytest.approx(cov[0, 0], abs=1e-14)


def test_smoothing_equals_the_conditional_normal_of_all_tests() -> None:
    plan = layout(TRACK, DAY)
    drift = DRIFT * plan.weeks
    found = filtered(plan, D[plan.test], VARIANCE[plan.test], drift)
    whole = smoothed(plan, found, drift)
    last = plan.last[plan.row]
    first = mixture.first_level(prior(len(D)), found.info[last], found.score[last])
    belief = mixture.carried(first, whole.alpha, whole.beta, whole.gamma)
    mean, cov = by_algebra(np.arange(4), np.arange(4))
    for step in range(4):
        slot = int(np.flatnonzero(plan.test == step)[0])
        assert belief.mean[0, slot] == pytest.approx(mean[step], abs=1e-14)
        assert belief.variance[0, slot] == pytest.approx(cov[step, step], abs=1e-14)
        if step < 3:
            shared = (
                whole.shared[slot]
                + whole.beta[slot]
                * whole.beta[plan.test == step + 1].item()
                * first.variance[0, slot]
            )
            assert shared == pytest.approx(cov[step, step + 1], abs=1e-14)


def test_the_sums_alone_are_those_of_the_last_step() -> None:
    plan = layout(TRACK, DAY)
    drift = DRIFT * plan.weeks
    found = filtered(plan, D[plan.test], VARIANCE[plan.test], drift)
    sums = start_evidence(plan, D[plan.test], VARIANCE[plan.test], drift)
    assert sums.info == pytest.approx(found.info[plan.last], rel=1e-14)
    assert sums.score == pytest.approx(found.score[plan.last], rel=1e-14)


def test_the_evidence_is_the_normal_density_of_the_tests() -> None:
    plan = layout(TRACK, DAY)
    sums = start_evidence(plan, D[plan.test], VARIANCE[plan.test], DRIFT * plan.weeks)
    days = DAY[:4]
    spread = np.minimum.outer(days, days) / 7 * DRIFT + PRIOR_VARIANCE + np.diag(VARIANCE[:4])
    off = D[:4] - PRIOR_MEAN
    expected = -(off @ np.linalg.solve(spread, off) + np.linalg.slogdet(spread)[1]) / 2
    row = int(np.flatnonzero(plan.order == 0)[0])
    info, score = sums.info[row], sums.score[row]
    grown = 1 + info * PRIOR_VARIANCE
    fit = (info * PRIOR_MEAN**2 - 2 * score * PRIOR_MEAN - score**2 * PRIOR_VARIANCE) / grown
    found = -(sums.square[row] + sums.log_spread[row] + np.log(grown) + fit) / 2
    assert found == pytest.approx(expected, abs=1e-12)


def test_without_drift_the_level_is_the_mean_weighted_by_errors() -> None:
    plan = layout(TRACK, DAY)
    found = filtered(plan, D[plan.test], VARIANCE[plan.test], np.zeros(len(D)))
    row = int(np.flatnonzero(plan.order == 0)[0])
    last = plan.last[row]
    weight = 1 / VARIANCE[:4]
    assert found.score[last] / found.info[last] == pytest.approx((weight @ D[:4]) / weight.sum())


def test_no_tests_at_all_pass_through() -> None:
    empty = np.zeros(0, dtype=np.int64)
    plan = layout(empty, empty)
    found = filtered(plan, np.zeros(0), np.zeros(0), np.zeros(0))
    assert len(found.alpha) == len(smoothed(plan, found, np.zeros(0)).alpha) == 0
