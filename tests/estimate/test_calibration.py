"""A smaller run of the calibration benchmark: the chances are right, clean trials or botched.

100 squads leave sampling error, so the tolerances are wider than the benchmark's by about that:
`make calibrate` holds the real ones on 1,000 squads.
"""

import numpy as np
import pytest

from tests.benchmarks.best_possible import best_today
from tests.benchmarks.calibration import FULL_BIN, Score, run, scored
from tests.benchmarks.simulate import Scenario, simulate

SCENARIO = Scenario(squads=100, seed=1)


@pytest.fixture(scope="module", params=[0.0, 0.015], ids=["clean", "botched"])
def score(request: pytest.FixtureRequest) -> Score:
    return run(Scenario(squads=100, seed=1, botched=request.param))


@pytest.mark.slow
def test_what_is_said_to_be_likely_happens_as_often(score: Score) -> None:
    assert score.calibration_error <= 0.009
    for said, share, cases in score.bins:
        if cases >= FULL_BIN:
            assert abs(said - share) <= 0.04 + 2 * np.sqrt(said * (1 - said) / cases)


@pytest.mark.slow
def test_nine_in_ten_intervals_hold_the_truth(score: Score) -> None:
    assert 0.89 <= score.covered <= 0.92


@pytest.mark.slow
def test_nearly_all_confirmed_differences_are_truly_over_the_line(score: Score) -> None:
    noise = np.sqrt(0.95 * 0.05 / score.confirmed)
    assert score.confirmed_right >= 0.95 - 2 * noise


@pytest.mark.slow
def test_few_false_flags_at_the_plain_rules_recall(score: Score) -> None:
    assert score.false_share <= 0.12


@pytest.mark.slow
def test_the_estimate_is_nearer_to_the_truth_than_the_latest_session(score: Score) -> None:
    assert score.error_share <= 0.47


@pytest.mark.slow
def test_little_is_lost_against_knowing_every_squads_true_figures() -> None:
    simulated = simulate(SCENARIO)
    best = scored(simulated, best_today(simulated))
    ours = run(SCENARIO)
    assert ours.estimate_error <= 1.05 * best.estimate_error
    assert ours.session_error == pytest.approx(best.session_error)


@pytest.mark.slow
def test_squads_of_a_few_athletes_are_told_no_more_than_their_tests_hold() -> None:
    few = run(Scenario(squads=500, athletes=(1, 9), seed=2))
    assert few.calibration_error <= 0.014  # intervals of who stays are a little too wide
    assert 0.89 <= few.covered <= 0.935


@pytest.mark.slow
def test_single_trials_are_told_honestly() -> None:
    single = run(Scenario(squads=150, trials=(1, 1), seed=2))
    assert single.calibration_error <= 0.009
    assert 0.89 <= single.covered <= 0.93
