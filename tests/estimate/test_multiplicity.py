"""How much of a list is noise."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.estimate.multiplicity import adjusted_p, expected_noise


def test_the_noise_of_a_list_is_the_sum_of_what_each_flag_lacks() -> None:
    assert expected_noise([0.99, 0.95, 0.90, 0.85]) == pytest.approx(0.31)
    assert expected_noise([]) == 0


def test_adjusted_values_never_fall_below_their_own_nor_exceed_one() -> None:
    assert adjusted_p([0.03, 0.001, 0.2, 0.008, 0.02]) == pytest.approx(
        [0.0375, 0.005, 0.2, 0.02, 0.1 / 3]
    )


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_adjusting_keeps_the_order(values: list[float]) -> None:
    adjusted = adjusted_p(values)
    order = np.argsort(values, kind="stable")
    assert (np.diff(adjusted[order]) >= 0).all()
    assert (adjusted >= np.array(values) - 1e-15).all()
    assert adjusted.max() <= 1
