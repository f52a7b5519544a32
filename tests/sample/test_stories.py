"""Each story is in the numbers themselves, strongly enough that a sound estimate must see it."""

from collections import Counter, defaultdict
from datetime import timedelta

from pipeline.catalogue import catalogue
from tests.sample.scenario import LAST_DAY, people, person, read, rounds, stories
from tests.sample.training import Set, sets_of
from tests.sample.trials import Trial, trials_of


def trials(athlete: str, measure: str) -> list[Trial]:
    sheets = {block.sheet for block in rounds() if measure in block.measures}
    return [
        t
        for s in sorted(sheets)
        for t in trials_of(s)
        if (t.athlete, t.measure) == (athlete, measure)
    ]


def mean(athlete: str, measure: str, week: int, side: str) -> float:
    found = [t.value for t in trials(athlete, measure) if (t.week, t.side) == (week, side)]
    return sum(found) / len(found)


def lead_pct(athlete: str, measure: str, week: int) -> float:
    """Percent of the better side, positive where the right side performs better."""
    left, right = (mean(athlete, measure, week, side) for side in ("left", "right"))
    return 100 * (right - left) / max(left, right)


def weeks(athlete: str, measure: str) -> list[int]:
    return sorted({t.week for t in trials(athlete, measure)})


def average(values: list[float]) -> float:
    return sum(values) / len(values)


def sets(athlete: str, *exercises: str) -> list[Set]:
    return [
        s
        for s in sets_of(athlete[:2])
        if s.athlete == athlete and (not exercises or s.exercise in exercises)
    ]


def sets_a_day(athlete: str, exercise: str, side: str, first: int, last: int) -> float:
    monday = LAST_DAY - timedelta(days=LAST_DAY.weekday() + 7 * 15)
    days = Counter(
        s.trained_on
        for s in sets(athlete, exercise)
        if s.side == side and first <= (s.trained_on - monday).days // 7 + 1 <= last
    )
    return sum(days.values()) / len(days)


def test_the_closing_hop_is_far_over_the_line_until_the_decision_and_nearer_after_it():
    line = catalogue().measures["single_hop"].review
    before = average([lead_pct("HB-04", "single_hop", w) for w in (2, 4, 6, 8)])
    assert before > line + 6
    assert average([lead_pct("HB-04", "single_hop", w) for w in (14, 16)]) < before - 5


def test_the_closing_hop_got_an_extra_set_on_the_lower_side_after_the_decision():
    for exercise in ("rear_foot_elevated_split_squat", "single_leg_hop_to_box"):
        assert sets_a_day("HB-04", exercise, "left", 1, 8) == 2
        assert sets_a_day("HB-04", exercise, "left", 9, 16) == 3
        assert sets_a_day("HB-04", exercise, "right", 9, 16) == 2
    decided = {d["flag_id"]: d["decision"] for d in read("meetings")["decisions"]}
    assert decided["HB-04.single_hop.difference"] == "train"


def test_the_widening_jump_starts_even_and_ends_far_over_the_line():
    line = catalogue().measures["sl_cmj_height"].review
    assert abs(average([lead_pct("VB-07", "sl_cmj_height", w) for w in (2, 4)])) < 8
    assert lead_pct("VB-07", "sl_cmj_height", 16) < -(line + 5)
    lost = mean("VB-07", "sl_cmj_height", 16, "right") / mean("VB-07", "sl_cmj_height", 10, "right")
    assert lost > 0.80  # it widens slowly: no sudden loss


def test_the_noisy_jump_is_over_ten_percent_by_best_trials_and_even_by_all():
    last = [t for t in trials("HB-09", "sl_cmj_height") if t.week == 16]
    best = {side: max(t.value for t in last if t.side == side) for side in ("left", "right")}
    assert 100 * (1 - best["right"] / best["left"]) > 10
    everyday = [lead_pct("HB-09", "sl_cmj_height", w) for w in weeks("HB-09", "sl_cmj_height")]
    assert abs(average(everyday)) < 3 and abs(everyday[-1]) < 6


def test_the_known_leg_length_difference_goes_with_a_stable_one():
    who = person("HB-15")
    assert who.known_side == "right" and who.known_since
    assert 1.5 < who.limb_cm["left"] - who.limb_cm["right"] < 2.1
    for measure in ("single_hop", "sl_cmj_height"):
        halves = [[2, 4, 6, 8], [10, 12, 14, 16]]
        leads = [average([lead_pct("HB-15", measure, w) for w in half]) for half in halves]
        assert all(lead < -15 for lead in leads) and abs(leads[0] - leads[1]) < 5


def test_the_operated_knee_comes_back_from_a_fifth_at_a_good_point_a_week():
    assert person("HB-11").availability == "modified"
    tested = weeks("HB-11", "isok_knee_extension_60")
    assert tested == [9, 10, 11, 12, 13, 14, 15, 16]
    leads = [lead_pct("HB-11", "isok_knee_extension_60", w) for w in tested]
    assert 15 < leads[0] < 29 and average(leads[:3]) - average(leads[-3:]) > 4
    assert weeks("HB-11", "single_hop") == [14, 16]


def test_the_sudden_loss_is_one_sided_and_in_the_latest_session_only():
    sides = {
        side: [mean("VB-12", "sl_cmj_height", w, side) for w in (8, 10, 12, 14, 16)]
        for side in ("left", "right")
    }
    assert sides["right"][-1] / average(sides["right"][:-1]) < 0.75
    assert abs(sides["left"][-1] / average(sides["left"][:-1]) - 1) < 0.10
    assert all(abs(lead_pct("VB-12", "sl_cmj_height", w)) < 12 for w in (8, 10, 12, 14))


def test_pain_of_five_comes_with_a_note():
    told = [t for t in trials("HB-18", "hip_adduction_torque") if t.pain is not None]
    assert {(t.week, t.side, t.pain) for t in told} == {(15, "left", 5)}
    assert all(t.note for t in told)


def test_left_handers_grip_evenly_and_right_handers_lead_by_about_ten_percent():
    leads: dict[str, list[float]] = {"left": [], "right": []}
    for who in people():
        for week in weeks(who.id, "grip_strength"):
            leads[who.hand].append(lead_pct(who.id, "grip_strength", week))
    assert 8 < average(leads["right"]) < 12
    her = [lead_pct("HB-03", "grip_strength", w) for w in weeks("HB-03", "grip_strength")]
    assert person("HB-03").hand == "left" and abs(average(her)) < 4


def test_the_throwing_shoulder_turns_further_out_and_less_far_in():
    def lead(athlete: str, measure: str) -> float:
        return average(
            [
                mean(athlete, measure, w, "right") - mean(athlete, measure, w, "left")
                for w in weeks(athlete, measure)
            ]
        )

    right = [
        w.id for w in people() if w.squad.code == "HB" and w.hand == "right" and w.id != "HB-22"
    ]
    assert average([lead(who, "shoulder_er_rom") for who in right]) > 5
    assert average([lead(who, "shoulder_ir_rom") for who in right]) < -5
    assert lead("HB-03", "shoulder_er_rom") < -4 and lead("HB-03", "shoulder_ir_rom") > 4


def test_the_stronger_arm_gets_more_work_and_the_tape_shows_the_smaller_one():
    arms = ("single_arm_dumbbell_row", "single_arm_dumbbell_press")
    work: dict[str, float] = defaultdict(float)
    for one in sets("GM-06", *arms):
        work[one.side] += one.reps * (one.load_kg or 0)
    assert work["left"] / work["right"] < 0.70
    gap = [
        mean("GM-06", "upper_arm_girth", w, "right") - mean("GM-06", "upper_arm_girth", w, "left")
        for w in weeks("GM-06", "upper_arm_girth")
    ]
    assert average(gap) > catalogue().measures["upper_arm_girth"].review + 0.5


def test_the_overdue_athlete_last_hopped_nine_weeks_or_more_ago_while_the_squad_went_on():
    last = max(t.tested_on for t in trials("HB-13", "single_hop"))
    assert (LAST_DAY - last).days >= 63
    assert len([w for w in people() if 16 in weeks(w.id, "single_hop")]) > 25


def test_the_hamstring_ratio_is_below_its_line_on_one_side_only():
    measures = ("isok_knee_flexion_60", "isok_knee_extension_60")
    ratios = {}
    for side in ("left", "right"):
        both = [[mean("VB-03", m, w, side) for w in weeks("VB-03", m)] for m in measures]
        ratios[side] = average(both[0]) / average(both[1])
    assert ratios["left"] < 0.455 and ratios["right"] > 0.50


def test_one_ankle_has_less_range_on_every_day():
    gaps = [
        mean("HB-08", "knee_to_wall", w, "right") - mean("HB-08", "knee_to_wall", w, "left")
        for w in weeks("HB-08", "knee_to_wall")
    ]
    assert len(gaps) == 5 and min(gaps) > catalogue().measures["knee_to_wall"].review


def test_equal_work_by_design_is_logged_for_both_sides_with_a_note():
    assert {one.side for one in sets("GM-09")} == {"both"}
    assert any("on purpose" in one.note for one in sets("GM-09"))


def test_the_newcomer_has_one_day_of_each_test_and_a_large_hop_difference_on_it():
    tested = [t for t in trials_of("hops") + trials_of("jump_device") if t.athlete == "HB-22"]
    assert {t.week for t in tested} == {16}
    assert lead_pct("HB-22", "single_hop", 16) > 15


def test_one_athlete_was_never_tested_and_never_trained():
    sheets = {block.sheet for block in rounds()}
    assert not [t for s in sheets for t in trials_of(s) if t.athlete == "VB-16"]
    assert not sets("VB-16") and "VB-16" in stories()
