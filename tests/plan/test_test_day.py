"""Who is tested next, in what, why, and which side first."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.catalogue import full_catalogue
from pipeline.plan.block import Block, _on_days_of_work
from pipeline.plan.blocks import blocks, on_their_days
from pipeline.plan.case import Choice
from pipeline.plan.due_tests import Due, NextTests, next_tests
from pipeline.plan.rows import next_test_rows
from schemas.catalogue_words import Effort
from schemas.plan_words import Plan
from tests.raw import trials_of, week
from tests.review.situations import AS_OF, CLEAR, DAYS, decided, roster, squad

A1 = "A1"
LATER = AS_OF + timedelta(weeks=3)  # nothing new having been tested
# Numbers of the stations as coaches do them: Haff & Triplett (eds) 2016, Essentials of Strength
# Training and Conditioning, 4th ed. (order of tests; from memory), and common practice.
BEFORE = [
    ("thigh_girth", "knee_to_wall"), ("knee_to_wall", "reach_anterior"),
    ("reach_anterior", "sl_cmj_height"), ("sl_cmj_height", "sl_dj_rsi"),
    ("sl_dj_rsi", "single_hop"), ("single_hop", "cod_505_time"), ("cod_505_time", "grip_strength"),
    ("grip_strength", "isok_knee_extension_60"), ("isok_knee_extension_60", "nordic_ecc_force"),
    ("sl_squat_rm", "nordic_ecc_force"), ("nordic_ecc_force", "calf_raise_reps"),
    ("imtp_limb_peak_force", "side_hop_30s"),
]  # fmt: skip


def day_of(on: date = AS_OF, **rows: Any) -> NextTests:
    known = week(on, **rows)
    return next_tests(known, blocks(known))["Squad"]


def of(day: NextTests, who: str = A1) -> list[Due]:
    return [one for one in day.due if one.athlete_id == who]


@pytest.mark.parametrize(
    ("day", "after", "said"),
    [
        (date(2026, 12, 25), date(2026, 12, 18), date(2026, 12, 24)),
        (date(2026, 12, 26), date(2026, 12, 18), date(2026, 12, 27)),
        (date(2027, 1, 1), date(2026, 11, 20), date(2027, 1, 2)),
        (date(2026, 12, 25), date(2026, 12, 24), date(2026, 12, 27)),  # never on or before it
        (date(2026, 12, 24), date(2026, 12, 18), date(2026, 12, 24)),
    ],
)
def test_no_test_falls_on_a_day_when_all_are_off(day: date, after: date, said: date) -> None:
    assert full_catalogue().test_day.near(day, after) == said  # common practice


def test_a_squad_that_tests_on_fridays_tests_before_christmas_day() -> None:
    known = week(date(2026, 12, 18), trials=CLEAR)
    assert next_tests(known, blocks(known))["Squad"].day == date(2026, 12, 24)


def test_the_test_after_a_block_is_on_an_own_day_that_is_free() -> None:
    book, choice = full_catalogue(), Choice(Plan.STOP, measure="single_hop")
    named = replace(choice, plan=Plan.RETEST, until=date(2027, 1, 1))
    own = (date(2027, 1, 1), date(2027, 1, 5))

    def on(choice: Choice, days: tuple[date, ...] = ()) -> date | None:
        block = Block("A1", choice, 6, retest_on=date(2027, 1, 1), test_days=days)
        return _on_days_of_work(block, book, AS_OF).retest_on

    assert on(choice) == date(2027, 1, 2)
    assert on(choice, own) == date(2027, 1, 5)
    assert on(named) == date(2027, 1, 1)  # the meeting’s own word


@pytest.mark.parametrize(("earlier", "later"), BEFORE)
def test_what_needs_rest_comes_before_what_tires(earlier: str, later: str) -> None:
    order = full_catalogue().test_day.order
    assert order[earlier] < order[later]


def test_the_stations_say_all_a_tester_needs() -> None:
    rules = full_catalogue().test_day
    for one in rules.stations:
        assert one.before and one.source and one.an_hour > 0 and one.practice >= 0
    efforts = [list(Effort).index(one.effort) for one in rules.stations]
    assert efforts == sorted(efforts)  # from calm to all there is


def test_who_is_on_the_list_is_tested_next() -> None:
    day = day_of(LATER, trials=CLEAR)
    assert [(one.measure, one.because) for one in of(day)] == [("single_hop", "list")]


def test_what_is_settled_and_has_a_plan_is_not_tested_again_at_once() -> None:
    """The card names the day of its test; one more within two weeks tells little."""
    known = week(AS_OF, trials=CLEAR)
    plans = blocks(known)
    assert (plans[A1].plan, plans[A1].measure) == ("train", "single_hop")
    day = next_tests(known, plans)["Squad"]
    assert of(day) == [] and plans[A1].retest_on is not None and plans[A1].retest_on > day.day
    wait = {"flag_id": "A1.single_hop.difference", "decision": "wait", "listed_on": AS_OF,
            "review_on": AS_OF + timedelta(days=5)}  # fmt: skip
    assert [one.because for one in of(day_of(trials=CLEAR, decisions=[wait]))] == ["list"]


def test_days_on_one_weekday_are_kept_and_none_means_a_week_on() -> None:
    assert day_of(trials=CLEAR).day == AS_OF + timedelta(days=7)  # fortnightly, on this weekday
    tuesdays = [date(2026, 11, 3), date(2026, 11, 10), date(2026, 11, 17)]
    squad_days = [
        row for who in ("A1", "B1", "B2", "B3")
        for row in trials_of("single_hop", tuesdays, 150, 150, athlete_id=who)
    ]  # fmt: skip
    late = trials_of("single_hop", [AS_OF], 150, 150, athlete_id="B1")
    day = day_of(trials=[*squad_days, *late])
    assert (AS_OF.weekday(), day.day) == (4, date(2026, 11, 24))  # one who catches up on a Friday
    assert day_of(trials=trials_of("single_hop", [AS_OF], 150, 150)).day == AS_OF + timedelta(7)


def test_a_decided_retest_comes_before_all_else() -> None:
    file = "decisions_2026-11-20.xlsx"
    row = {"flag_id": "A1.single_hop.difference", "decision": "retest", "source_file": file}
    day = day_of(trials=CLEAR, decisions=[row])
    assert [(one.measure, one.because) for one in of(day)] == [("single_hop", "retest")]


def test_a_running_block_is_tested_when_it_ends() -> None:
    assert of(day_of(trials=CLEAR, decisions=decided(1))) == []
    [due] = of(day_of(trials=CLEAR, decisions=decided(6)))
    assert (due.measure, due.because) == ("single_hop", "running")


def test_a_block_past_its_day_is_tested_again_only_where_no_test_came_since() -> None:
    late = decided(9)  # of eight weeks at most
    assert of(day_of(trials=CLEAR, decisions=late)) == []
    before = [row for row in CLEAR if row["tested_on"] < AS_OF - timedelta(days=20)]
    [due] = of(day_of(trials=[*before, *squad()], decisions=late))
    assert (due.measure, due.because) == ("single_hop", "running")


def test_what_has_one_day_gets_a_second() -> None:
    day = day_of(trials=[*squad(), *trials_of("single_hop", [AS_OF], 150, 150)])
    assert [(one.measure, one.because) for one in of(day)] == [("single_hop", "one_day")]


def test_a_newcomer_does_what_the_squad_does_but_nothing_at_its_most() -> None:
    hops = squad()
    lifts = squad("sl_squat_rm", 60)
    day = day_of(trials=[*hops, *lifts], roster=roster())
    assert [(one.measure, one.because) for one in of(day)] == [("single_hop", "untested")]


def test_nobody_who_waits_for_medical_staff_is_tested() -> None:
    hurt = [{**row, "pain": 6.0} for row in CLEAR if row.get("athlete_id", A1) == A1]
    assert of(day_of(trials=[*squad(), *hurt])) == []
    assert of(day_of(trials=CLEAR, roster=roster(availability="out"))) == []


def test_pain_of_three_leaves_what_is_calm() -> None:
    both = [
        *CLEAR, *squad("knee_to_wall", 9, 0.2), *trials_of("knee_to_wall", DAYS, 5, 12),
    ]  # fmt: skip
    assert {one.measure for one in of(day_of(LATER, trials=both))} == {"single_hop", "knee_to_wall"}
    sore = {"measure": "knee_to_wall", "tested_on": LATER, "value": 5.0, "pain": 3.0, "trial": 4}
    assert {one.measure for one in of(day_of(LATER, trials=[*both, sore]))} == {"knee_to_wall"}


def test_one_repetition_is_for_adults() -> None:
    lifts = [*squad("sl_squat_rm", 60), *trials_of("sl_squat_rm", DAYS, 40, 70)]
    grown, young = date(2000, 1, 1), date(2010, 1, 1)
    assert of(day_of(LATER, trials=lifts, roster=roster(birth_date=grown)))
    assert of(day_of(LATER, trials=lifts, roster=roster(birth_date=young))) == []


def test_a_lowering_with_all_there_is_needs_it_in_the_log() -> None:
    force = [*squad("nordic_ecc_force", 300), *trials_of("nordic_ecc_force", DAYS, 200, 330)]
    assert of(day_of(LATER, trials=force, roster=roster())) == []
    done = [{"exercise": "nordic_lowering", "side": "both", "trained_on": LATER, "set_number": 1}]
    assert of(day_of(LATER, trials=force, sets=done, roster=roster()))


def test_nobody_does_more_than_three_tests_a_day_and_one_of_leg_strength() -> None:
    many = ["single_hop", "triple_hop", "knee_to_wall", "sl_cmj_height", "imtp_single_peak_force",
            "iso_knee_extension_torque"]  # fmt: skip
    levels = {"knee_to_wall": 9, "sl_cmj_height": 20, "iso_knee_extension_torque": 2.5}
    rows = [
        row
        for name in many
        for row in trials_of(name, [AS_OF], levels.get(name, 200), levels.get(name, 200))
    ]
    mine = of(day_of(trials=rows))
    assert [sum(one.is_second == second for one in mine) for second in (False, True)] == [3, 1]
    strong = ["imtp_single_peak_force", "iso_knee_extension_torque"]
    legs = of(day_of(trials=[row for row in rows if row["measure"] in strong]))
    assert len(legs) == 1


def test_a_computed_test_is_measured_by_its_parts() -> None:
    parts = ["reach_anterior", "reach_posteromedial", "reach_posterolateral"]
    rows = [row for name in parts for row in trials_of(name, [AS_OF], 70, 70)]
    assert [one.measure for one in of(day_of(trials=rows))] == parts


def test_first_sides_alternate_by_athlete_and_change_with_each_day() -> None:
    first = {one.athlete_id: one.first_side for one in day_of(trials=[
        row for n in range(4) for row in trials_of("single_hop", [AS_OF], 150, 150,
                                                   athlete_id=f"C{n}")]).due}  # fmt: skip
    again = {one.athlete_id: one.first_side for one in day_of(LATER, trials=[
        row for n in range(4) for row in trials_of("single_hop", [DAYS[4], AS_OF], 120, 160,
                                                   athlete_id=f"C{n}")]).due}  # fmt: skip
    assert list(first.values()) in (["left", "right"] * 2, ["right", "left"] * 2)
    assert set(again) <= set(first) and again
    assert all(again[who] != first[who] for who in again)


# Girths, range, reach, jumps, hops and turns share the first day; grip, strength and repetitions to
# fatigue follow 48 hours later (common practice).
FIRST_DAY = ["thigh_girth", "knee_to_wall", "reach_anterior", "sl_stance_eyes_closed",
             "sl_cmj_height", "single_hop", "cod_505_time"]  # fmt: skip
SECOND_DAY = ["grip_strength", "hip_adduction_torque", "iso_knee_extension_torque",
              "imtp_limb_peak_force", "isok_knee_extension_60", "sl_squat_rm", "nordic_ecc_force",
              "calf_raise_reps"]  # fmt: skip


def test_which_tests_share_a_day() -> None:
    stations = full_catalogue().test_day.station_of
    assert not any(stations[name].second_day for name in FIRST_DAY)
    assert all(stations[name].second_day for name in SECOND_DAY)
    kinds = [one.second_day for one in full_catalogue().test_day.stations]
    assert kinds == sorted(kinds)  # the first day stands first on the sheet


def test_who_is_due_in_both_kinds_has_two_days_and_so_has_the_squad() -> None:
    both = [
        *trials_of("single_hop", [AS_OF], 150, 150),
        *trials_of("grip_strength", [AS_OF], 45, 45),
    ]
    others = ["B2", "B3", "B4", "B5"]  # due in strength alone
    strong = [
        row for who in others for row in trials_of("grip_strength", [AS_OF], 45, 45, athlete_id=who)
    ]
    day = day_of(trials=[*both, *strong])
    assert day.second_day == day.day + timedelta(days=2)  # 48 hours
    planned = {(one.athlete_id, one.measure): day.day_of(one) for one in day.due}
    assert planned == {
        (A1, "single_hop"): day.day, (A1, "grip_strength"): day.second_day,
        **{(who, "grip_strength"): day.second_day for who in others},
    }  # fmt: skip


def test_the_second_day_is_one_on_which_the_squad_trains() -> None:
    both = [
        *trials_of("single_hop", [AS_OF], 150, 150),
        *trials_of("grip_strength", [AS_OF], 45, 45),
    ]
    mondays = [AS_OF - timedelta(days=4 + 7 * back) for back in range(3)]
    sets = [
        {"exercise": "back_squat", "side": "both", "trained_on": day, "set_number": 1}
        for day in mondays
    ]
    day = day_of(trials=both, sets=sets)
    assert (day.day.weekday(), day.second_day) == (4, day.day + timedelta(days=3))
    once = day_of(trials=both, sets=sets[:1])
    assert once.second_day == once.day + timedelta(days=2)


def test_what_was_never_done_opens_no_second_day() -> None:
    once = trials_of("single_hop", [AS_OF], 150, 150)
    day = day_of(trials=[*squad("grip_strength", 45), *once], roster=roster())
    assert {one.measure for one in of(day)} == {"single_hop"} and day.second_day is None


@pytest.mark.parametrize("name", ["single_hop", "grip_strength"])
def test_one_kind_of_test_needs_one_day(name: str) -> None:
    day = day_of(trials=trials_of(name, [AS_OF], 50, 50))
    assert day.due and day.second_day is None
    assert {day.day_of(one) for one in day.due} == {day.day}


def test_the_card_of_a_retest_names_the_day_of_its_sheet() -> None:
    once = [
        *trials_of("grip_strength", [AS_OF], 30, 50),
        *trials_of("knee_to_wall", [AS_OF], 10, 10),
    ]
    known = week(AS_OF, trials=once)
    plans = blocks(known)
    tests = next_test_rows(known, plans, {})
    (day,) = tests.filter(pl.col("measure") == "grip_strength")["tested_on"]
    assert plans[A1].measure == "grip_strength"
    assert plans[A1].retest_on == day - timedelta(days=2)
    assert on_their_days(plans, tests)[A1].retest_on == day
    assert on_their_days(plans, None) == plans


@pytest.mark.parametrize(("days_before", "is_tested"), [(10, True), (3, False)])
def test_a_test_in_the_last_week_of_a_block_is_its_test(days_before: int, is_tested: bool) -> None:
    """Its block ended yesterday: an earlier test does not tell what came of it."""
    ended = AS_OF - timedelta(days=1)
    began, last = ended - timedelta(weeks=6), ended - timedelta(days=days_before)
    trials = [
        *squad(),
        *trials_of("single_hop", [began - timedelta(days=7), began, last], 110, 160),
    ]
    train = {"flag_id": "A1.single_hop.difference", "decision": "train", "listed_on": began,
             "review_on": ended}  # fmt: skip
    asked = [one.because for one in of(day_of(trials=trials, decisions=[train]))]
    assert asked == (["running"] if is_tested else [])
