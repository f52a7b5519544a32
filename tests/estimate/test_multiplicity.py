"""How much of a list is noise."""

import pytest

from pipeline.estimate.multiplicity import expected_noise


def test_the_noise_of_a_list_is_the_sum_of_what_each_flag_lacks() -> None:
    assert expected_noise([0.99, 0.95, 0.90, 0.85]) == pytest.approx(0.31)
    assert expected_noise([]) == 0
