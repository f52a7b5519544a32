"""A track's evidence about its first level, against plain matrix algebra of the same model."""

import numpy as np
import pytest

from pipeline.estimate.filter.tracker import layout, start_evidence

TRACK = np.array([0, 0, 0, 0, 1, 2, 2])
DAY = np.array([0, 7, 10, 45, 3, 0, 30])
D = np.array([0.1, 0.3, -0.1, 0.2, 0.05, -0.2, 0.0])
VARIANCE = np.array([0.01, 0.02, 0.005, 0.03, 0.01, 0.02, 0.01])
DRIFT = 0.004  # variance a week
PRIOR_MEAN, PRIOR_VARIANCE = 0.02, 0.05


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
    found = start_evidence(plan, D[plan.test], VARIANCE[plan.test], np.zeros(len(D)))
    row = int(np.flatnonzero(plan.order == 0)[0])
    weight = 1 / VARIANCE[:4]
    assert found.score[row] / found.info[row] == pytest.approx((weight @ D[:4]) / weight.sum())


def test_slots_of_rows_come_step_by_step_and_are_all_of_their_tests() -> None:
    plan = layout(TRACK, DAY)
    every = plan.slots_of(np.arange(len(plan.order)))
    assert every.tolist() == list(range(len(D)))
    some = plan.slots_of(np.array([0, 2]))
    assert set(plan.row[some]) == {0, 2}
    assert plan.step_of(some).tolist() == sorted(plan.step_of(some).tolist())
    assert len(some) == plan.length[[0, 2]].sum()


def test_no_tests_at_all_pass_through() -> None:
    empty = np.zeros(0, dtype=np.int64)
    plan = layout(empty, empty)
    found = start_evidence(plan, np.zeros(0), np.zeros(0), np.zeros(0))
    assert len(found.info) == len(plan.slots_of(empty)) == 0
