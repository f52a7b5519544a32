"""Movement between two tests: the closed forms against numerical integration and simulation."""

import numpy as np
import pytest
from scipy.integrate import quad

from pipeline.estimate.filter.readings import CLOSING, MOVING, gaps
from pipeline.settings import EstimateSettings

GIVEN = EstimateSettings()
STOPS = {MOVING: GIVEN.moving_stop_rate, CLOSING: GIVEN.closing_stop_rate}


def over_stops(value: object, stop: float, weeks: float) -> float:
    """Mean of a function of the time of movement, which stops at any time or at the end."""
    assert callable(value)
    inside, _ = quad(lambda time: stop * np.exp(-stop * time) * value(time), 0, weeks)
    return float(inside + np.exp(-stop * weeks) * value(weeks))


@pytest.mark.parametrize("weeks", [1 / 7, 1.0, 4.0, 26.0])
@pytest.mark.parametrize("state", [MOVING, CLOSING])
def test_what_is_left_and_how_long_it_moved_are_means_over_when(state: int, weeks: float) -> None:
    found, stop = gaps(np.array([weeks]), np.ones(1), GIVEN), STOPS[state]
    rate = GIVEN.closing_rate
    going, begun = found.going[state], found.begun[state]
    for stretch, mean in (
        (going, lambda value: over_stops(value, stop, weeks)),
        (begun, lambda value: quad(
            lambda rest: over_stops(value, stop, rest) / weeks, 0, weeks)[0]),
    ):  # fmt: skip
        assert stretch.weeks[0] == pytest.approx(mean(lambda time: time), rel=1e-6)
        if state == CLOSING:
            left = mean(lambda time: np.exp(-rate * time))
            square = mean(lambda time: np.exp(-2 * rate * time))
            assert stretch.fade.mean[0] == pytest.approx(left, rel=1e-6)
            assert stretch.fade.variance[0] == pytest.approx(square - left**2, abs=1e-7)
    assert going.lasts[0] == pytest.approx(np.exp(-stop * weeks))
    rest = quad(lambda time: np.exp(-stop * time) / weeks, 0, weeks)[0]
    assert begun.lasts[0] == pytest.approx(rest, rel=1e-6)


def test_chances_to_start_and_to_jump_follow_the_pace_and_the_time() -> None:
    found = gaps(np.array([0.0, 2.0, 2.0]), np.array([1.0, 1.0, 0.5]), GIVEN)
    assert found.start[0] == found.jump[0] == 0
    assert found.start[1] == pytest.approx(1 - np.exp(-2 * GIVEN.start_rate))
    assert found.jump[2] == pytest.approx(1 - np.exp(-GIVEN.jump_rate))


def test_no_time_moves_nothing() -> None:
    found = gaps(np.zeros(1), np.ones(1), GIVEN)
    for stretch in (*found.going.values(), *found.begun.values()):
        assert stretch.weeks[0] == pytest.approx(0, abs=1e-9)
        assert (stretch.fade.mean[0], stretch.lasts[0]) == pytest.approx((1, 1))
