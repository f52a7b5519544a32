"""Hints of several tests of one limb: told together, or said to differ."""

from datetime import date, timedelta
from typing import Any

import pytest

from pipeline.catalogue import Doses, full_catalogue
from pipeline.review.differences.stories import WHOLE_LEG, Story, stories, story_of

BOOK = full_catalogue()
RULES = Doses(BOOK.rules.plan)
DAY = date(2026, 11, 20)


def found(measure: str, side: str = "left", chance: float = 0.6, back: int = 0) -> dict[str, Any]:
    return {"measure": measure, "lower_side": side, "chance_over_line": chance,
            "last_tested_on": DAY - timedelta(days=back)}  # fmt: skip


def told(*rows: dict[str, Any]) -> tuple[Story, ...]:
    straight = stories(rows, BOOK, RULES)
    assert stories(rows[::-1], BOOK, RULES) == straight  # in any order of rows
    return straight


@pytest.mark.parametrize(
    ("rows", "quality", "side", "measures"),
    [
        (
            [found("nordic_ecc_force", chance=0.5), found("iso_knee_flexion_torque", chance=0.7)],
            "knee_bending", "left", ("iso_knee_flexion_torque", "nordic_ecc_force"),
        ),
        (
            [found("grip_strength", "right", 0.9), found("db_row_single_rm", "right", 0.41)],
            "arm_pull", "right", ("grip_strength", "db_row_single_rm"),
        ),
        (
            [found("knee_to_wall", "right", 0.45), found("reach_anterior", "right", 0.8)],
            "ankle_bend", "right", ("reach_anterior", "knee_to_wall"),
        ),
    ],
)  # fmt: skip
def test_two_kinds_of_test_that_agree_are_one_story_the_surest_first(
    rows: list[dict[str, Any]], quality: str, side: str, measures: tuple[str, ...]
) -> None:
    (one,) = told(*rows)
    assert (one.quality, one.lower_side, one.measures) == (quality, side, measures)
    assert (one.is_one, one.test_count) == (True, 2)


@pytest.mark.parametrize(
    "second",
    [
        found("nordic_ecc_force", chance=0.39),  # too little to speak
        found("nordic_ecc_force", "even", 0.5),
        found("grip_strength"),  # another limb
        found("nordic_ecc_force", back=12 * 7 + 1),  # too long ago
    ],
)
def test_one_test_alone_is_no_story(second: dict[str, Any]) -> None:
    assert told(found("iso_knee_flexion_torque"), second) == ()


def test_twelve_weeks_lie_between_the_tests_at_most() -> None:
    first, second = found("iso_knee_flexion_torque"), found("nordic_ecc_force", back=12 * 7)
    assert len(told(first, second)) == 1
    old = [{**row, "last_tested_on": row["last_tested_on"] - timedelta(days=300)}
           for row in (first, second)]  # fmt: skip
    assert len(told(*old)) == 1  # of each other, not of today


@pytest.mark.parametrize(
    ("derived", "part", "other"),
    [
        ("hq_ratio_con_60", "isok_knee_flexion_60", "sl_bridge_reps"),
        ("hip_add_abd_ratio", "hip_adduction_torque", "adductor_plank_hold"),
        ("shoulder_total_arc", "shoulder_ir_rom", "shoulder_ir_iso_force"),
        ("cod_deficit_505", "cod_505_time", "single_hop"),
    ],
)
def test_a_derived_value_never_counts_beside_its_parts(derived: str, part: str, other: str) -> None:
    even = found(part, "even", 0.1)
    assert told(found(derived, chance=0.99), found(part)) == ()
    assert told(found(derived, chance=0.99), even, found(other)) == ()
    (one,) = told(found(derived, chance=0.99), found(part), found(other))
    assert derived not in one.measures
    assert one.test_count == 2


def test_two_values_of_one_effort_count_once() -> None:
    height, power = found("sl_cmj_height", chance=0.7), found("sl_cmj_peak_power", chance=0.9)
    assert told(height, power) == ()
    (one,) = told(height, power, found("imtp_single_peak_force"))
    assert one.measures == ("sl_cmj_peak_power", "imtp_single_peak_force")


def test_lifts_of_the_log_count_half_and_never_lead() -> None:
    curl, hinge = (found(f"est_1rm:{name}", chance=0.99)
                   for name in ("single_leg_curl", "single_leg_romanian_deadlift"))  # fmt: skip
    test = found("nordic_ecc_force", chance=0.5)
    assert told(test, curl) == ()
    assert told(curl, hinge, found("est_1rm:single_leg_hip_thrust", chance=0.99)) == ()
    (one,) = told(test, curl, hinge)
    assert (one.measures[0], one.test_count) == ("nordic_ecc_force", 1)


def test_one_clear_test_the_other_way_makes_them_differ() -> None:
    agreeing = [found("nordic_ecc_force", chance=0.7), found("sl_bridge_reps", chance=0.5)]
    assert told(*agreeing, found("iso_knee_flexion_torque", "right", 0.94))[0].is_one
    (one,) = told(*agreeing, found("iso_knee_flexion_torque", "right", 0.95))
    assert not one.is_one
    assert one.others == ("iso_knee_flexion_torque",)
    assert story_of([one], "iso_knee_flexion_torque") is one
    # Two clear ones against each other are no better.
    (pair,) = told(found("nordic_ecc_force", chance=0.97),
                   found("iso_knee_flexion_torque", "right", 0.96))  # fmt: skip
    assert not pair.is_one


LEG = [found("iso_knee_extension_torque", chance=0.8), found("single_hop", chance=0.9),
       found("calf_raise_reps", chance=0.5)]  # fmt: skip


def test_three_kinds_on_one_leg_are_one_story_of_that_leg() -> None:
    even = found("sl_leg_press_rm", "even", 0.05)
    one = told(*LEG, found("triple_hop", chance=0.6), even)[0]
    assert (one.quality, one.lower_side) == (WHOLE_LEG, "left")
    assert one.measures[0] == "single_hop"
    assert one.even == ("sl_leg_press_rm",)
    assert len(told(*LEG, found("triple_hop", chance=0.6), even)) == 1  # hops are not told twice


def test_two_kinds_or_one_clearly_the_other_way_are_no_whole_leg() -> None:
    assert all(one.quality != WHOLE_LEG for one in told(*LEG[:2], found("triple_hop")))
    other = found("sl_leg_press_rm", "right", 0.97)
    assert all(one.quality != WHOLE_LEG for one in told(*LEG, other))
    record = found("est_1rm:split_squat", chance=0.99)  # half a kind
    assert all(one.quality != WHOLE_LEG for one in told(*LEG[:2], record))


def test_an_accepted_difference_tells_no_story() -> None:
    rows = [found("nordic_ecc_force"), {**found("sl_bridge_reps"), "is_accepted": True}]
    assert told(*rows) == ()
