"""The interval of a share against two libraries."""

import numpy as np
import pytest
import scipy.stats
from statsmodels.stats.proportion import proportion_confint

from pipeline.estimate.sessions.agreement import share_interval


@pytest.mark.parametrize(("hits", "total"), [(3, 4), (0, 5), (5, 5), (1, 1), (17, 40), (399, 400)])
def test_the_interval_of_a_share_is_wilsons(hits: int, total: int) -> None:
    low, high = share_interval(np.array([float(hits)]), np.array([float(total)]))
    wanted = proportion_confint(hits, total, alpha=0.05, method="wilson")
    assert (low[0], high[0]) == pytest.approx(wanted, abs=1e-12)
    exact = scipy.stats.binomtest(hits, total).proportion_ci(method="wilson")
    assert (low[0], high[0]) == pytest.approx((exact.low, exact.high), abs=1e-12)


def test_no_share_of_nothing() -> None:
    low, high = share_interval(np.array([0.0]), np.array([0.0]))
    assert np.isnan([low[0], high[0]]).all()
