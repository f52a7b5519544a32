"""Literal rows in, literal rows out; expected numbers stand as the arithmetic they come from."""

from datetime import date
from math import log
from typing import Any

import pytest

from tests.raw import warehouse

DAY = date(2026, 9, 1)


def trials(
    measure: str, left: list[float], right: list[float], **more: Any
) -> list[dict[str, Any]]:
    return [
        {"measure": measure, "side": side, "trial": n, "value": value, **more}
        for side, values in (("left", left), ("right", right))
        for n, value in enumerate(values, start=1)
    ]


def test_higher_is_better_gives_a_positive_difference_where_right_is_higher() -> None:
    house = warehouse(trials=trials("single_hop", [140.0, 150.0], [160.0, 170.0]))
    row = house.fetch("mart_day_asymmetry").row(0, named=True)
    assert row["d"] == pytest.approx((log(160) + log(170)) / 2 - (log(140) + log(150)) / 2)
    assert (row["left_value"], row["right_value"]) == (145.0, 165.0)


def test_lower_is_better_is_turned_round() -> None:
    house = warehouse(trials=trials("cod_505_time", [2.50], [2.40]))
    assert house.fetch("mart_day_asymmetry")["d"][0] == pytest.approx(log(2.50 / 2.40))


def test_a_difference_measure_keeps_its_unit() -> None:
    house = warehouse(trials=trials("knee_to_wall", [9.0, 10.0], [12.0, 13.0]))
    assert house.fetch("mart_day_asymmetry")["d"][0] == pytest.approx(12.5 - 9.5)


def test_reach_is_compared_in_centimetres_of_each_stance_side() -> None:
    rows = [
        {"measure": "reach_anterior", "side": "left", "value": 60.0, "factor": 0.90},
        {"measure": "reach_anterior", "side": "right", "value": 65.0, "factor": 0.92},
    ]
    house = warehouse(trials=rows)
    assert house.fetch("mart_day_asymmetry")["d"][0] == pytest.approx(65 * 0.92 - 60 * 0.90)


def test_best_trials_come_from_equal_numbers_on_both_sides() -> None:
    house = warehouse(trials=trials("single_hop", [150.0, 148.0], [150.0, 149.0, 170.0]))
    row = house.fetch("mart_day_asymmetry").row(0, named=True)
    assert (row["left_best_value"], row["right_best_value"]) == (150.0, 150.0)


@pytest.mark.parametrize(
    ("left", "right", "best"),
    [
        ([150.0, 148.0], [150.0, 170.0], (150.0, 170.0)),
        # A trial without a score is none of the equal number: two count on each side, then one.
        ([0.0, 150.0, 160.0], [150.0, 149.0], (160.0, 150.0)),
        ([0.0, 150.0, 160.0, 170.0], [150.0, 149.0], (160.0, 150.0)),
        ([150.0, 0.0], [149.0, 170.0], (150.0, 149.0)),
    ],
)
def test_trials_without_a_score_are_not_counted_for_the_best(
    left: list[float], right: list[float], best: tuple[float, float]
) -> None:
    house = warehouse(trials=trials("single_hop", left, right))
    row = house.fetch("mart_day_asymmetry").row(0, named=True)
    assert (row["left_best_value"], row["right_best_value"]) == best


def test_a_zero_has_no_logarithm_and_counts_as_untested() -> None:
    house = warehouse(trials=trials("calf_raise_reps", [0.0], [20.0]))
    assert house.fetch("mart_day_asymmetry").is_empty()


def test_a_held_row_stays_out_of_every_mart() -> None:
    house = warehouse(trials=trials("single_hop", [100.0], [150.0], held=True))
    assert house.fetch("stg_trials").height == 2
    assert house.fetch("mart_side_values").is_empty()


def test_hamstring_to_quadriceps_ratio_meets_attempt_by_attempt() -> None:
    house = warehouse(
        trials=[
            *trials("isok_knee_flexion_60", [100.0, 90.0], [120.0]),
            *trials("isok_knee_extension_60", [200.0, 200.0], [200.0, 210.0]),
        ]
    )
    ratios = house.fetch("stg_trials").filter(measure="hq_ratio_con_60").sort("side", "trial")
    assert ratios["value"].to_list() == pytest.approx([100 / 200, 90 / 200, 120 / 200])
    assert ratios["source_file"].unique().to_list() == ["made_up.csv"]


def test_composite_reach_is_the_mean_of_the_three_directions_in_percent_of_limb_length() -> None:
    rows = [
        {"measure": f"reach_{direction}", "side": side, "value": value, "factor": 0.9}
        for side, values in (("left", (60.0, 100.0, 98.0)), ("right", (63.0, 105.0, 99.0)))
        for direction, value in zip(
            ("anterior", "posteromedial", "posterolateral"), values, strict=True
        )
    ]
    house = warehouse(trials=rows)
    composite = house.fetch("mart_side_values").filter(measure="reach_composite").sort("side")
    expected = [(60 + 100 + 98) / 3, (63 + 105 + 99) / 3]
    assert composite["mean_value"].to_list() == pytest.approx(expected)


def test_change_of_direction_deficit_takes_the_sprint_of_the_day_from_each_turn() -> None:
    rows = [
        *trials("cod_505_time", [2.45, 2.47], [2.40]),
        {"measure": "sprint_10m_time", "side": "both", "value": 1.88},
        {"measure": "sprint_10m_time", "side": "both", "trial": 2, "value": 1.92},
    ]
    house = warehouse(trials=rows)
    found = house.fetch("stg_trials").filter(measure="cod_deficit_505").sort("side", "trial")
    assert found["value"].to_list() == pytest.approx([2.45 - 1.90, 2.47 - 1.90, 2.40 - 1.90])


def test_a_measure_given_on_a_day_is_not_computed_again_from_its_parts() -> None:
    rows = [
        *trials("hip_ir_rom", [30.0], [40.0]),
        *trials("hip_er_rom", [35.0], [40.0]),
        *trials("hip_total_rotation", [70.0], [75.0]),
    ]
    found = warehouse(trials=rows).fetch("stg_trials").filter(measure="hip_total_rotation")
    assert sorted(found["value"].to_list()) == [70.0, 75.0]


def test_parts_that_give_an_impossible_whole_are_held_out() -> None:
    rows = [
        *trials("cod_505_time", [2.45], [2.40]),
        {"measure": "sprint_10m_time", "side": "both", "value": 2.60},
    ]
    found = warehouse(trials=rows).fetch("stg_trials").filter(measure="cod_deficit_505")
    assert found["held"].to_list() == [True, True]


def test_scores_of_a_side_vary_about_their_own_mean() -> None:
    house = warehouse(trials=trials("single_hop", [100.0, 110.0, 120.0], [130.0, 140.0]))
    left, right = [log(100), log(110), log(120)], [log(130), log(140)]

    def squares(values: list[float]) -> float:
        mean = sum(values) / len(values)
        return sum((value - mean) ** 2 for value in values)

    found = house.fetch("mart_side_values").sort("side")["score_variance"].to_list()
    assert found == pytest.approx([squares(left) / 2, squares(right) / 1])


def test_coverage_names_whoever_never_did_a_measure_of_the_squad() -> None:
    house = warehouse(
        roster=[{"athlete_id": "A1"}, {"athlete_id": "A2"}],
        trials=trials("single_hop", [100.0], [110.0]),
    )
    rows = house.fetch("mart_test_coverage").sort("athlete_id")
    assert rows.select("athlete_id", "last_tested_on").rows() == [("A1", DAY), ("A2", None)]


def test_pain_and_known_differences_are_scored_but_shape_nothing() -> None:
    house = warehouse(
        roster=[{"athlete_id": "A1"}, {"athlete_id": "A2", "known_difference": "leg length"}],
        trials=[
            *trials("single_hop", [100.0], [110.0], pain=2.0),
            *trials("single_hop", [100.0], [110.0], athlete_id="A2"),
        ],
    )
    assert house.fetch("stg_trials")["shapes"].to_list() == [False] * 4
