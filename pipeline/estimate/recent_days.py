"""Whether the last tests and the estimate fit together, by the filter's own figures.

The filter may hold the latest test for an odd day, or lag behind those who change: then it says
with much certainty what the newest days do not show. Nobody can tell yet which of them is right, so
it is said that they disagree.
"""

import numpy as np

from pipeline.estimate.athletes import History, Today
from pipeline.estimate.sessions.differences import Differences
from pipeline.estimate.sessions.panel import Indices, Numbers, Truths, sums
from pipeline.settings import EstimateSettings

MOST = 3  # tests that are recent


def disagreeing(
    tests: Differences, day_variance: Numbers, then: History, now: Today, settings: EstimateSettings
) -> Truths:
    """Whether the latest test, or the last three together, miss what is believed of their days.

    `day_variance` [test] is the error from day to day. A miss is told in SDs of a test's error
    about the level in the light of all tests; the last ones together as their sum over the root of
    their number, each cut at the bound, so that one odd day among days that agree does not speak
    for them. Levels are drawn towards their tests, so that by the model fewer miss by so much than
    of normals. One test alone misses nothing. Shape [row of `now`].
    """
    miss = (tests.d - then.smooth) / np.sqrt(tests.variance + day_variance)
    rows = len(now.series)
    row = np.searchsorted(now.series, tests.series)
    is_recent = _from_end(now, row) < MOST
    number = np.minimum(now.test_count, MOST)
    bound = settings.recent_miss
    cut = np.where(is_recent, np.clip(miss, -bound, bound), 0.0)
    together = sums(cut, row, rows) / np.sqrt(number)
    most = np.maximum(np.abs(miss[now.test]), np.abs(together))
    return (most > bound) & (now.test_count > 1)


def _from_end(now: Today, row: Indices) -> Indices:
    """How many tests of its own follow each test. Shape [test]."""
    return now.test[row] - np.arange(len(row))
