"""Who is usual: what shapes the squad's prior, what does not, and how wide it stays."""

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from scipy.stats import multivariate_normal, norm

from pipeline.estimate.filter.pace import NOT_BETWEEN
from pipeline.estimate.filter.squad_evidence import DRIFT, SPREAD
from pipeline.estimate.sessions.frames import read_panel
from pipeline.estimate.steps import Work, worked
from pipeline.settings import EstimateSettings, Settings
from tests.estimate.rows import (
    HOP,
    START,
    estimated,
    measure,
    roster,
    session,
    squad_trials,
    today_of,
    trials,
)


def test_an_unusual_difference_is_pulled_towards_the_squad() -> None:
    frame, _ = squad_trials(20, days=[28])
    found = today_of(estimated(pl.concat([frame, trials(session("X", 28, [140], [170]))])), "X")
    assert 0 < found["estimate"] < found["observed"]


def test_the_squads_spread_is_found() -> None:
    for spread in (0.03, 0.12):
        frame, _ = squad_trials(40, days=range(0, 70, 14), spread=spread)
        assert estimated(frame, on=70).errors["spread_sd"][0] == pytest.approx(spread, rel=0.25)


def test_the_spread_never_collapses_where_nobody_differs() -> None:
    frame, _ = squad_trials(12, days=[0], spread=0.0)
    found = estimated(frame)
    assert found.errors["spread_sd"][0] > 0.005
    assert (found.today["high"] - found.today["low"]).min() > 0.01


def test_few_athletes_leave_wider_intervals_than_many() -> None:
    few, _ = squad_trials(3, days=[28])
    many, _ = squad_trials(40, days=[28])
    widths = [
        (found.today["high"] - found.today["low"]).mean()
        for found in (estimated(few), estimated(many))
    ]
    assert widths[0] > widths[1]


def test_those_who_shape_nothing_are_scored_and_leave_the_others_as_they_were() -> None:
    frame, _ = squad_trials(15)
    odd = trials(
        [row for day in (0, 14, 28) for row in session("Z", day, [110] * 3, [160] * 3)],
        shapes=False,
    )
    people = roster([*frame["athlete_id"].unique().sort(), "Z"], shapes=[True] * 15 + [False])
    alone, both = estimated(frame), estimated(pl.concat([frame, odd]), people)
    others = pl.col("athlete_id") != "Z"
    assert_frame_equal(both.today.filter(others), alone.today)
    assert both.errors.drop("athlete_count", "session_count").equals(
        alone.errors.drop("athlete_count", "session_count")
    )
    scored = today_of(both, "Z")
    assert scored["chance_over_line"] > 0.99
    assert scored["estimate"] == pytest.approx(np.log(160 / 110), abs=0.08)


def test_an_athlete_kept_out_by_the_roster_shapes_nothing_either() -> None:
    frame, _ = squad_trials(15)
    odd = trials(session("Z", 28, [110] * 3, [160] * 3))
    people = roster([*frame["athlete_id"].unique().sort(), "Z"], shapes=[True] * 15 + [False])
    both = estimated(pl.concat([frame, odd]), people)
    assert both.errors["spread_sd"][0] == estimated(frame).errors["spread_sd"][0]


def test_adding_athletes_to_another_squad_changes_nothing() -> None:
    frame, _ = squad_trials(15)
    other, _ = squad_trials(25, seed=9, squad="Zebra")
    first, _ = squad_trials(5, seed=9, squad="Alpha")
    alone = estimated(frame)
    both = estimated(pl.concat([first, frame, other]))
    mine = pl.col("squad") == "Squad"
    assert_frame_equal(both.today.filter(mine), alone.today, abs_tol=1e-13)
    assert_frame_equal(both.errors.filter(mine), alone.errors, abs_tol=1e-13)


def test_the_order_of_rows_changes_nothing() -> None:
    frame, _ = squad_trials(15)
    shuffled = frame.sample(fraction=1.0, shuffle=True, seed=1)
    people = roster(frame["athlete_id"].unique().sort(descending=True))
    usual, other = estimated(frame), estimated(shuffled, people)
    for name in ("errors", "days", "today", "sides", "reliability"):
        assert_frame_equal(getattr(usual, name), getattr(other, name), check_exact=True)


def test_a_squad_speaks_for_its_own_lead_and_the_catalogue_for_a_new_one() -> None:
    grip = measure("grip_strength")
    frame, _ = squad_trials(40, days=range(0, 60, 10), name="grip_strength", lead=0.03)
    names = frame["athlete_id"].unique().sort()
    many = estimated(frame, roster(names, dominant_hand="right"), of=grip, on=60)
    assert many.errors["lead_right"][0] == pytest.approx(0.03, abs=0.02)
    one = trials(session("A", 0, [40], [40]), "grip_strength")
    new = estimated(one, roster(["A"], dominant_hand="right"), of=grip)
    assert new.errors["lead_right"][0] == pytest.approx(-np.log(0.9), abs=0.02)
    assert new.errors["lead_left"][0] == pytest.approx(0.0, abs=0.02)


def test_the_expected_lead_of_a_dominant_hand_is_taken_off_before_the_line() -> None:
    grip = measure("grip_strength", review=10.0)
    rows = [row for day in (0, 14, 28) for row in session("R", day, [40.0] * 3, [44.6] * 3)]
    rows += [row for day in (0, 14, 28) for row in session("L", day, [40.0] * 3, [44.6] * 3)]
    frame = trials(rows, "grip_strength")
    found = estimated(frame, roster(["L", "R"], dominant_hand=["left", "right"]), of=grip)
    right, left = today_of(found, "R"), today_of(found, "L")
    assert right["lead"] > 0.08
    assert right["chance_over_line"] < 0.1 < left["chance_over_line"]
    assert left["lead"] < 0.04


def test_both_handed_athletes_are_given_half_of_each_lead() -> None:
    grip = measure("grip_strength")
    frame = trials(session("A", 0, [40], [42]), "grip_strength")
    errors = estimated(frame, roster(["A"], dominant_hand="both"), of=grip).errors.row(
        0, named=True
    )
    assert errors["lead_both"] == pytest.approx((errors["lead_right"] + errors["lead_left"]) / 2)
    expected = 0.9 * errors["lead_right"] + 0.1 * errors["lead_left"]
    assert errors["lead_none"] == pytest.approx(expected)


def test_a_shift_of_the_whole_squad_is_no_expected_lead_where_dominance_plays_no_part() -> None:
    frame, _ = squad_trials(20, lead=0.05)
    found = estimated(frame)
    assert 0.01 < found.errors["lead_none"][0] < 0.05  # the prior's centre, not a lead
    assert found.today["lead"].unique().to_list() == [0.0]


def test_where_nobodys_tests_shape_the_squad_the_catalogues_figures_stand() -> None:
    """The grid then integrates the prior alone, and that exactly (Gauss-Hermite)."""
    rows = [row for day in (0, 14) for row in session("A", day, [150, 152], [155, 157])]
    frame, people = trials(rows, shapes=False), roster(["A"], shapes=False)
    settings = Settings()
    on = START + timedelta(days=28)
    panel, _ = read_panel(frame, people, {HOP: measure()}, on, settings)
    work = worked(panel, (on - date(1970, 1, 1)).days, settings.estimate)
    usual, within = panel.standards.side_sd[0], work.errors.within_sd[0]
    given = settings.estimate
    assert work.fit.sds[0] == pytest.approx(
        [usual, given.day_share * within, given.drift_share * usual], rel=1e-9
    )
    assert work.fit.log_widths[0] == pytest.approx(
        [given.spread_log_sd, np.hypot(given.day_log_sd, NOT_BETWEEN), given.drift_log_sd], rel=1e-9
    )
    assert work.fit.centre[0] == pytest.approx(0, abs=1e-12)


def assert_spread_is(weight: Callable[[float], float], work: Work, usual: float) -> None:
    """The squad's spread as found against its posterior, integrated over a grid of logs."""
    grid = np.log(usual) + np.linspace(-3, 3, 401)
    weights = np.array([weight(point) for point in grid])
    mean = np.average(grid, weights=weights)
    sd = np.sqrt(np.average((grid - mean) ** 2, weights=weights))
    assert np.log(work.fit.sds[0, SPREAD]) == pytest.approx(mean, abs=0.01)
    assert work.fit.log_widths[0, SPREAD] == pytest.approx(sd, rel=0.03)


@pytest.mark.parametrize("size", [3, 12])
def test_the_spread_is_what_direct_integration_gives(size: int) -> None:
    """One test day, ordinary tails: d is normal, so the marginal likelihood is known whole."""
    frame, _ = squad_trials(size, days=[0], spread=0.1)
    plain = EstimateSettings.model_construct(
        tail_scales=(1.0,), tail_weights=(1.0,), lead_share=2.0, day_log_sd=1e-4, drift_log_sd=1e-4
    )
    settings = Settings(estimate=plain)
    people = roster(frame["athlete_id"].unique().sort())
    panel, _ = read_panel(frame, people, {HOP: measure()}, START, settings)
    work = worked(panel, (START - date(1970, 1, 1)).days, plain)
    usual = panel.standards.side_sd[0]
    error = work.tests.variance + (plain.day_share * work.errors.within_sd[0]) ** 2
    lead = np.full((size, size), (plain.lead_share * usual) ** 2)

    def weight(log_spread: float) -> float:
        cov = np.diag(np.exp(2 * log_spread) + error) + lead
        fit = multivariate_normal(np.zeros(size), cov).pdf(work.tests.d)
        return float(fit * norm(np.log(usual), plain.spread_log_sd).pdf(log_spread))

    assert_spread_is(weight, work, usual)


def test_nobody_is_held_against_a_centre_of_their_own_making() -> None:
    """Each athlete's own tests are taken out of the centre they are pulled towards.

    With ordinary tails and known SDs the centre given all others is the mean weighted by inverse
    variances, with the catalogue's lead of zero as one more (normal with known variances, Gelman
    et al. 2013, Bayesian Data Analysis, 3rd ed., 2.5; from memory).
    """
    frame, _ = squad_trials(8, days=[0], spread=0.1, lead=0.2)
    plain = EstimateSettings.model_construct(
        tail_scales=(1.0,), tail_weights=(1.0,), lead_share=2.0,
        day_log_sd=1e-4, drift_log_sd=1e-4, spread_log_sd=1e-4,
    )  # fmt: skip
    people = roster(frame["athlete_id"].unique().sort())
    settings = Settings(estimate=plain)
    panel, _ = read_panel(frame, people, {HOP: measure()}, START, settings)
    work = worked(panel, (START - date(1970, 1, 1)).days, plain)
    usual = panel.standards.side_sd[0]
    error = work.tests.variance + (plain.day_share * work.errors.within_sd[0]) ** 2
    precision = 1 / (usual**2 + error)
    for one in range(8):
        others = np.delete(np.arange(8), one)
        held = precision[others].sum() + 1 / (plain.lead_share * usual) ** 2
        centre = (precision * work.tests.d)[others].sum() / held
        assert work.fit.centre[one] == pytest.approx(centre, rel=1e-3)
        assert work.fit.centre_variance[one] == pytest.approx(1 / held, rel=1e-3)


def test_of_whom_the_preferred_side_is_unknown_the_lead_is_less_sure() -> None:
    """Who may be either has the variance of a coin for the two leads' distance besides."""
    grip = measure("grip_strength")
    rows = [row for who in "AB" for row in session(who, 0, [40.0], [42.0])]
    people = roster(["A", "B"], dominant_hand=["right", None])
    frame, settings = trials(rows, "grip_strength", shapes=False), Settings()
    panel, _ = read_panel(frame, people, {grip.id: grip}, START, settings)
    fit = worked(panel, (START - date(1970, 1, 1)).days, settings.estimate).fit
    given, usual = settings.estimate, panel.standards.side_sd[0]
    right, apart = panel.standards.known_right[0], fit.leads[0, 0] - fit.leads[0, 1]
    assert apart > 0.05
    # Both leads are as uncertain as the catalogue's one.
    lead = (given.lead_share * usual) ** 2 + (given.lead_doubt * apart) ** 2
    either = (right**2 + (1 - right) ** 2) * lead + right * (1 - right) * apart**2
    assert fit.centre_variance == pytest.approx([lead, either])


def test_the_points_of_a_fit_have_its_middle_and_its_widths() -> None:
    """Four corners of a tetrahedron, equally likely: the same mean and covariance."""
    frame, _ = squad_trials(20)
    people = roster(frame["athlete_id"].unique().sort())
    panel, _ = read_panel(frame, people, {HOP: measure()}, START + timedelta(days=28), Settings())
    fit = worked(panel, (START - date(1970, 1, 1)).days + 28, Settings().estimate).fit
    logs = np.log([sds[0] for sds, _ in fit.points])
    assert logs.mean(axis=0) == pytest.approx(np.log(fit.sds[0]))
    assert logs.std(axis=0)[:DRIFT] == pytest.approx(fit.log_widths[0, :DRIFT], rel=1e-4)
    paces = np.log([pace[0] for _, pace in fit.points])
    assert paces.mean() == pytest.approx(np.log(fit.pace[0]))
    assert paces.std() > 0.3  # twenty athletes on three days do not settle how often they change


@pytest.mark.parametrize("lead", [0.10, 0.30])
def test_the_spread_about_two_leads_is_what_direct_integration_gives(lead: float) -> None:
    """Right- and left-handed people about leads of their own, each with the catalogue's prior."""
    size, grip = 12, measure("grip_strength")
    frame, _ = squad_trials(size, days=[0], spread=0.1, name=grip.id, lead=lead)
    names = frame["athlete_id"].unique().sort()
    hands = ["right" if number % 3 else "left" for number in range(size)]
    plain = EstimateSettings.model_construct(
        tail_scales=(1.0,), tail_weights=(1.0,), day_log_sd=1e-4, drift_log_sd=1e-4
    )
    settings = Settings(estimate=plain)
    people = roster(names, dominant_hand=hands)
    panel, _ = read_panel(frame, people, {grip.id: grip}, START, settings)
    work = worked(panel, (START - date(1970, 1, 1)).days, plain)
    usual, standards = panel.standards.side_sd[0], panel.standards
    error = work.tests.variance + (plain.day_share * work.errors.within_sd[0]) ** 2
    leads = standards.lead_right[0], standards.lead_left[0]
    unknown = (plain.lead_share * usual) ** 2 + (plain.lead_doubt * max(map(abs, leads))) ** 2
    is_right = np.array([hand == "right" for hand in hands])
    centre = np.where(is_right, *leads)
    shared = unknown * np.equal.outer(is_right, is_right)

    def weight(log_spread: float) -> float:
        cov = np.diag(np.exp(2 * log_spread) + error) + shared
        fit = multivariate_normal(centre, cov).pdf(work.tests.d)
        return float(fit * norm(np.log(usual), plain.spread_log_sd).pdf(log_spread))

    assert_spread_is(weight, work, usual)
