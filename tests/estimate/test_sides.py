"""Each side against its own earlier sessions."""

import numpy as np
import polars as pl
import pytest

from pipeline.estimate import Estimates
from tests.estimate.rows import Row, estimated, measure, session, squad_trials, today_of, trials

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


def test_a_level_older_than_the_recent_weeks_is_not_called_sudden() -> None:
    rows = session("X", 0, [150] * 3, [150] * 3) + session("X", 100, [150] * 3, [110] * 3)
    found = found_with(rows, on=100)
    assert not today_of(found, "X")["one_sided_loss"]
    right = side_of(found, "right")
    assert right["recent_level"] is None
    assert right["change_first"] == pytest.approx(np.log(110 / 150))
    assert right["fall_chance"] > 0.999


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
