"""The filter and the shrinkage against independent implementations and a published example."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm
from statsmodels.tsa.regime_switching.markov_regression import MarkovRegression
from statsmodels.tsa.statespace.structural import UnobservedComponents

from pipeline.estimate.filter.belief import start
from pipeline.estimate.filter.course import Course, Point, fit_of, steps
from pipeline.estimate.filter.mixture import mean_of, sd_of
from pipeline.estimate.filter.smoother import smoothed
from tests.estimate.courses import STILL, course_of, point_at

DATA = Path(__file__).parent / "data"
DAYS = np.array([0, 3, 4, 11, 25, 26, 40, 61])
D = np.array([0.10, 0.14, 0.08, 0.12, 0.05, 0.07, 0.02, 0.04])
ERROR, DRIFT, SPREAD = 0.03**2, 0.010**2, 0.08**2  # drift: variance a week


def reference() -> UnobservedComponents:
    """A local level on every day of the span, the days without a test missing."""
    series = np.full(DAYS[-1] + 1, np.nan)
    series[DAYS] = D
    model = UnobservedComponents(series, "local level")
    model.loglikelihood_burn = 0
    model.ssm.initialize_known(np.zeros(1), np.array([[SPREAD]]))
    return model.smooth([ERROR, DRIFT / 7])


def ours() -> tuple[Course, Point]:
    """The same without any reading but the drift, from a normal prior about zero."""
    course = course_of([DAYS], [D], ERROR, **STILL)
    return course, point_at(course, parts=((1.0, SPREAD),), drift=DRIFT)


ROW = np.array([0])


def believed(course: Course, point: Point, row: int = 0) -> list[tuple[float, float]]:
    """Mean and SD of the level after each of a row's tests."""
    rows = np.arange(len(course.plan.order))
    found = []
    for step in steps(course, point, rows, start(*point.prior.at(rows))):
        if row < len(step.slots):
            level = step.after.level()
            found.append((float(mean_of(level)[row]), float(sd_of(level)[row])))
    return found


def test_the_filter_is_the_kalman_filter_of_a_local_level_on_irregular_days() -> None:
    """statsmodels UnobservedComponents, missing days in between (Durbin & Koopman 2012, ch. 2)."""
    found = reference()
    mean, sd = np.array(believed(*ours())).T
    assert mean == pytest.approx(found.filtered_state[0, DAYS], abs=1e-8)
    assert sd**2 == pytest.approx(found.filtered_state_cov[0, 0, DAYS], abs=1e-8)


def test_the_smoothed_history_is_the_kalman_smoothers() -> None:
    found = reference()
    belief, _ = smoothed(*ours(), ROW)
    assert mean_of(belief) == pytest.approx(found.smoothed_state[0, DAYS], abs=1e-8)
    assert sd_of(belief) ** 2 == pytest.approx(found.smoothed_state_cov[0, 0, DAYS], abs=1e-8)


def test_the_likelihood_is_the_kalman_filters() -> None:
    """Up to its constant, which hangs on no figure."""
    course, point = ours()
    constant = len(D) * np.log(2 * np.pi) / 2
    assert fit_of(course, point, ROW)[0] - constant == pytest.approx(reference().llf, abs=1e-8)


def test_odd_days_alone_are_a_switching_variance() -> None:
    """statsmodels MarkovRegression: no mean, two variances, regimes that remember nothing.

    The level is held at zero, so all that switches is the error. Our first test is never odd and
    says nothing here: its likelihood is taken off.
    """
    share, scale, leap = 0.1, 4.0, 0.001
    d = np.array([0.0, 0.02, -0.14, 0.03, 0.01, 0.11, -0.02, 0.05])
    course = course_of(
        [DAYS], [d], ERROR, start_rate=0.0, jump_rate=0.0, odd_share=share, odd_scale=scale
    )
    point = point_at(course, parts=((1.0, 1e-18),), drift=1e-20, leap=leap)
    ours = fit_of(course, point, ROW)[0] - len(d) * np.log(2 * np.pi) / 2
    first = norm.logpdf(d[0], 0, np.sqrt(ERROR))
    model = MarkovRegression(d[1:], k_regimes=2, trend="n", switching_variance=True)
    odd = leap + scale**2 * ERROR
    found = model.loglike(np.array([1 - share, 1 - share, ERROR, odd]))
    assert ours - first == pytest.approx(found, abs=1e-8)


def test_shrinkage_of_one_test_is_the_normal_normal_rule() -> None:
    """d 0.12, error 0.04, spread 0.06 about zero: weight 0.692308, mean 0.0830769 (algebra)."""
    course = course_of([[0]], [[0.12]], 0.04**2, **STILL)
    [(mean, sd)] = believed(course, point_at(course, parts=((1.0, 0.06**2),)))
    assert mean == pytest.approx(0.0830769, abs=1e-7)
    assert sd == pytest.approx(0.0332820, abs=1e-7)


def test_efron_and_morris_averages_are_pulled_towards_their_mean() -> None:
    """Efron & Morris 1975, J Am Stat Assoc 70:311-319: first average .400 shrunk to .294.

    Their factor 0.212 fixes the spread; the same rule then gives every shrunken average.
    """
    rows = pl.read_csv(DATA / "shrinkage_1975.csv")
    raw = rows["hits_of_45"].to_numpy() / 45
    later = rows["later_mean"].to_numpy()
    centre = raw.mean()
    error = centre * (1 - centre) / 45
    factor = 1 - (len(raw) - 3) * error / ((raw - centre) ** 2).sum()
    assert factor == pytest.approx(0.211653, abs=1e-6)
    count = len(raw)
    spread = error * factor / (1 - factor)
    course = course_of([[0]] * count, [[value - centre] for value in raw], error, **STILL)
    point = point_at(course, parts=((1.0, spread),))
    shrunk = centre + np.array([believed(course, point, row)[0][0] for row in range(count)])
    assert shrunk[[0, 1, 2, -1]] == pytest.approx([0.2939, 0.2892, 0.2845, 0.2422], abs=5e-5)
    gain = ((raw - later) ** 2).sum() / ((shrunk - later) ** 2).sum()
    assert gain == pytest.approx(3.535, abs=1e-3)
