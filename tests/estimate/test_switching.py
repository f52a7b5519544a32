"""The filter that follows change against every reading of a short series, written out one by one.

Nothing is merged here: each way from the first test to the last (reading after reading, odd days
or not) is one normal with the weight that its own forecasts earn it. The filter merges after each
test, so the first two tests agree to rounding and later ones to a few hundredths of an SD.
"""

from dataclasses import dataclass

import numpy as np
import pytest

from pipeline.estimate.filter import mixture
from pipeline.estimate.filter.belief import Second, start
from pipeline.estimate.filter.course import Course, Point, fit_of, steps
from pipeline.estimate.filter.readings import CLOSING, JUMPED, MOVING, QUIET
from pipeline.estimate.filter.smoother import smoothed
from tests.estimate.courses import STILL, course_of, point_at

DAYS = (0, 7, 28, 35, 63)
ERROR = 0.03**2
STORIES = {
    "steady": (0.02, 0.05, 0.01, 0.04, 0.02),
    "closing": (0.22, 0.20, 0.13, 0.11, 0.06),
    "a jump": (0.02, 0.03, 0.24, 0.26, 0.20),
    "an odd day": (0.02, 0.03, 0.30, 0.01, 0.03),
    "widening": (0.02, 0.05, 0.09, 0.12, 0.18),
}
PARTS = ((0.8, 0.05**2), (0.2, 0.12**2))


@dataclass(frozen=True)
class Way:
    """One way through the readings so far."""

    weight: float
    mean: float
    variance: float
    reading: int
    lasts: float  # chance that the movement goes on


def normal(off: float, variance: float) -> float:
    return float(np.exp(-(off**2) / variance / 2) / np.sqrt(2 * np.pi * variance))


def onward(way: Way, course: Course, point: Point, slot: int) -> list[tuple[Way, bool]]:
    """Every reading of one gap from here, before the test; and whether the test may be odd."""
    given, moves, gap = course.settings, point.moves, point.gaps
    drift, aim = float(moves.drift[0] * gap.weeks[slot]), float(moves.aim[0])
    jump, begin = float(gap.jump[slot]), float(gap.start[slot])
    ways: list[tuple[Way, bool]] = []

    def quiet(chance: float, *, odd: bool) -> None:
        ways.append((Way(way.weight * chance, way.mean, way.variance + drift, QUIET, 0.0), odd))

    def moving(chance: float, *, going: bool, odd: bool) -> None:
        stretch = (gap.going if going else gap.begun)[MOVING]
        more = float(moves.moving[0] * stretch.weeks[slot])
        lasts = float(stretch.lasts[slot])
        ways.append((Way(way.weight * chance, way.mean, way.variance + more, MOVING, lasts), odd))

    def closing(chance: float, *, going: bool, odd: bool) -> None:
        stretch = (gap.going if going else gap.begun)[CLOSING]
        left, spread = float(stretch.fade.mean[slot]), float(stretch.fade.variance[slot])
        off = way.mean - aim
        variance = left**2 * way.variance + spread * (off**2 + way.variance)
        variance += float(moves.wobble[0] * stretch.weeks[slot])
        lasts = float(stretch.lasts[slot])
        ways.append((Way(way.weight * chance, aim + left * off, variance, CLOSING, lasts), odd))

    if way.reading == JUMPED:  # it closes again, or whatever else may happen to a quiet one
        closing(given.jump_mends, going=True, odd=False)
        quiet((1 - given.jump_mends) * (1 - begin), odd=False)
        moving((1 - given.jump_mends) * begin, going=False, odd=False)
        return ways
    leap = float(moves.leap[0]) + drift
    ways.append((Way(way.weight * jump, way.mean, way.variance + leap, JUMPED, 0.0), False))
    stay = 1 - jump
    if way.reading == QUIET:
        quiet(stay * (1 - begin), odd=True)
        moving(stay * begin * (1 - given.closing_share), going=False, odd=False)
        closing(stay * begin * given.closing_share, going=False, odd=False)
    else:
        again = moving if way.reading == MOVING else closing
        again(stay * way.lasts, going=True, odd=True)
        quiet(stay * (1 - way.lasts), odd=False)
    return ways


def taken_in(way: Way, d: float, error: float, share: float) -> Way:
    spread = way.variance + error
    gain = way.variance / spread
    return Way(
        way.weight * share * normal(d - way.mean, spread),
        way.mean + gain * (d - way.mean),
        way.variance * (1 - gain),
        way.reading,
        way.lasts,
    )


def all_ways(course: Course, point: Point) -> list[list[Way]]:
    """All ways after each test; weights are likelihoods, not shares."""
    odd_share = course.settings.odd_share
    odd_error = float(point.moves.leap[0]) + course.settings.odd_scale**2 * ERROR
    weights = np.exp(point.prior.log_weight[:, 0])
    ways = [
        taken_in(Way(weight, float(point.prior.mean[0]), variance, QUIET, 0.0),
                 float(course.d[0]), ERROR, 1.0)
        for weight, variance in zip(weights, point.prior.variance[:, 0], strict=True)
    ]  # fmt: skip
    found = [ways]
    for slot in range(1, len(course.d)):
        d = float(course.d[slot])
        after = []
        for way in ways:
            for ahead, may_be_odd in onward(way, course, point, slot):
                usual = 1 - odd_share if may_be_odd else 1.0
                after.append(taken_in(ahead, d, ERROR, usual))
                if may_be_odd:
                    after.append(taken_in(ahead, d, odd_error, odd_share))
        ways = after
        found.append(ways)
    return found


def moments(ways: list[Way]) -> tuple[float, float]:
    weight = np.array([way.weight for way in ways])
    mean = np.array([way.mean for way in ways])
    variance = np.array([way.variance for way in ways])
    centre = np.average(mean, weights=weight)
    return float(centre), float(
        np.sqrt(np.average(variance + (mean - centre) ** 2, weights=weight))
    )


@pytest.mark.parametrize("story", STORIES)
def test_the_filter_says_what_all_readings_together_say(story: str) -> None:
    course = course_of([DAYS], [STORIES[story]], ERROR)
    point = point_at(course, parts=PARTS, aim=0.01)
    rows = np.array([0])
    exact = all_ways(course, point)
    likely = 0.0
    taken = steps(course, point, rows, start(*point.prior.at(rows)))
    for number, (step, ways) in enumerate(zip(taken, exact, strict=True)):
        mean, sd = moments(ways)
        level = step.after.level()
        near = 1e-10 if number < 2 else 0.06
        assert mixture.mean_of(level)[0] == pytest.approx(mean, abs=near * sd)
        assert mixture.sd_of(level)[0] == pytest.approx(sd, rel=near)
        likely += float(step.fit[0]) - np.log(2 * np.pi) / 2
        total = np.log(sum(way.weight for way in ways))
        assert likely == pytest.approx(total, abs=1e-10 if number < 2 else 0.05)
        for reading in range(4):
            share = sum(way.weight for way in ways if way.reading == reading)
            whole = sum(way.weight for way in ways)
            own = step.after.weight[reading].sum()
            assert own == pytest.approx(share / whole, abs=1e-10 if number < 2 else 0.05)
    assert fit_of(course, point, rows)[0] == pytest.approx(
        likely + len(DAYS) * np.log(2 * np.pi) / 2
    )


def test_rows_of_unequal_length_are_each_filtered_as_if_alone() -> None:
    days = [DAYS, DAYS[:2], (3, 30, 90), (5,)]
    d = [STORIES["closing"], (0.1, 0.0), (0.0, 0.2, 0.1), (0.07,)]
    course = course_of(days, d, ERROR)
    point = point_at(course, parts=PARTS)
    whole = fit_of(course, point, np.arange(4))
    for row, track in enumerate(course.plan.order):
        alone = course_of([days[track]], [d[track]], ERROR)
        fit = fit_of(alone, point_at(alone, parts=PARTS), np.array([0]))[0]
        assert whole[row] == pytest.approx(fit, rel=1e-12)


@pytest.mark.parametrize("tests", [1, 2])
def test_a_lead_carried_along_is_what_conditioning_says(tests: int) -> None:
    """Lead N(0.05, 0.02^2), level N(lead, 0.06^2), two tests; nobody changes but by drift.

    Lead and both levels are one normal vector, conditioned on the tests by matrix algebra.
    """
    d = np.array([0.20, 0.12])
    course = course_of([(0, 70)], [d], 0.04**2, **STILL)
    point = point_at(course, mean=0.05, parts=((1.0, 0.06**2 + 0.02**2),), drift=1e-4)
    belief = start(*point.prior.at(np.array([0])))
    own = np.full(belief.mean.shape, 0.02**2)
    belief.seconds.append(Second(belief.mean.copy(), own, own))
    found = list(steps(course, point, np.array([0]), belief))[tests - 1].after
    cov = np.full((3, 3), 0.02**2)
    cov[1:, 1:] += 0.06**2
    cov[2, 2] += 1e-4 * 10
    known = slice(1, 1 + tests)
    gain = cov[:, known] @ np.linalg.inv(cov[known, known] + 0.04**2 * np.eye(tests))
    mean = 0.05 + gain @ (d[:tests] - 0.05)
    left = cov - gain @ cov[known]
    second = found.seconds[0]
    assert second.mean[QUIET, 0, 0] == pytest.approx(mean[0], abs=1e-12)
    assert second.variance[QUIET, 0, 0] == pytest.approx(left[0, 0], rel=1e-9)
    assert second.shared[QUIET, 0, 0] == pytest.approx(left[0, tests], rel=1e-9)
    assert found.mean[QUIET, 0, 0] == pytest.approx(mean[tests], abs=1e-12)


def test_an_odd_day_leaves_the_history_where_it_was_and_a_jump_does_not() -> None:
    course = course_of([DAYS, DAYS], [STORIES["an odd day"], STORIES["a jump"]], ERROR)
    point = point_at(course, parts=PARTS)
    level, surprise = smoothed(course, point, np.arange(2))
    mean = mixture.mean_of(level)
    at = {(int(row), number // 2): number for number, row in enumerate(course.plan.row)}
    assert abs(mean[at[0, 2]]) < 0.06  # the odd day itself, in the light of the later ones
    assert mean[at[1, 2]] > 0.18
    assert abs(surprise[at[0, 2]]) > 3.5 < abs(surprise[at[1, 2]])
    assert abs(surprise[at[1, 3]]) < 2  # the new level foretells what follows


def test_a_smoothed_history_is_what_all_ways_say_that_end_where_the_tests_do() -> None:
    """Two tests: the first day's level in the light of the second, way by way."""
    course = course_of([(0, 28)], [(0.22, 0.10)], ERROR)
    point = point_at(course, parts=PARTS)
    first, _ = all_ways(course, point)
    weights, means, variances = [], [], []
    odd_error = float(point.moves.leap[0]) + course.settings.odd_scale**2 * ERROR
    for way in first:
        for ahead, may_be_odd in onward(way, course, point, 1):
            slope = 1.0
            if ahead.reading == CLOSING:
                slope = ahead.mean / way.mean
            shared = slope * way.variance
            for share, error in (
                (1 - course.settings.odd_share * may_be_odd, ERROR),
                (course.settings.odd_share * may_be_odd, odd_error),
            ):
                spread = ahead.variance + error
                miss = float(course.d[1]) - ahead.mean
                weights.append(ahead.weight * share * normal(miss, spread))
                means.append(way.mean + shared / spread * miss)
                variances.append(way.variance - shared**2 / spread)
    centre = np.average(means, weights=weights)
    sd = np.sqrt(np.average(variances + (means - centre) ** 2, weights=weights))
    level, _ = smoothed(course, point, np.array([0]))
    assert mixture.mean_of(level)[0] == pytest.approx(centre, abs=0.05 * sd)
    assert mixture.sd_of(level)[0] == pytest.approx(sd, rel=0.05)
