"""Every index in use, from one signed difference.

Expected values: algebra on our own inputs (the percent differences listed in Bishop 2016,
Strength Cond J 38(6):27-32).
"""

from math import log

import pytest

from pipeline import scales

# left, right, of the better, over the sum, 100 ln
ROWS = [
    (80.0, 100.0, 20.0, 11.1111, 22.3144),
    (100.0, 80.0, -20.0, -11.1111, -22.3144),
    (100.0, 100.0, 0.0, 0.0, 0.0),
    (100.0, 50.0, -50.0, -33.3333, -69.3147),
    (450.0, 500.0, 10.0, 5.26316, 10.53605),
    (700.0, 800.0, 12.5, 6.66667, 13.35314),
]


@pytest.mark.parametrize("row", ROWS)
def test_one_difference_carries_every_index(row: tuple[float, ...]) -> None:
    left, right, of_better, over_sum, hundred_ln = row
    d = log(right / left)
    assert 100 * d == pytest.approx(hundred_ln, abs=5e-5)
    assert scales.percent_of_better(d) == pytest.approx(of_better, abs=5e-5)
    assert scales.bilateral_index(d) == pytest.approx(over_sum, abs=5e-5)


def test_a_time_is_turned_round() -> None:
    """Left 2.50 s, right 2.40 s: the right side is better by 4.0 % of the slower time."""
    d = log(2.50 / 2.40)
    assert d == pytest.approx(0.0408220, abs=1e-7)
    assert scales.percent_of_better(d) == pytest.approx(4.0, abs=1e-9)


@pytest.mark.parametrize(("percent", "d"), [(5, 0.05129329), (10, 0.10536052), (15, 0.16251893)])
def test_lines_in_percent_of_the_better_side_become_log_ratios(percent: float, d: float) -> None:
    assert scales.from_shown(percent, "pct_of_best") == pytest.approx(d, abs=1e-8)


def test_ten_percent_of_the_sum_is_eighteen_of_the_better_side() -> None:
    d = scales.from_shown(10.0, "bilateral_index")
    assert scales.percent_of_better(d) == pytest.approx(18.18182, abs=5e-6)


def test_shares_of_a_total() -> None:
    assert scales.right_share(log(500 / 450)) == pytest.approx(52.63157895, abs=1e-8)
