"""What comes onto the agenda, in which order, and what leaves it."""

from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest
from scipy import stats

from pipeline.plan.blocks import blocks
from pipeline.report.reference.pages import AgendaItem
from pipeline.report.reference.reference import squad_reference
from pipeline.review.week import Week
from pipeline.settings import ReportSettings, Settings
from tests.raw import of_kind, trials_of, week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back) for back in (5, 4, 3, 2, 1, 0)]


def squad(measure: str = "single_hop", days: list[date] | None = None) -> list[dict[str, Any]]:
    """Eleven even athletes, so that a squad is there to compare with."""
    return [
        row
        for n in range(2, 13)
        for row in trials_of(
            measure, days or DAYS, 150 + n, 150 + n + (-1) ** n, athlete_id=f"A{n}"
        )
    ]


def items(known: Week) -> list[AgendaItem]:
    """The points of the agenda as the pack has them."""
    name = known.athletes["squad"][0]
    sections = squad_reference(name, blocks(known), known).sections
    return [item for section in sections for item in section.items]


def girths_of(trials: list[dict[str, Any]]) -> list[tuple[Any, ...]]:
    known = week(AS_OF, trials=trials)
    assert set(known.flags.filter(reason="refer")["kind"]) <= {"girth"}
    columns = "reason", "change", "lower_side", pl.col("change_cm").round(1)
    return of_kind(known, "girth").select(columns).rows()


def reasons(of: str, **rows: Any) -> list[str]:
    flags = week(AS_OF, **rows).flags
    return flags.filter(athlete_id=of)["reason"].to_list()


def test_a_large_difference_on_many_days_is_confirmed_with_its_lower_side() -> None:
    flags = week(AS_OF, trials=squad() + trials_of("single_hop", DAYS, 120, 160)).flags
    row = flags.filter(athlete_id="A1").row(0, named=True)
    assert (row["reason"], row["lower_side"], row["measure"]) == ("confirmed", "left", "single_hop")
    assert row["flag_id"] == "A1.single_hop.difference"
    assert row["low90"] < row["estimate"] < row["high90"]


def test_the_flag_began_on_the_first_day_of_the_unbroken_run() -> None:
    even = trials_of("single_hop", DAYS[:2], 150, 150)
    apart = trials_of("single_hop", DAYS[2:], 105, 160)
    flags = week(AS_OF, trials=squad() + even + apart).flags.filter(athlete_id="A1")
    # A side that lost so much goes to medical staff as well, with a day of its own.
    assert flags["reason"][0] == "refer"
    row = flags.filter(pl.col("flag_id") == "A1.single_hop.difference").row(0, named=True)
    assert DAYS[2] <= row["first_flagged_on"] <= DAYS[3]
    assert row["weeks_open"] == (AS_OF - row["first_flagged_on"]).days // 7


def test_even_sides_raise_no_flag() -> None:
    assert week(AS_OF, trials=squad() + trials_of("single_hop", DAYS, 150, 151)).flags.is_empty()


def test_one_day_alone_is_never_confirmed() -> None:
    house = week(AS_OF, trials=squad() + trials_of("single_hop", DAYS[-1:], 110, 160))
    assert house.findings.filter(athlete_id="A1")["verdict"].to_list() == ["one_session"]
    assert house.flags.filter(athlete_id="A1")["reason"].to_list() == ["retest"]


@pytest.mark.parametrize(("pain", "expected"), [(5.0, ["refer"]), (4.0, ["refer"]), (3.0, [])])
def test_pain_from_four_of_ten_goes_to_medical_staff_first(
    pain: float, expected: list[str]
) -> None:
    painful = trials_of("single_hop", DAYS[-1:], 150, 150, pain=pain)
    assert reasons("A1", trials=squad() + painful) == expected


@pytest.mark.parametrize(
    ("born_on", "pain", "expected"),
    [
        (date(2010, 1, 1), 3.0, ["refer"]),
        (date(2010, 1, 1), 2.0, []),
        (date(2008, 11, 21), 3.0, ["refer"]),  # eighteen tomorrow
        (date(2008, 11, 20), 3.0, []),
        (date(1990, 1, 1), 3.0, []),
    ],
)
def test_under_eighteen_pain_from_three_of_ten_goes_to_medical_staff(
    born_on: date, pain: float, expected: list[str]
) -> None:
    """The number is common practice."""
    painful = trials_of("single_hop", [AS_OF], 150, 150, pain=pain)
    roster = [{"athlete_id": "A1", "birth_date": born_on}]
    roster += [{"athlete_id": f"A{n}"} for n in range(2, 13)]
    trials = [*squad(), *painful]
    assert reasons("A1", trials=trials, roster=roster) == expected
    known = week(AS_OF, trials=trials, roster=roster)
    assert all("under 18: from 3 of 10" in item.detail for item in items(known))


@pytest.mark.parametrize(
    ("left", "right", "expected"),
    [
        (35.4, 38.0, [("refer", "loss", "left", 2.6)]),
        (36.2, 38.0, []),  # less than the two centimetres of common practice
        (35.4, 35.3, []),  # both: leaner, or measured elsewhere
    ],
)
def test_a_girth_that_fell_on_one_side_goes_to_medical_staff(
    left: float, right: float, expected: list[tuple[str, str, str, float]]
) -> None:
    trials = trials_of("calf_girth", DAYS[:-1], 38, 38)
    trials += trials_of("calf_girth", DAYS[-1:], left, right)
    assert girths_of(trials) == expected


def test_a_girth_that_stays_low_is_listed_since_it_fell() -> None:
    trials = trials_of("calf_girth", DAYS[:-2], 38, 38)
    trials += trials_of("calf_girth", DAYS[-2:], 35.4, 38.0)
    flag = of_kind(week(AS_OF, trials=trials), "girth").row(0, named=True)
    assert (flag["tested_on"], flag["first_flagged_on"]) == (DAYS[-1], DAYS[-2])


@pytest.mark.parametrize(
    ("right", "note", "expected"),
    [
        (39.7, "tight since Sunday", [("refer", "gain", "right", 1.7)]),
        (39.7, None, []),
        (39.3, "tight since Sunday", []),
    ],
)
def test_a_calf_that_grew_since_the_last_time_with_a_note_goes_to_medical_staff(
    right: float, note: str | None, expected: list[tuple[str, str, str, float]]
) -> None:
    before = trials_of("calf_girth", DAYS[:-1], 38, 38)
    assert girths_of(before + trials_of("calf_girth", [AS_OF], 38, right, note=note)) == expected
    other_part = trials_of("thigh_girth", DAYS[:-1], 56, 56)
    grown = trials_of("thigh_girth", [AS_OF], 56, 57.7, note=note)
    assert girths_of(other_part + grown) == []
    both = trials_of("calf_girth", [AS_OF], right + 0.1, right, note=note)
    assert girths_of(before + both) == []


def test_the_most_urgent_sign_comes_first_and_says_how_soon() -> None:
    sets = [
        {"trained_on": AS_OF, "athlete_id": "A1", "side": "left", "note": "slight pain at night"},
        {"trained_on": AS_OF, "athlete_id": "A2", "side": "left", "note": "numb toes"},
        {"trained_on": AS_OF, "athlete_id": "A3", "side": "left", "note": "fainted after"},
        {"trained_on": AS_OF, "athlete_id": "A4", "side": "left", "note": "felt a pop"},
    ]
    said = items(week(AS_OF, sets=sets))
    assert [(item.flag_id[:2], item.suggestion.partition(".")[0]) for item in said] == [
        ("A3", "Medical staff at once, if they do not know yet"),
        ("A4", "Medical staff the same day, if they do not know yet"),
        ("A2", "Medical staff within two days"),
        ("A1", "Medical staff this week"),
    ]


def test_pain_of_long_ago_does_not_ask_again() -> None:
    long_ago = [AS_OF - timedelta(days=60)]
    painful = trials_of("single_hop", long_ago, 150, 150, pain=6.0)
    assert reasons("A1", trials=squad() + painful) == ["overdue"]


def test_pain_in_training_counts() -> None:
    sets = [{"trained_on": AS_OF, "side": "left", "pain": 5.0, "load_kg": 20.0}]
    flags = of_kind(week(AS_OF, sets=sets), "pain")
    assert flags.select("reason", "exercise", "pain_level").rows() == [("refer", "split_squat", 5)]


def test_a_sudden_loss_on_one_side_goes_first_whatever_the_ratio_says() -> None:
    before = trials_of("isok_knee_extension_60", DAYS[:-1], 150, 150)
    after = trials_of("isok_knee_extension_60", DAYS[-1:], 100, 150)
    known = week(AS_OF, trials=squad("isok_knee_extension_60") + before + after)
    assert known.flags.filter(athlete_id="A1")["reason"][0] == "refer"
    (fall,) = of_kind(known, "fall").filter(athlete_id="A1").iter_rows(named=True)
    assert (fall["fall"], fall["lower_side"]) == ("loss", "left")
    assert fall["lost_percent"] == pytest.approx(100 * (1 - 100 / 150), abs=3)


def test_pain_beside_a_loss_is_one_point_that_says_both() -> None:
    before = trials_of("single_hop", DAYS[:-1], 150, 150)
    after = trials_of("single_hop", DAYS[-1:], 95, 150, pain=6.0)
    known = week(AS_OF, trials=squad() + before + after)
    assert known.flags.filter(athlete_id="A1", reason="refer")["kind"].to_list() == ["fall"]
    (sentence,) = (one.sentence for one in items(known) if one.flag_id == "A1.single_hop.refer")
    assert "below its own last weeks" in sentence and "Pain 6 of 10" in sentence


def test_a_side_at_zero_is_told_though_no_percentage_can_be() -> None:
    days = [AS_OF - timedelta(days=7), AS_OF]
    zero = trials_of("calf_raise_reps", days, 0, 12)
    known = week(AS_OF, trials=squad("calf_raise_reps") + zero)
    assert known.findings.filter(athlete_id="A1").is_empty()
    row = known.flags.filter(athlete_id="A1").row(0, named=True)
    told = {"reason": "retest", "kind": "zero", "lower_side": "left", "first_flagged_on": days[0]}
    assert {name: row[name] for name in told} == told
    assert of_kind(known, "zero")["other_value"].to_list() == [pytest.approx(12)]


def test_zeros_on_both_sides_or_before_the_latest_day_are_no_flag() -> None:
    both = trials_of("calf_raise_reps", [AS_OF], 0, 0)
    assert reasons("A1", trials=squad("calf_raise_reps") + both) == []
    gone = trials_of("calf_raise_reps", [AS_OF - timedelta(days=7)], 0, 12)
    since = trials_of("calf_raise_reps", [AS_OF], 12, 12)
    assert "zero" not in week(AS_OF, trials=squad("calf_raise_reps") + gone + since).flags["kind"]


def test_p_of_the_latest_session_is_adjusted_over_the_findings_of_the_squad() -> None:
    """Against scipy.stats.false_discovery_control, Benjamini & Hochberg's method."""
    trials = squad() + trials_of("single_hop", DAYS, 120, 160)
    known = week(AS_OF, trials=trials).findings
    expected = stats.false_discovery_control(known["p_value"].to_numpy(), method="bh")
    assert known["p_adjusted"].to_numpy() == pytest.approx(expected)
    assert known.height == 12 and known["p_adjusted"].min() < 0.01 < known["p_adjusted"].max()


def test_settings_choose_the_tests_shown_but_hide_nothing_from_medical_staff() -> None:
    painful = trials_of("single_hop", DAYS[-1:], 150, 150, pain=6.0)
    apart = trials_of("triple_hop", DAYS, 380, 500)
    trials = squad() + squad("triple_hop") + painful + apart
    settings = Settings(report=ReportSettings(measures=("grip_strength",)))
    known = week(AS_OF, settings, trials=trials)
    assert known.flags.select("measure", "reason").rows() == [("single_hop", "refer")]
    assert known.findings.is_empty()
    assert week(AS_OF, trials=trials).flags.height > 1


def test_a_note_with_a_sign_goes_to_medical_staff_and_a_denied_one_does_not() -> None:
    sets = [
        {"trained_on": AS_OF, "side": "left", "note": "numb toes after the last set"},
        {"athlete_id": "A2", "trained_on": AS_OF, "side": "left", "note": "no numbness"},
    ]
    flags = week(AS_OF, sets=sets).flags
    assert flags.select("athlete_id", "kind").rows() == [("A1", "note")]


def test_a_note_beside_a_film_checkpoint_counts() -> None:
    film = [
        {
            "filmed_on": AS_OF,
            "checkpoint": "knee over foot",
            "finding": "adjust",
            "note": "knee gave way on the last one",
        }
    ]
    assert week(AS_OF, film=film).flags.select("reason", "kind").rows() == [("refer", "note")]


def test_an_accepted_difference_leaves_the_agenda_and_a_training_decision_stays() -> None:
    trials = squad() + trials_of("single_hop", DAYS, 120, 160)
    flag_id = "A1.single_hop.difference"
    accepted = [{"flag_id": flag_id, "decision": "accept as structural"}]
    assert reasons("A1", trials=trials, decisions=accepted) == []
    train = [{"flag_id": flag_id, "decision": "train", "owner": "coach"}]
    flags = week(AS_OF, trials=trials, decisions=train).flags.filter(athlete_id="A1")
    assert flags.select("decision", "owner").rows() == [("train", "coach")]


def test_a_test_of_the_routine_that_waits_too_long_is_overdue() -> None:
    long_ago = [AS_OF - timedelta(days=63)]
    assert reasons("A1", trials=squad() + trials_of("single_hop", long_ago, 150, 150)) == [
        "overdue"
    ]


def test_whoever_is_out_is_not_chased_for_tests() -> None:
    long_ago = [AS_OF - timedelta(days=63)]
    trials = squad() + trials_of("single_hop", long_ago, 150, 150)
    roster = [{"athlete_id": "A1", "availability": "out"}]
    roster += [{"athlete_id": f"A{n}"} for n in range(2, 13)]
    assert reasons("A1", trials=trials, roster=roster) == []


def test_a_review_date_that_passed_without_a_test_is_late_and_listed_once() -> None:
    days = [AS_OF - timedelta(days=back) for back in (60, 45, 38)]
    trials = squad() + trials_of("single_hop", days, 120, 160)
    decisions = [
        {
            "flag_id": "A1.single_hop.difference",
            "decision": "retest",
            "listed_on": AS_OF - timedelta(days=21),
            "review_on": AS_OF - timedelta(days=7),
        }
    ]
    flags = week(AS_OF, trials=trials, decisions=decisions).flags.filter(athlete_id="A1")
    assert flags.select("reason", "status").rows() == [("confirmed", "late")]


def test_the_agenda_runs_from_medical_staff_to_retests() -> None:
    long_ago = [AS_OF - timedelta(days=63)]
    trials = squad() + trials_of("single_hop", DAYS, 120, 160)
    trials += trials_of("single_hop", long_ago, 150, 150, athlete_id="A20")
    trials += trials_of("single_hop", DAYS[-1:], 110, 160, athlete_id="A21")
    trials += trials_of("single_hop", DAYS[-1:], 150, 150, athlete_id="A22", pain=6.0)
    flags = week(AS_OF, trials=trials).flags
    assert flags["reason"].to_list() == ["refer", "confirmed", "overdue", "retest"]


def test_a_ratio_inside_one_limb_below_its_line_is_named_with_its_side() -> None:
    trials = [
        row
        for n in range(1, 9)
        for row in [
            *trials_of("isok_knee_flexion_60", DAYS, 100, 100, athlete_id=f"B{n}"),
            *trials_of("isok_knee_extension_60", DAYS, 170, 170, athlete_id=f"B{n}"),
        ]
    ]
    trials += trials_of("isok_knee_flexion_60", DAYS, 60, 100)
    trials += trials_of("isok_knee_extension_60", DAYS, 170, 170)
    flags = week(AS_OF, trials=trials).flags.filter(athlete_id="A1", reason="ratio")
    row = flags.row(0, named=True)
    assert (row["measure"], row["lower_side"]) == ("hq_ratio_con_60", "left")
    assert row["estimate"] == pytest.approx(60 / 170, abs=0.02)


def test_the_lower_side_with_clearly_less_work_is_named() -> None:
    sets = [
        {
            "trained_on": AS_OF - timedelta(days=back),
            "exercise": "single_arm_dumbbell_row",
            "side": side,
            "set_number": n,
            "reps": 8.0,
            "load_kg": load,
        }
        for back in (2, 6, 9, 13)
        for side, count, load in (("left", 2, 14.0), ("right", 4, 20.0))
        for n in range(count)
    ]
    row = week(AS_OF, sets=sets).flags.filter(reason="training").row(0, named=True)
    assert row["lower_side"] == "left"
    assert row["estimate"] == pytest.approx(100 * (1 - 2 / 4))


def test_several_exercises_of_one_region_are_one_point_of_the_meeting() -> None:
    sets = [
        {
            "trained_on": AS_OF - timedelta(days=back),
            "exercise": exercise,
            "side": side,
            "reps": 8.0,
            "load_kg": load,
            "rir": 2.0,
        }
        for back in (2, 6, 9, 13, 20, 27)
        for exercise in ("single_arm_dumbbell_row", "single_arm_dumbbell_press")
        for side, load in (("left", 14.0), ("right", 20.0))
    ]
    flags = week(AS_OF, sets=sets).flags
    assert flags.filter(pl.col("measure").str.starts_with("est_1rm")).height == 1


def test_an_accepted_difference_comes_back_when_it_grows_beyond_noise() -> None:
    decided = DAYS[2]
    before = trials_of("single_hop", DAYS[:3], 125, 160)
    decisions = [
        {
            "flag_id": "A1.single_hop.difference",
            "decision": "Accepted as structural",
            "listed_on": decided,
        }
    ]
    same = trials_of("single_hop", DAYS[3:], 125, 160)
    assert reasons("A1", trials=squad() + before + same, decisions=decisions) == []
    larger = trials_of("single_hop", DAYS[3:], 95, 160)
    assert reasons("A1", trials=squad() + before + larger, decisions=decisions) != []


def test_a_difference_decided_on_is_listed_since_before_a_test_that_dips_below_the_line() -> None:
    over, dip = DAYS[:2] + DAYS[4:], DAYS[2:4]
    trials = trials_of("single_hop", over, 105, 160) + trials_of("single_hop", dip, 150, 150)
    decision = {
        "flag_id": "A1.single_hop.difference",
        "decision": "train",
        "listed_on": DAYS[1] + timedelta(days=3),
    }
    first = {}
    for name, decisions in (("open", []), ("decided", [decision])):
        known = week(AS_OF, trials=squad() + trials, decisions=decisions)
        days = known.estimates.days.filter(pl.col("athlete_id") == "A1").sort("tested_on")
        raises = (days["chance_over_line"] >= 0.40).to_list()
        assert raises[0] and raises[-1] and not all(raises)
        first[name] = known.flags.filter(athlete_id="A1").row(0, named=True)["first_flagged_on"]
    assert first["decided"] == DAYS[0]
    assert first["open"] > DAYS[2]
