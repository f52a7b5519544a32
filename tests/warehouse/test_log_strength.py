"""Strength from the log: only comparable sets, one value a day, no evidence from equal loads."""

from datetime import date, timedelta
from math import exp, log
from typing import Any

import pytest

from pipeline.warehouse import Warehouse
from tests.raw import warehouse

DAY = date(2026, 9, 1)


def pair(
    left: tuple[float, float], right: tuple[float, float], number: int = 1, **more: Any
) -> list[dict[str, Any]]:
    """One set a side, as (load in kg, repetitions)."""
    return [
        {"side": side, "set_number": number, "load_kg": load, "reps": reps, **more}
        for side, (load, reps) in (("left", left), ("right", right))
    ]


def values(house: Warehouse) -> dict[str, float]:
    rows = house.fetch("stg_log_strength")
    return dict(rows.select("side", "value").iter_rows())


def mean_of_both(load: float, reps: float) -> float:
    return (load * (1 + reps / 30) + load * 36 / (37 - reps)) / 2


def test_72_against_80_kg_for_six_is_ten_percent() -> None:
    house = warehouse(sets=pair((72.0, 6.0), (80.0, 6.0)))
    found = values(house)
    assert found == pytest.approx({"left": mean_of_both(72, 6), "right": mean_of_both(80, 6)})
    assert 1 - found["left"] / found["right"] == pytest.approx(0.10)


def test_repetitions_in_reserve_count_where_both_sides_say_so() -> None:
    sets = pair((72.0, 6.0), (80.0, 6.0))
    sets[0]["rir"], sets[1]["rir"] = 2.0, 3.0
    pairs = warehouse(sets=sets).fetch("stg_log_pairs")
    assert pairs.select("left_reps", "right_reps").rows() == [(8.0, 9.0)]
    sets[1]["rir"] = None
    pairs = warehouse(sets=sets).fetch("stg_log_pairs")
    assert pairs.select("left_reps", "right_reps").rows() == [(6.0, 6.0)]


@pytest.mark.parametrize(
    "sets",
    [
        pair((72.0, 6.0), (80.0, 8.0)),  # two repetitions apart
        pair((72.0, 11.0), (80.0, 11.0)),  # more than ten
        pair((72.0, 8.0), (80.0, 8.0), rir=3.0),  # more than ten with what was in reserve
        pair((72.0, 4.0), (80.0, 4.0), rir=5.0),  # far from failure
        pair((72.0, 6.0), (80.0, 6.0), pain=1.0),  # with pain
        pair((72.0, 6.0), (80.0, 6.0), exercise="side_plank"),  # a hold
        pair((72.0, 6.0), (80.0, 6.0), exercise="leg_press"),  # a two-sided lift
        pair((72.0, 6.0), (80.0, 6.0))[:1],  # one side only
        [
            {**one, "trained_on": day}
            for one, day in zip(
                pair((72.0, 6.0), (80.0, 6.0)), (DAY, DAY + timedelta(days=2)), strict=True
            )
        ],  # two sessions
    ],
)
def test_sets_that_cannot_be_compared_give_nothing(sets: list[dict[str, Any]]) -> None:
    assert warehouse(sets=sets).fetch("stg_log_pairs").is_empty()


def test_sides_numbered_one_after_the_other_still_pair_up() -> None:
    sets = [
        {"side": side, "set_number": n, "load_kg": load, "reps": 6.0}
        for n, (side, load) in enumerate(
            [("left", 72.0), ("right", 80.0), ("left", 70.0), ("right", 78.0)], start=1
        )
    ]
    pairs = warehouse(sets=sets).fetch("stg_log_pairs").sort("place")
    assert pairs.select("left_kg", "right_kg").rows() == [(72.0, 80.0), (70.0, 78.0)]


def test_a_day_is_one_value_the_mean_of_its_sets() -> None:
    sets = [*pair((72.0, 6.0), (80.0, 6.0)), *pair((70.0, 6.0), (78.0, 6.0), number=2)]
    house = warehouse(sets=sets)
    assert values(house)["left"] == pytest.approx((mean_of_both(72, 6) + mean_of_both(70, 6)) / 2)
    trials = house.fetch("stg_trials").filter(measure="est_1rm:split_squat")
    assert trials.select("trial", "is_derived", "held").unique().rows() == [(1, True, False)]


def test_the_same_load_on_both_sides_by_design_is_no_evidence() -> None:
    sets = [
        one
        for day in range(4)
        for one in pair((60.0, 8.0), (60.0, 7.0), trained_on=DAY + timedelta(days=day))
    ]
    house = warehouse(sets=sets)
    loads = house.fetch("mart_log_loads")
    assert loads.select("session_count", "equal_share", "is_by_design").rows() == [(4, 1.0, True)]
    assert house.fetch("stg_log_strength").is_empty()


def test_an_equal_day_among_unequal_ones_counts_as_what_it_is() -> None:
    sets = [
        one
        for day, right in enumerate((66.0, 67.5, 60.0))
        for one in pair((60.0, 8.0), (right, 8.0), trained_on=DAY + timedelta(days=day))
    ]
    house = warehouse(sets=sets)
    assert not house.fetch("mart_log_loads")["is_by_design"][0]
    assert house.fetch("stg_log_strength").height == 3 * 2


def test_the_log_is_no_test_that_a_squad_could_be_overdue_with() -> None:
    house = warehouse(sets=pair((72.0, 6.0), (80.0, 6.0)))
    assert house.fetch("mart_day_asymmetry").height == 1
    assert house.fetch("mart_test_coverage").is_empty()


def plateau(*loads: tuple[float, float], **more: Any) -> list[dict[str, Any]]:
    """A session a day of one set a side with these loads, left and right, eight each."""
    return [
        one
        for day, (left, right) in enumerate(loads)
        for one in pair((left, 8.0), (right, 8.0), trained_on=DAY + timedelta(days=day), **more)
    ]


def test_a_plateau_is_one_value_of_its_first_day_however_long_it_lasts() -> None:
    low, high = (15.0, 17.5), (17.5, 17.5)
    sets = plateau(low, low, low, high, high, low) + plateau(*[(20.0, 25.0)] * 9, athlete_id="A2")
    found = warehouse(sets=sets).fetch("stg_log_strength").sort("athlete_id", "tested_on", "side")
    days = [DAY + timedelta(days=day) for day in (0, 3, 5)]
    lifted = found.filter(athlete_id="A1", side="left")
    assert lifted["tested_on"].to_list() == days
    assert lifted["value"].to_list() == pytest.approx([mean_of_both(w, 8) for w in (15, 17.5, 15)])
    assert found.filter(athlete_id="A2").select("tested_on", "side").rows() == [
        (DAY, "left"), (DAY, "right"),
    ]  # fmt: skip


def test_more_sessions_of_a_plateau_change_nothing_that_was_known() -> None:
    """Not even where a repetition more was done, or a lighter set before."""
    more = plateau((15.0, 17.5))
    more += pair((15.0, 9.0), (17.5, 9.0), trained_on=DAY + timedelta(days=4))
    early = warehouse(sets=more[:2]).fetch("stg_log_strength")
    warm_up = pair((10.0, 9.0), (10.0, 9.0), 2, trained_on=DAY + timedelta(days=4))
    late = warehouse(sets=more + warm_up).fetch("stg_log_strength")
    assert late.sort("side").equals(early.sort("side"))


@pytest.mark.parametrize(
    ("left", "right", "step"),
    [
        (15.0, 17.5, 2.5),
        (15.0, 20.0, 2.5),
        (72.0, 80.0, 1.0),
        (15.0, 16.5, 0.5),
        (35 * 0.45359237, 40 * 0.45359237, 5 * 0.45359237),
        (15.9, 18.1, 5 * 0.45359237),  # the same in kilograms, as somebody writes them down
        (15.3, 17.7, 0.5),  # of no usual step: the finest
    ],
)
def test_the_next_load_is_the_coarsest_usual_step_that_both_loads_are_multiples_of(
    left: float, right: float, step: float
) -> None:
    house = warehouse(sets=pair((left, 8.0), (right, 8.0)))
    found = dict(house.fetch("stg_log_strength").select("side", "step").iter_rows())
    assert found == pytest.approx(
        {"left": log((left + step) / left), "right": log((right + step) / right)}
    )


def test_two_and_a_half_kilograms_on_fifteen_are_17_percent() -> None:
    house = warehouse(sets=pair((15.0, 8.0), (17.5, 8.0)))
    trials = house.fetch("stg_trials").sort("side")
    assert [round(100 * (exp(step) - 1)) for step in trials["step"]] == [17, 14]


def test_a_step_is_a_smaller_share_of_what_is_moved_with_the_body() -> None:
    sets = pair((10.0, 8.0), (12.5, 8.0), exercise="single_leg_squat_to_box")
    house = warehouse(sets=sets, roster=[{"athlete_id": "A1", "body_mass_kg": 80.0}])
    moved = house.fetch("stg_log_pairs").row(0, named=True)
    assert moved["left_kg"] > 50
    assert moved["right_kg"] - moved["left_kg"] == pytest.approx(2.5)
    assert moved["left_step"] == pytest.approx(log(1 + 2.5 / moved["left_kg"]))
