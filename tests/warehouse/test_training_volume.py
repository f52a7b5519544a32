"""Volume per side on weeks worked by hand; expected numbers stand as their arithmetic."""

from math import log
from typing import Any

import polars as pl
import pytest

from pipeline.catalogue import catalogue
from pipeline.warehouse import Warehouse
from pipeline.warehouse.catalogue_tables import reference_frames
from tests.raw import warehouse

HAND_WORKED: list[tuple[str, int, int, float]] = [
    ("left", 4, 8, 24),
    ("left", 3, 10, 20),
    ("right", 3, 8, 26),
    ("right", 3, 10, 22),
]


def week(plan: list[tuple[str, int, int, float]], **more: Any) -> list[dict[str, Any]]:
    """Sets of one exercise from (side, sets, repetitions, load)."""
    return [
        {"side": side, "set_number": n, "reps": float(reps), "load_kg": float(load), **more}
        for side, count, reps, load in plan
        for n in range(1, count + 1)
    ]


def work_of(house: Warehouse) -> pl.DataFrame:
    """Sets, repetitions and volume load (repetitions times load, in kg) of each side."""
    return (
        house.fetch("stg_sets")
        .group_by("side")
        .agg(
            pl.len().alias("set_count"),
            pl.col("reps").sum().alias("rep_count"),
            (pl.col("reps") * pl.col("moved_kg")).sum().alias("volume_kg"),
            pl.col("laterality", "exercise_name").first(),
        )
        .sort("side")
    )


def test_volume_load_of_a_hand_worked_week() -> None:
    weeks = work_of(warehouse(sets=week(HAND_WORKED)))
    left, right = weeks["volume_kg"].to_list()
    assert left == pytest.approx(4 * 8 * 24 + 3 * 10 * 20) == pytest.approx(1368)
    assert right == pytest.approx(3 * 8 * 26 + 3 * 10 * 22) == pytest.approx(1284)
    assert left - right == pytest.approx(84)
    assert 100 * (left - right) / (left + right) == pytest.approx(3.16742081)
    assert 100 * left / (left + right) == pytest.approx(51.58371041)
    assert weeks["set_count"].to_list() == [7, 6]
    assert weeks["rep_count"].to_list() == [4 * 8 + 3 * 10, 3 * 8 + 3 * 10]


def test_a_fourth_set_is_a_third_more_work() -> None:
    weeks = warehouse(sets=week([("left", 4, 8, 20), ("right", 3, 8, 20)]))
    left, right = work_of(weeks)["volume_kg"]
    assert left / right == pytest.approx(4 / 3)
    assert 100 * log(left / right) == pytest.approx(28.77, abs=0.005)


def test_more_sets_at_a_lower_load_can_be_less_volume_and_the_sets_say_so() -> None:
    plan = [("left", 4, 8, 14.0), ("right", 3, 8, 20.0)]
    rows = work_of(warehouse(sets=week(plan)))
    assert rows["volume_kg"].to_list() == pytest.approx([4 * 8 * 14, 3 * 8 * 20])
    assert rows["set_count"].to_list() == [4, 3]


def test_two_sided_lifts_never_enter_a_side() -> None:
    sets = [
        {"exercise": "back_squat", "side": "both", "load_kg": 100.0},
        *week([("left", 1, 8, 20)]),
    ]
    rows = work_of(warehouse(sets=sets))
    assert rows.select("side", "volume_kg").rows() == [("both", 8 * 100.0), ("left", 8 * 20.0)]


def test_alternating_sets_give_half_their_repetitions_to_each_side() -> None:
    sets = [{"exercise": "walking_lunge", "side": "both", "reps": 20.0}]
    rows = warehouse(sets=sets).fetch("stg_sets").sort("side")
    assert rows.select("side", "reps").rows() == [("left", 10.0), ("right", 10.0)]


def test_an_alternating_exercise_logged_by_side_keeps_its_repetitions() -> None:
    sets = [{"exercise": "walking_lunge", "side": side, "reps": 10.0} for side in ("left", "right")]
    rows = warehouse(sets=sets).fetch("stg_sets").sort("side")
    assert rows.select("side", "reps").rows() == [("left", 10.0), ("right", 10.0)]


def test_a_one_sided_exercise_logged_for_both_was_done_with_each() -> None:
    sets = [{"exercise": "split_squat", "side": "both", "reps": 8.0}]
    rows = warehouse(sets=sets).fetch("stg_sets").sort("side")
    assert rows.select("side", "reps").rows() == [("left", 8.0), ("right", 8.0)]


def test_a_machine_for_two_worked_with_one_leg_counts_for_that_leg() -> None:
    sets = [{"exercise": "leg_press", "side": "left", "reps": 8.0, "load_kg": 60.0}]
    row = work_of(warehouse(sets=sets)).row(0, named=True)
    assert (row["side"], row["volume_kg"]) == ("left", 8 * 60.0)


def test_body_mass_exercises_move_their_share_and_what_was_added() -> None:
    share = catalogue().exercises["single_leg_calf_raise"].body_mass_share
    sets = [
        {"exercise": "single_leg_calf_raise", "side": "left", "reps": 10.0},
        {"exercise": "single_leg_calf_raise", "side": "right", "reps": 10.0, "load_kg": 5.0},
    ]
    house = warehouse(roster=[{"athlete_id": "A1", "body_mass_kg": 70.0}], sets=sets)
    rows = work_of(house)
    assert rows["volume_kg"].to_list() == pytest.approx([10 * share * 70, 10 * (5 + share * 70)])


def test_two_sided_body_mass_lifts_move_the_share_of_both_sides() -> None:
    share = catalogue().exercises["push_up"].body_mass_share
    sets = [{"exercise": "push_up", "side": "both", "reps": 10.0}]
    house = warehouse(roster=[{"athlete_id": "A1", "body_mass_kg": 70.0}], sets=sets)
    assert work_of(house)["volume_kg"][0] == pytest.approx(10 * 2 * share * 70)


def test_an_unknown_body_mass_is_the_squads_median() -> None:
    roster: list[dict[str, Any]] = [
        {"athlete_id": "A1"},
        {"athlete_id": "A2", "body_mass_kg": 80.0},
    ]
    share = catalogue().exercises["pistol_squat"].body_mass_share
    sets = [{"exercise": "pistol_squat", "side": "left", "reps": 5.0}]
    row = work_of(warehouse(roster=roster, sets=sets)).row(0, named=True)
    assert row["volume_kg"] == pytest.approx(5 * share * 80)


def test_a_dumbbell_in_each_hand_counts_twice_in_a_two_sided_lift() -> None:
    sets = [{"exercise": "dumbbell_bench_press", "side": "both", "reps": 8.0, "load_kg": 20.0}]
    assert warehouse(sets=sets).fetch("stg_sets")["moved_kg"].to_list() == [2 * 20.0]


def test_loads_logged_for_the_pair_are_halved_where_each_side_moves_its_own() -> None:
    rows = reference_frames(catalogue(), {"logged_loads": {"dumbbells": "pair"}})["ref_exercises"]
    curl = rows.row(by_predicate=pl.col("exercise") == "alternating_dumbbell_curl", named=True)
    assert (curl["load_factor_both"], curl["load_factor_side"]) == (1.0, 0.5)


def test_an_exercise_outside_the_dictionary_counts_towards_volume() -> None:
    sets = [
        {"exercise": "sled_push", "known_exercise": False, "side": side, "load_kg": 40.0}
        for side in ("left", "both")
    ]
    rows = work_of(warehouse(sets=sets))
    assert rows.select("side", "laterality", "exercise_name").rows() == [
        ("both", "bilateral", "sled push"),
        ("left", "unilateral", "sled push"),
    ]


def test_every_movement_pattern_belongs_to_a_part_of_the_body() -> None:
    found = {(e.pattern, e.region) for e in catalogue().exercises.values()}
    assert len(found) == len({pattern for pattern, _ in found})
    assert ("plyometric", "lower") in found and ("carry", "trunk") in found
