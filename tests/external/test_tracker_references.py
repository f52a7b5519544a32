"""The filter and the shrinkage against independent implementations and a published example."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from statsmodels.tsa.statespace.structural import UnobservedComponents

from pipeline.estimate.mixture import Prior, carried, first_level, mean_of, sd_of
from pipeline.estimate.tracker import filtered, layout, smoothed

DATA = Path(__file__).parent / "data"
DAYS = np.array([0, 3, 4, 11, 25, 26, 40, 61])
D = np.array([0.10, 0.14, 0.08, 0.12, 0.05, 0.07, 0.02, 0.04])
ERROR, DRIFT, SPREAD = 0.03**2, 0.010**2, 0.08**2  # drift: variance a week


def reference() -> UnobservedComponents:
    """A local level on every day of the span, the days without a test missing."""
    series = np.full(DAYS[-1] + 1, np.nan)
    series[DAYS] = D
    model = UnobservedComponents(series, "local level")
    model.ssm.initialize_known(np.zeros(1), np.array([[SPREAD]]))
    return model.smooth([ERROR, DRIFT / 7])


def ours(through: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean and SD of the level after each of the first tests, from a normal prior about zero."""
    plan = layout(np.zeros(through, dtype=np.int64), DAYS[:through])
    state = filtered(plan, D[:through], np.full(through, ERROR), DRIFT * plan.weeks)
    prior = Prior(np.zeros(through), np.full((1, through), SPREAD), np.zeros((1, 1)))
    belief = carried(
        first_level(prior, state.info, state.score), state.alpha, state.beta, state.gamma
    )
    return mean_of(belief), sd_of(belief)


def test_the_filter_is_the_kalman_filter_of_a_local_level_on_irregular_days() -> None:
    """statsmodels UnobservedComponents, missing days in between (Durbin & Koopman 2012, ch. 2)."""
    found = reference()
    mean, sd = ours(len(DAYS))
    assert mean == pytest.approx(found.filtered_state[0, DAYS], abs=1e-8)
    assert sd**2 == pytest.approx(found.filtered_state_cov[0, 0, DAYS], abs=1e-8)


def test_the_smoothed_history_is_the_kalman_smoothers() -> None:
    found = reference()
    count = len(DAYS)
    plan = layout(np.zeros(count, dtype=np.int64), DAYS)
    step = DRIFT * plan.weeks
    state = filtered(plan, D, np.full(count, ERROR), step)
    late = smoothed(plan, state, step)
    last = plan.last[0]
    prior = Prior(np.zeros(1), np.full((1, 1), SPREAD), np.zeros((1, 1)))
    first = first_level(prior, state.info[[last]], state.score[[last]])
    belief = carried(first, late.alpha, late.beta, late.gamma)
    assert mean_of(belief) == pytest.approx(found.smoothed_state[0, DAYS], abs=1e-8)
    assert sd_of(belief) ** 2 == pytest.approx(found.smoothed_state_cov[0, 0, DAYS], abs=1e-8)


def test_shrinkage_of_one_test_is_the_normal_normal_rule() -> None:
    """d 0.12, error 0.04, spread 0.06 about zero: weight 0.692308, mean 0.0830769 (algebra)."""
    plan = layout(np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64))
    state = filtered(plan, np.array([0.12]), np.array([0.04**2]), np.zeros(1))
    prior = Prior(np.zeros(1), np.full((1, 1), 0.06**2), np.zeros((1, 1)))
    belief = first_level(prior, state.info, state.score)
    assert mean_of(belief) == pytest.approx(0.0830769, abs=1e-7)
    assert sd_of(belief) == pytest.approx(0.0332820, abs=1e-7)


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
    plan = layout(np.arange(count), np.zeros(count, dtype=np.int64))
    state = filtered(plan, raw - centre, np.full(count, error), np.zeros(count))
    spread = error * factor / (1 - factor)
    prior = Prior(np.zeros(count), np.full((1, count), spread), np.zeros((1, 1)))
    shrunk = centre + mean_of(first_level(prior, state.info, state.score))
    assert shrunk[[0, 1, 2, -1]] == pytest.approx([0.2939, 0.2892, 0.2845, 0.2422], abs=5e-5)
    gain = ((raw - later) ** 2).sum() / ((shrunk - later) ** 2).sum()
    assert gain == pytest.approx(3.535, abs=1e-3)
