"""Each side against its own earlier sessions."""

import numpy as np
import polars as pl
import pytest

from pipeline.estimate import Estimates
from pipeline.scales import trial_error
from pipeline.settings import EstimateSettings
from tests.estimate.rows import (
    Row,
    estimated,
    measure,
    roster,
    session,
    squad_trials,
    today_of,
    trials,
)

STEADY = [row for day in (0, 14, 28) for row in session("X", day, [150] * 3, [150] * 3)]


def found_with(rows: list[Row], on: int = 42) -> Estimates:
    frame = pl.concat([squad_trials(15, days=(0, 14, 28, 42))[0], trials(rows)])
    return estimated(frame, on=on)


def side_of(found: Estimates, side: str) -> dict[str, object]:
    mine = (pl.col("athlete_id") == "X") & (pl.col("side") == side)
    return found.sides.row(by_predicate=mine, named=True)


def test_a_sudden_loss_of_one_side_with_the_other_steady_is_one_sided() -> None:
    found = found_with(STEADY + session("X", 42, [150] * 3, [112] * 3))
    assert today_of(found, "X")["one_sided_loss"]
    right, left = side_of(found, "right"), side_of(found, "left")
    assert right["is_lost"]
    assert not left["is_lost"]
    assert right["lost_share"] == pytest.approx(1 - 112 / 150, abs=0.01)
    assert right["recent_level"] == pytest.approx(np.log(150), abs=0.001)
    assert right["loss_chance"] > 0.999


def test_losing_both_sides_is_not_one_sided() -> None:
    found = found_with(STEADY + session("X", 42, [112] * 3, [112] * 3))
    assert not today_of(found, "X")["one_sided_loss"]
    assert side_of(found, "left")["is_lost"]


def test_fifteen_percent_are_beyond_the_error_but_no_case_for_medical_staff() -> None:
    found = found_with(STEADY + session("X", 42, [150] * 3, [127] * 3))
    assert not today_of(found, "X")["one_sided_loss"]
    assert side_of(found, "right")["loss_chance"] > 0.99


def test_one_botched_trial_of_three_is_no_loss() -> None:
    found = found_with(STEADY + session("X", 42, [150] * 3, [150, 149, 100]))
    assert not today_of(found, "X")["one_sided_loss"]
    assert side_of(found, "right")["lost_share"] < 0.05


def test_a_loss_is_found_when_the_test_before_is_months_old() -> None:
    rows = session("X", 0, [150] * 3, [150] * 3) + session("X", 150, [150] * 3, [110] * 3)
    found = found_with(rows, on=150)
    assert today_of(found, "X")["one_sided_loss"]
    right = side_of(found, "right")
    assert right["recent_level"] == pytest.approx(np.log(150))
    assert right["change_first"] == pytest.approx(np.log(110 / 150))
    assert right["fall_chance"] > 0.999


@pytest.mark.parametrize("since", [1, 2, 3])
def test_tests_that_follow_a_loss_do_not_hide_it(since: int) -> None:
    """The baseline is the level before the loss, not a mean that has swallowed it."""
    rows = STEADY + [
        row for test in range(since) for row in session("X", 35 + 7 * test, [150] * 3, [113] * 3)
    ]
    found = found_with(rows, on=28 + 7 * since)
    assert today_of(found, "X")["one_sided_loss"]
    right = side_of(found, "right")
    assert right["recent_level"] == pytest.approx(np.log(150), abs=0.001)
    assert right["lost_share"] == pytest.approx(1 - 113 / 150, abs=0.01)


def test_what_was_won_back_since_is_no_longer_lost() -> None:
    rows = STEADY + session("X", 35, [150] * 3, [100] * 3) + session("X", 42, [150] * 3, [146] * 3)
    found = found_with(rows)
    assert not today_of(found, "X")["one_sided_loss"]
    assert not side_of(found, "right")["is_lost"]


def test_a_level_that_has_been_low_for_months_is_not_lost_anew() -> None:
    rows = STEADY + [
        row for day in range(42, 154, 14) for row in session("X", day, [150] * 3, [112] * 3)
    ]
    assert not today_of(found_with(rows, on=140), "X")["one_sided_loss"]


def test_a_closing_difference_names_the_side_that_fell() -> None:
    rows = session("X", 0, [130] * 3, [160] * 3) + session("X", 42, [130] * 3, [135] * 3)
    found = found_with(rows)
    assert today_of(found, "X")["chance_closing"] > 0.8
    assert side_of(found, "right")["fall_chance"] > 0.99
    assert side_of(found, "left")["fall_chance"] == pytest.approx(0.5, abs=0.01)


def test_a_loss_in_degrees_is_taken_of_the_sides_own_level() -> None:
    rows = [row for day in (0, 14, 28) for row in session("X", day, [40] * 2, [40] * 2)]
    rows += session("X", 42, [40] * 2, [28] * 2)
    name = "straight_leg_raise"
    frame = trials(rows, name).with_columns(score=pl.col("score").exp())
    found = estimated(frame, of=measure(name), on=42)
    assert side_of(found, "right")["lost_share"] == pytest.approx(12 / 40, abs=0.01)
    assert today_of(found, "X")["one_sided_loss"]


def test_where_lower_is_better_the_score_falls_too() -> None:
    # The warehouse hands over minus the logarithm of a time; 1.30 times as slow is a loss.
    rows = [row for day in (0, 14, 28) for row in session("X", day, [2.0] * 3, [2.0] * 3)]
    rows += session("X", 42, [2.0] * 3, [2.6] * 3)
    frame = trials(rows, "timed_hop_6m").with_columns(score=-pl.col("score"))
    found = estimated(frame, of=measure("timed_hop_6m"), on=42)
    assert side_of(found, "right")["lost_share"] == pytest.approx(1 - 2.0 / 2.6, abs=0.01)
    assert today_of(found, "X")["estimate"] < 0


def test_a_level_of_zero_has_no_share_to_lose() -> None:
    name = "active_knee_extension_deficit"
    rows = [row for day in (0, 14) for row in session("X", day, [1.0] * 2, [1.0] * 2)]
    frame = trials(rows + session("X", 28, [1.0] * 2, [0.9] * 2), name)  # scores 0, 0 and -0.1
    right = side_of(estimated(frame, of=measure(name)), "right")
    assert right["recent_level"] == 0
    assert right["lost_share"] is None
    assert not right["is_lost"]


def test_a_sides_sessions_are_counted() -> None:
    found = found_with(STEADY + session("X", 42, [150] * 3, []))
    assert side_of(found, "left")["session_count"] == 4
    assert side_of(found, "right")["session_count"] == 3


def test_a_change_is_as_unsure_as_its_latest_and_its_earlier_sessions() -> None:
    """One session against the mean of three as good ones: sqrt(1 + 1/3) of its own SE."""
    right = side_of(found_with(STEADY + session("X", 42, [150] * 3, [150] * 3)), "right")
    assert right["change_recent_se"] == pytest.approx(right["level_se"] * np.sqrt(4 / 3))


def days_of(
    day_sd: float, gap: int, *, trial_sd: float = 0.01, size: int = 80, sessions: int = 6
) -> pl.DataFrame:
    """Simulated athletes whose sides go up and down from day to day by themselves."""
    rng = np.random.default_rng(12)
    rows: list[Row] = []
    for number in range(size):
        for day in range(sessions):
            shift = day_sd * rng.normal(size=(2, 1)) + trial_sd * rng.normal(size=(2, 6))
            values = 150 * np.exp(shift)
            rows += session(f"A{number}", gap * day, values[0], values[1])
    return trials(rows)


def day_sd_of(found: Estimates) -> float:
    """Day-to-day SD as the sides' errors hold it: what the trials' error leaves of them."""
    trial = found.errors["within_sd"].item() ** 2 / 6
    return float(np.sqrt((found.sides["level_se"].to_numpy() ** 2).mean() - trial))


@pytest.mark.parametrize(("day_sd", "trial_sd"), [(0.02, 0.01), (0.04, 0.01), (0.04, 0.06)])
def test_how_a_side_goes_up_and_down_is_found_from_its_own_days(
    day_sd: float, trial_sd: float
) -> None:
    """Changes are cut at 2.5 SDs, which takes 3 % of the SD of a normal one; then the prior."""
    found = estimated(days_of(day_sd, 14, trial_sd=trial_sd), on=70)
    assert day_sd_of(found) == pytest.approx(day_sd, rel=0.06)


def test_changes_over_months_and_of_those_who_shape_nothing_say_nothing_of_days() -> None:
    usual = EstimateSettings().side_day_share * trial_error(measure())
    months = estimated(days_of(0.04, 90), on=450)
    assert day_sd_of(months) == pytest.approx(usual, rel=0.02)
    frame = days_of(0.04, 14)
    people = roster(frame["athlete_id"].unique().sort(), shapes=False)
    assert day_sd_of(estimated(frame, people, on=70)) == pytest.approx(usual, rel=0.05)


def test_days_never_count_as_steadier_than_a_share_of_what_is_usual() -> None:
    settings = EstimateSettings()
    least = settings.least_day_share * settings.side_day_share * trial_error(measure())
    found = estimated(days_of(0.0, 14), on=70)
    assert day_sd_of(found) == pytest.approx(least, rel=0.05)


def test_a_fall_within_the_error_of_a_test_is_no_loss_however_large() -> None:
    rows = [row for day in (0, 14, 28) for row in session("X", day, [150], [150])]
    rough = measure(error=30.0, error_kind="pct")
    frame = trials([*rows, *session("X", 42, [150], [112])])
    found = estimated(frame, of=rough, on=42)
    assert side_of(found, "right")["lost_share"] == pytest.approx(1 - 112 / 150)
    assert not side_of(found, "right")["is_lost"]


def test_a_few_true_losses_do_not_raise_the_bar_they_are_measured_by() -> None:
    frame = days_of(0.02, 14)
    lost = (pl.col("athlete_id").str.extract(r"(\d+)").cast(pl.Int64) % 10 == 0) & (
        (pl.col("side") == "left") & (pl.col("tested_on") == pl.col("tested_on").max())
    )
    fallen = frame.with_columns(pl.when(lost).then(pl.col("score") - 0.4).otherwise("score"))
    assert day_sd_of(estimated(fallen, on=70)) < 1.25 * day_sd_of(estimated(frame, on=70))


def test_who_shapes_nothing_stands_beside_those_who_do() -> None:
    frame = days_of(0.02, 14)
    people = roster(frame["athlete_id"].unique().sort())
    wild = [int(name[1:]) % 2 == 1 for name in people["athlete_id"]]
    loud = (pl.col("athlete_id").str.extract(r"(\d+)").cast(pl.Int64) % 2 == 1) & (
        (pl.col("tested_on").dt.ordinal_day() // 14) % 2 == 0
    )
    frame = frame.with_columns(pl.when(loud).then(pl.col("score") - 0.3).otherwise("score"))
    shaping = people.with_columns(pl.Series("shapes", [not odd for odd in wild]))
    assert day_sd_of(estimated(frame, shaping, on=70)) == pytest.approx(0.02, rel=0.1)


def test_one_session_has_not_changed_since_the_first() -> None:
    found = found_with(session("X", 42, [150] * 3, [150] * 3))
    for side in ("left", "right"):
        row = side_of(found, side)
        unknown = ("change_first", "change_first_se", "fall_chance", "recent_level", "loss_chance")
        assert {name: row[name] for name in unknown} == dict.fromkeys(unknown)
        assert not row["is_lost"]


def falls_of(found: Estimates) -> dict[str, str]:
    mine = found.sides.filter((pl.col("athlete_id") == "X") & (pl.col("fall") != ""))
    return dict(mine.select("side", "fall").iter_rows())


def test_both_sides_that_fall_are_told_once_by_the_one_that_fell_most() -> None:
    found = found_with(STEADY + session("X", 42, [118] * 3, [105] * 3))
    assert falls_of(found) == {"right": "both_loss"}
    assert side_of(found, "right")["fall_share"] == pytest.approx(1 - 105 / 150, abs=0.01)
    alike = found_with(STEADY + session("X", 42, [112] * 3, [112] * 3))
    assert falls_of(alike) == {"left": "both_loss"}


def test_a_sudden_loss_of_one_side_is_a_loss_and_nothing_else() -> None:
    assert falls_of(found_with(STEADY + session("X", 42, [150] * 3, [112] * 3))) == {
        "right": "loss"
    }


@pytest.mark.parametrize(
    ("left", "right", "told"),
    [
        (0.0, -0.02, {"right": "slow_loss"}),  # 2 % of the start each week
        (-0.02, 0.005, {"left": "slow_loss"}),
        (-0.02, -0.02, {}),  # alike: less than a sudden loss, so nobody is asked
        (0.0, 0.02, {}),
        (0.0, -0.004, {}),  # 4 % in all: within what is usual
    ],
)
def test_a_side_that_falls_over_weeks_is_told(
    left: float, right: float, told: dict[str, str]
) -> None:
    weeks = range(0, 77, 7)
    rows = [
        row
        for day in weeks
        for row in session(
            "X", day, [150 * (1 + left * day / 7)] * 3, [150 * (1 + right * day / 7)] * 3
        )
    ]
    frame = pl.concat([squad_trials(15, days=weeks)[0], trials(rows)])
    assert falls_of(estimated(frame, on=70)) == told


def test_both_sides_falling_far_over_weeks_are_told() -> None:
    weeks = range(0, 77, 7)
    rows = [
        row
        for day in weeks
        for row in session("X", day, [150 * (1 - 0.03 * day / 7)] * 3, [150 - 3.0 * day / 7] * 3)
    ]
    frame = pl.concat([squad_trials(15, days=weeks)[0], trials(rows)])
    assert falls_of(estimated(frame, on=70)) == {"left": "both_loss"}


def test_two_athletes_fall_each_by_themselves_and_a_side_alone_falls_nowhere() -> None:
    rows = [*STEADY, *session("X", 42, [150] * 3, [112] * 3)]
    other = [("Y", day, side, value) for _, day, side, value in rows]
    alone = [("Z", day, side, value) for _, day, side, value in rows if side == "right"]
    found = found_with([*rows, *other[:18], *session("Y", 42, [118] * 3, [105] * 3), *alone])
    told = found.sides.filter(pl.col("fall") != "").select("athlete_id", "side", "fall")
    assert told.rows() == [("X", "right", "loss"), ("Y", "right", "both_loss")]
