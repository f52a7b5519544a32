"""The error of a trial: pooled, blended, and not upset by a botched trial."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from pipeline.catalogue import Measure
from pipeline.estimate.sessions.frames import read_panel
from pipeline.estimate.sessions.trial_error import TrialErrors, trial_errors
from pipeline.estimate.steps import worked
from pipeline.scales import trial_error
from pipeline.settings import EstimateSettings, Settings
from tests.estimate.rows import HOP, START, estimated, measure, roster, session, today_of, trials

PLAIN = EstimateSettings.model_construct(
    stray_low_share=1e-12, stray_high_share=1e-12, error_df=1e-9
)


def errors_of(
    frame: pl.DataFrame, settings: EstimateSettings, of: Measure | None = None
) -> TrialErrors:
    chosen = of or measure()
    people = roster(frame["athlete_id"].unique())
    panel, _ = read_panel(frame, people, {chosen.id: chosen}, START, Settings())
    return trial_errors(panel, settings)


def test_variances_are_pooled_by_degrees_of_freedom_never_sds_averaged() -> None:
    frame = trials(session("A", 0, [44, 45, 46], [48, 50, 52]))
    left, right = np.log([44, 45, 46]), np.log([48, 50, 52])
    pooled = np.sqrt((left.var(ddof=1) * 2 + right.var(ddof=1) * 2) / 4)
    found = errors_of(frame, PLAIN)
    assert found.within_sd[0] == pytest.approx(pooled, rel=1e-6)
    assert found.within_sd[0] == pytest.approx(0.0323723, abs=1e-6)
    assert found.within_df[0] == pytest.approx(4)


def test_a_new_squad_starts_with_the_catalogues_error() -> None:
    frame = trials(session("A", 0, [150], [150]))
    found = errors_of(frame, EstimateSettings())
    assert found.within_sd[0] == pytest.approx(trial_error(measure()))
    assert np.isnan(found.own_sd[0])


def test_the_catalogue_weighs_as_its_degrees_of_freedom() -> None:
    frame = trials(session("A", 0, [140, 150, 160], [150]))
    own = np.log([140, 150, 160]).var(ddof=1)
    settings = EstimateSettings.model_construct(
        error_df=8, stray_low_share=1e-12, stray_high_share=1e-12
    )
    expected = np.sqrt((8 * trial_error(measure()) ** 2 + 2 * own) / 10)
    assert errors_of(frame, settings).within_sd[0] == pytest.approx(expected, rel=1e-6)


def test_a_botched_trial_loses_its_weight_in_the_level_but_not_in_the_plain_mean() -> None:
    rows = session("A", 0, [150, 151, 110], [150, 149, 151])
    found = errors_of(trials(rows), EstimateSettings())
    left = np.log([150, 151, 110])
    assert found.plain_mean[0] == pytest.approx(left.mean())
    assert found.level[0] == pytest.approx(left[:2].mean(), abs=0.01)
    assert found.stray_chance[2] > 0.95
    assert found.stray_chance[:2].max() < 0.05


def test_a_botched_trial_hardly_raises_the_squads_error() -> None:
    rng = np.random.default_rng(5)
    rows = []
    for number in range(20):
        left, right = 150 * np.exp(0.035 * rng.normal(size=(2, 3)))
        rows += session(f"A{number:02d}", 0, left, right)
    clean = errors_of(trials(rows), EstimateSettings()).within_sd[0]
    spoiled = [(a, d, s, v * 0.75 if i == 4 else v) for i, (a, d, s, v) in enumerate(rows)]
    assert errors_of(trials(spoiled), EstimateSettings()).within_sd[0] == pytest.approx(
        clean, rel=0.02
    )
    assert errors_of(trials(spoiled), PLAIN).within_sd[0] > 1.2 * clean


def test_a_single_trial_cannot_be_judged_and_keeps_its_value() -> None:
    found = errors_of(trials(session("A", 0, [100], [150, 150])), EstimateSettings())
    assert found.level[0] == pytest.approx(np.log(100))
    assert found.stray_chance[0] == 0
    assert found.variance[0] == pytest.approx(found.within_sd[0] ** 2)


def test_five_trials_against_two_make_no_difference_out_of_nothing() -> None:
    rng = np.random.default_rng(11)
    rows = []
    for number in range(4000):
        values = 150 * np.exp(0.05 * rng.normal(size=7))
        rows += session(f"A{number:04d}", 0, values[:2], values[2:])
    found = estimated(trials(rows), on=0)
    error = 0.05 * np.sqrt(1 / 2 + 1 / 5)
    standard_error = error / np.sqrt(4000)
    assert abs(found.today["observed"].to_numpy().mean()) < 3 * standard_error
    assert abs(found.today["estimate"].to_numpy().mean()) < 3 * standard_error
    best = [
        np.log(
            max(r[3] for r in part if r[2] == "right") / max(r[3] for r in part if r[2] == "left")
        )
        for part in (rows[start : start + 7] for start in range(0, len(rows), 7))
    ]
    # Scored by the best trial, the same people lead on the right: order statistics of 5 and 2.
    assert np.mean(best) == pytest.approx((1.16296 - 0.56419) * 0.05, abs=4 * standard_error)


def test_more_trials_make_the_error_of_a_session_smaller() -> None:
    few = estimated(trials(session("A", 0, [150], [160])), on=0)
    many = estimated(trials(session("A", 0, [150] * 4, [160] * 4)), on=0)
    one, four = today_of(few, "A"), today_of(many, "A")
    assert four["observed_se"] < one["observed_se"]
    assert abs(four["estimate"]) > abs(one["estimate"])


def test_trials_of_one_number_that_rise_and_fall_together_tell_sides_apart_better() -> None:
    rng = np.random.default_rng(2)
    rows = []
    for number in range(60):
        practice = 0.04 * rng.normal(size=3)
        left, right = 150 * np.exp(practice + 0.01 * rng.normal(size=(2, 3)))
        rows += session(f"A{number:02d}", 0, left, right)
    found = errors_of(trials(rows), EstimateSettings())
    assert found.pairing[0] == pytest.approx(0.04**2 / (0.04**2 + 0.01**2), abs=0.1)
    today = estimated(trials(rows), on=0).today
    assert today["observed_se"].max() < found.within_sd[0] * np.sqrt(2 / 3)


def test_a_load_shifted_between_two_plates_tells_sides_apart_worse() -> None:
    rng = np.random.default_rng(2)
    rows = []
    for number in range(60):
        shift = 0.03 * rng.normal(size=3)
        rows += session(f"A{number:02d}", 0, 150 * np.exp(shift), 150 * np.exp(-shift))
    assert errors_of(trials(rows), EstimateSettings()).pairing[0] < -0.8


def test_trials_that_do_not_shape_leave_the_squads_error_alone() -> None:
    usual = trials(session("A", 0, [150, 152, 149], [150, 151, 152]))
    wild = trials(session("B", 0, [100, 150, 200], [90, 160, 210]), shapes=False)
    alone, both = (
        errors_of(frame, EstimateSettings()) for frame in (usual, pl.concat([usual, wild]))
    )
    assert both.within_sd[0] == alone.within_sd[0]


def test_what_trials_in_turn_have_in_common_leaves_the_difference() -> None:
    """Variance of a difference of two means of n pairs: 2 s^2 (1 - r) / n (elementary)."""
    rng = np.random.default_rng(4)
    rows = []
    for number in range(30):
        for day in (0, 14):
            shared = 0.04 * rng.normal(size=4)
            own = 0.01 * rng.normal(size=(2, 4))
            left, right = 150 * np.exp(shared + own)
            rows += session(f"A{number:02d}", day, left, right)
    frame, people = trials(rows), roster([f"A{number:02d}" for number in range(30)])
    settings = Settings()
    on = START + timedelta(days=14)
    panel, _ = read_panel(frame, people, {HOP: measure()}, on, settings)
    work = worked(panel, (on - date(1970, 1, 1)).days, settings.estimate)
    sd, pairing = work.errors.within_sd[0], work.errors.pairing[0]
    assert pairing > 0.6
    expected = 2 * sd**2 * (1 - pairing) / 4
    assert work.tests.plain_variance == pytest.approx(np.full(60, expected))
    assert np.median(work.tests.variance) == pytest.approx(expected, rel=0.1)


@pytest.mark.parametrize(
    "values", [(150, 151, 118), (150, 186, 149), (150, 141), (150, 149, 151, 139, 152)]
)
def test_the_chance_of_a_stray_is_what_integration_gives(values: tuple[float, ...]) -> None:
    """All readings of a cell, weighed by their likelihood over every level (scipy's quadrature)."""
    settings = EstimateSettings.model_construct(
        error_df=1e12
    )  # so that the error of a trial is known
    error = trial_error(measure())
    found = errors_of(trials(session("A", 0, values, [150])), settings)
    scores = np.log(values) / error
    shift, spread = settings.stray_shift, settings.stray_spread

    def likelihood(means: np.ndarray, sds: np.ndarray) -> float:
        middle = scores.mean()
        ends = middle - 60, middle + 60
        parts = quad(
            lambda level: np.prod(norm.pdf(scores, level + means, sds)), *ends, limit=400,
            points=list(scores), epsabs=0, epsrel=1e-10,
        )  # fmt: skip
        return float(parts[0])

    none = likelihood(np.zeros(len(scores)), np.ones(len(scores)))
    weights = []
    for place in range(len(scores)):
        one = np.arange(len(scores)) == place
        weights.append(
            sum(
                share * likelihood(np.where(one, off, 0.0), np.where(one, spread, 1.0))
                for share, off in (
                    (settings.stray_low_share, -shift),
                    (settings.stray_high_share, shift),
                )
            )
            / none
        )
    expected = np.array(weights) / (1 + sum(weights))
    assert found.stray_chance[: len(values)] == pytest.approx(expected, rel=1e-5)
    # The level: the mean of all where none is, else the mean of the others.
    means = [(scores.sum() - one) / (len(scores) - 1) for one in scores]
    clean = 1 - expected.sum()
    level = clean * scores.mean() + expected @ means
    square = clean * (scores.mean() ** 2 + 1 / len(scores)) + expected @ (
        np.square(means) + 1 / (len(scores) - 1)
    )
    assert found.level[0] / error == pytest.approx(level, rel=1e-6)
    assert found.variance[0] / error**2 == pytest.approx(square - level**2, rel=1e-5)
