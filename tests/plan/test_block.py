"""Athletes written out: each gets the next block a coach would give, said as the card says it."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.athlete.card import next_steps
from pipeline.report.text.suggestions import block_suggestion
from pipeline.settings import Settings
from tests.raw import pages_of, trials_of, week
from tests.review.situations import (
    AS_OF,
    CLEAR,
    DAYS,
    FRIGHTENING,
    decided,
    log,
    roster,
    situation,
    squad,
    squats,
    suggested,
    told,
)


def test_a_log_alone_with_clearly_less_on_one_side_evens_the_sides() -> None:
    known, block, card = situation(sets=log(left=(2, 20.0), right=(3, 20.0)))
    assert known.findings.filter(athlete_id="A1").is_empty()
    assert (block.plan, block.lower_side, block.steps) == ("even", "left", ())
    less = "less one-sided lower-body work for your left side than for your right."
    assert f"in the last weeks your log has {less}" in card.why


def test_an_exercise_to_learn_is_an_easy_one() -> None:
    _, block, _ = situation(trials=CLEAR)
    new = [step.name for step in block.steps if step.is_new and step.part != "jumps"]
    assert set(new) == {"Single-leg bridge"}  # level 1: a card is enough


def test_new_with_one_session_waits_for_another_test() -> None:
    _, block, card = situation(trials=squad() + trials_of("single_hop", DAYS[-1:], 110, 160))
    assert (block.plan, block.steps) == ("retest", ())
    assert card.why == (
        "One more test tells us more; train as usual, both sides the same. We test again within 2 "
        "weeks."
    )


def test_a_clear_difference_gives_a_session_in_order_with_a_small_extra() -> None:
    known, block, card = situation(trials=CLEAR, sets=log() + squats())
    assert (block.plan, block.choice.stage) == ("train", "new")
    assert [day.title for day in card.days] == ["Monday", "Thursday"]
    monday = card.days[0].lines
    assert [line.part for line in monday] == [
        "Wake up", "Fast work", "One side at a time", "Both sides", "Extra, left only",
    ]  # fmt: skip
    lift = monday[2]
    assert (lift.name, lift.text) == (
        "Split squat", "a dumbbell in each hand, left first, 3\xa0s down",
    )  # fmt: skip
    assert (lift.dose, lift.load, lift.rest) == (
        "2\xa0×\xa08",
        "20\xa0kg, counted as in your log · 3 spare",
        "90\xa0s",
    )
    assert lift.cue == "Front foot heavy, drop straight"
    assert (monday[3].name, monday[3].load) == ("Back squat", "90\xa0kg · 3 spare")
    rows = dict(card.weeks[0].rows)
    assert rows["Done, tick each day"] == ("☐ ☐",) * 6
    assert len(card.weeks[0].head) == 6
    assert card.weeks[0].head[3].endswith("easy")
    said = " ".join(card.after)
    # On Thursday there is one set of it.
    assert "film a set of Split squat from the front in weeks 1 and 5" in said
    assert "We test Single hop again on Monday, 4\xa0January" in said
    assert next_steps(block, known.flags.clear(), known.catalogue.measures, "staff") == []


def test_four_weeks_done_and_closing_goes_on_as_it_is() -> None:
    trials = squad() + trials_of("single_hop", DAYS[:3], 120, 160)
    trials += trials_of("single_hop", DAYS[3:5], 133, 160) + trials_of(
        "single_hop", DAYS[5:], 136, 160
    )
    sets = log(weeks=(9, 6)) + log(left=(3, 20.0), weeks=(5, 0))
    known, block, card = situation(trials=trials, sets=sets, decisions=decided(6))
    assert (block.plan, block.choice.stage) == ("train", "closing")
    assert card.why.startswith("Your sides are moving closer. Go on like this; no more is needed.")
    line = told(known, block)[0]
    assert "The difference was 25\xa0% before and 1" in line
    assert "the difference truly became smaller (" in line
    assert "Without any work it would have been about 2" in line


def test_little_done_means_the_same_plan_before_any_judgement() -> None:
    sets = log(weeks=(9, 6)) + log(exercise="lat_pulldown", weeks=(5, 0))
    _, block, card = situation(trials=CLEAR, sets=sets, decisions=decided(6))
    assert (block.plan, block.choice.stage) == ("train", "catch_up")
    assert card.why.startswith("Your log has 0 of about 12 sessions of the last plan.")
    assert "The plan has not fitted your weeks yet, so this one is shorter." in card.why
    assert block.programme is not None and not block.programme.has_extra
    assert not [step for step in block.steps if step.part == "isolation"]
    assert block_suggestion(block, AS_OF).startswith("The log has little of the plan: ask why")


def test_pain_goes_to_medical_staff_and_no_plan_is_made() -> None:
    painful = trials_of("single_hop", DAYS[-1:], 120, 160, pain=5.0)
    _, block, card = situation(
        trials=squad() + trials_of("single_hop", DAYS[:-1], 120, 160) + painful, sets=log()
    )
    assert (block.plan, block.steps, card.days) == ("medical", (), ())
    assert card.why == (
        "Please speak with your medical staff first; your plan waits for you. No extra work for "
        "one side until then."
    )


@pytest.mark.parametrize("availability", ["modified", "out"])
def test_whoever_is_not_fully_available_follows_the_medical_staffs_plan(availability: str) -> None:
    _, block, _ = situation(roster=roster(availability=availability), trials=CLEAR, sets=log())
    assert (block.plan, block.steps) == ("medical", ())


def test_a_known_leg_length_difference_is_kept_and_not_chased() -> None:
    people = roster(known_difference="leg-length difference, left 1.5 cm shorter")
    _, block, card = situation(roster=people, trials=CLEAR, sets=log())
    assert (block.plan, block.choice.handling, block.steps) == ("keep", "keep", ())
    assert card.why.startswith("We know about this one and leave it as it is.")


def test_a_known_difference_of_the_legs_does_not_stop_work_for_an_arm() -> None:
    people = roster(known_difference="leg-length difference", dominant_hand="right")
    trials = squad("grip_strength", 45, 0.2) + trials_of("grip_strength", DAYS, 30, 50)
    sets = log(exercise="single_arm_dumbbell_row")
    _, block, _ = situation(roster=people, trials=trials, sets=sets)
    assert (block.plan, block.measure) == ("train", "grip_strength")


def test_an_operated_knee_keeps_to_what_was_agreed_with_medical_staff() -> None:
    people = roster(known_difference="ACL reconstruction left, 2023")
    _, block, card = situation(roster=people, trials=CLEAR, sets=log())
    assert (block.plan, block.choice.handling) == ("keep", "clinician")
    assert "as agreed with your coach and the medical staff" in card.why


def test_where_the_stronger_side_does_more_both_sides_do_the_same_first() -> None:
    known, block, card = situation(trials=CLEAR, sets=log(right=(4, 24.0)))
    assert "So far your right side did more: now both do the same." in card.why
    lifts = [step for step in block.steps if step.part == "one_side" and step.is_of_lower]
    assert {step.load_kg for step in lifts} == {20.0}
    extras = [step for step in block.steps if step.part == "extra"]
    assert all(step.weeks[:3] == (None, None, None) for step in extras)
    assert "Your right side did more repetitions in 8 of 8 sessions" in " ".join(told(known, block))


def test_a_gym_member_with_a_log_only_gets_an_honest_plan() -> None:
    # Four plateaus: the loads of both sides rise together, every other week at first.
    plateaus = [((2, 8.0), (2, 12.0), 9, 7), ((2, 10.0), (2, 15.0), 6, 5),
                ((2, 12.0), (2, 18.0), 4, 3), ((2, 14.0), (2, 20.0), 2, 0)]  # fmt: skip
    sets = [
        one
        for left, right, begin, end in plateaus
        for one in log(left, right, "single_arm_dumbbell_row", weeks=(begin, end))
    ]
    known, block, card = situation(sets=sets)
    assert known.findings["session_count"].to_list() == [len(plateaus)]
    assert (block.plan, block.measure) == ("train", "est_1rm:single_arm_dumbbell_row")
    assert card.why.endswith(
        "This comes from your training log, not from a test; a test day would help."
    )
    row = next(line for line in card.days[0].lines if line.part == "One side at a time")
    assert (row.name, row.text) == ("Single-arm dumbbell row", "left first, 3\xa0s down")
    assert "14\xa0kg" in row.load
    assert known.findings["verdict"].to_list() == ["confirmed"]


def test_the_same_load_on_both_sides_by_design_says_nothing_and_is_said() -> None:
    known, block, card = situation(sets=log())
    assert (block.plan, block.choice.why, known.findings.height) == ("none", "record", 0)
    assert card.why == (
        "Nothing to change. Your log has the same load on both sides, as it was planned, so it "
        "cannot tell them apart. A test day would."
    )
    assert told(known, block) == [
        "In Split squat your log has the same load on both sides, as planned. That says nothing "
        "about how strong each side is."
    ]


def test_a_difference_within_noise_changes_nothing() -> None:
    _, block, card = situation(trials=squad() + trials_of("single_hop", DAYS, 150, 153), sets=log())
    assert (block.plan, card.why) == ("none", "Nothing to change. Train both sides the same.")


def test_eight_weeks_done_without_change_end_the_extra() -> None:
    sets = log(weeks=(9, 9)) + log(left=(3, 20.0), weeks=(8, 0))
    known, block, card = situation(trials=CLEAR, sets=sets, decisions=decided(9))
    assert (block.plan, block.steps) == ("stop", ())
    assert card.why.startswith("In 9 weeks the difference in “Single hop” has not clearly become")
    assert "The extra ends here: both sides do the same" in card.why
    assert suggested(known)["single_hop"].startswith("Not smaller after 9 weeks: end the extra")


def test_other_work_goes_on_where_one_extra_ends_and_the_same_work_does_not() -> None:
    trials = CLEAR + squad("triple_hop", 450) + trials_of("triple_hop", DAYS, 360, 480)
    sets = log(weeks=(9, 9)) + log(left=(3, 20.0), weeks=(8, 0))
    known, block, _ = situation(trials=trials, sets=sets, decisions=decided(9))
    assert block.plan == "stop"  # a triple hop is trained by what changed nothing
    assert suggested(known)["triple_hop"] == "As for Single hop: no extra, decide together."

    turned = CLEAR + squad("iso_knee_extension_torque", 3, 0.02)
    turned += trials_of("iso_knee_extension_torque", DAYS, 3.2, 2.4)
    known, block, _ = situation(trials=turned, sets=sets, decisions=decided(9))
    assert (block.plan, block.measure) == ("train", "iso_knee_extension_torque")
    assert block.lower_side == "right"
    told_then = suggested(known)["iso_knee_extension_torque"]
    # The extra was the left side's, which does more since: even first, and then the right's own.
    assert told_then == "Give the right side at least the other’s sets, right first."

    ankle = squad("knee_to_wall", 12, 0.1) + trials_of("knee_to_wall", DAYS, 7.0, 12.0)
    known, block, _ = situation(trials=trials + ankle, sets=sets, decisions=decided(9))
    assert (block.plan, block.measure) == ("mobility", "knee_to_wall")
    texts = suggested(known)
    assert texts["knee_to_wall"].startswith("Mobility left, 3 times a week")
    assert texts["single_hop"].startswith("Not smaller after 9 weeks: end the extra")

    grip = squad("grip_strength", 40, 0.3) + trials_of("grip_strength", DAYS, 30, 44)
    known, block, _ = situation(trials=trials + ankle + grip, sets=sets, decisions=decided(9))
    assert (block.plan, block.measure) == ("train", "grip_strength")
    texts = suggested(known)
    assert texts["single_hop"].startswith("Not smaller after 9 weeks: end the extra")
    assert texts["triple_hop"] == "As for Single hop: no extra, decide together."
    assert texts["grip_strength"].startswith("Left first")


def test_a_block_decided_on_runs_to_its_end_whatever_is_surer_meanwhile() -> None:
    """Six weeks, then a retest: a difference is not judged from week to week."""
    grip = squad("grip_strength", 40, 0.3) + trials_of("grip_strength", DAYS, 22, 44)
    hop = squad() + trials_of("single_hop", DAYS, 134, 160)
    # Past its date it goes on for two weeks more, and then nothing holds it.
    for ago, trained in ((5, "single_hop"), (7, "single_hop"), (9, "grip_strength")):
        decisions = decided(ago, "A1.single_hop.difference")
        known, block, _ = situation(trials=hop + grip, decisions=decisions)
        surer = known.findings.filter(athlete_id="A1").sort("chance_over_line")["measure"]
        assert surer.to_list() == ["single_hop", "grip_strength"]
        assert (block.plan, block.measure) == ("train", trained)


@pytest.mark.parametrize(("clear", "left", "kind"), [(1, 141, "train"), (2, 153, "done")])
def test_one_day_within_the_line_does_not_end_a_running_block(
    clear: int, left: float, kind: str
) -> None:
    still, even = DAYS[: len(DAYS) - clear], DAYS[len(DAYS) - clear :]
    trials = squad() + trials_of("single_hop", still, 133, 160)
    trials += trials_of("single_hop", even, left, 160)
    known, block, _ = situation(trials=trials, sets=log(), decisions=decided(5))
    assert known.outcomes["clear_days"].to_list() == [clear]
    assert known.findings.filter(athlete_id="A1")["chance_over_line"].item() < 0.5
    assert block.plan == kind


def test_back_within_its_line_on_two_days_ends_the_extra() -> None:
    trials = squad() + trials_of("single_hop", DAYS[:1], 130, 160)
    trials += trials_of("single_hop", DAYS[1:], 159, 160)
    known, block, card = situation(trials=trials, sets=log(), decisions=decided(10))
    assert (block.plan, block.steps) == ("done", ())
    assert card.why.startswith("Your sides have come closer in “Single hop”")
    opening = pages_of(known)["A1"].opening
    assert opening.endswith(
        "In “Single hop” your sides have come closer, so both do the same again."
    )


def test_what_ends_is_called_open_nowhere_and_the_agenda_says_that_the_extra_ends() -> None:
    # Within its line on two days, yet with a chance of 4 in 10 and more to be over it.
    trials = squad() + trials_of("single_hop", DAYS[:-2], 133, 160)
    trials += trials_of("single_hop", DAYS[-2:], 153, 160)
    known, block, _ = situation(trials=trials, sets=log(), decisions=decided(5))
    unsure = pl.col("athlete_id") == "A1"
    found = known.findings.with_columns(
        pl.when(unsure).then(0.43).otherwise("chance_over_line").alias("chance_over_line"),
        pl.when(unsure).then(pl.lit("not_settled")).otherwise("sureness").alias("sureness"),
        pl.when(unsure).then(pl.lit("retest")).otherwise("verdict").alias("verdict"),
    )
    asked = known.flags.with_columns(pl.lit("retest").alias("reason"))
    known = replace(known, findings=found, flags=asked)
    assert (block.plan, blocks(known)["A1"].plan) == ("done", "done")
    opening = pages_of(known)["A1"].opening
    assert "your sides have come closer" in opening
    assert "still open" not in opening and "A retest will tell" not in opening
    assert suggested(known)["single_hop"].startswith("The extra ends, both sides alike")


def test_one_tight_ankle_gets_slow_work_through_its_range() -> None:
    trials = squad("knee_to_wall", 12, 0.1) + trials_of("knee_to_wall", DAYS, 7.0, 12.0)
    _, block, card = situation(trials=trials, sets=log())
    assert block.plan == "mobility"
    ranges = [line for day in card.days for line in day.lines if line.part == "Range"]
    assert {(line.name, line.text) for line in ranges} == {
        ("Knee-to-wall rock", "slow, to a mild pull; left 2 sets, right 1"),
    }  # fmt: skip
    assert [day.title for day in card.days] == ["Monday", "Thursday", "At home, on one more day"]
    assert block.retest_on == AS_OF + timedelta(days=31)  # a Monday, four weeks from the first


def test_less_work_for_the_lower_side_without_a_clear_difference_is_evened_out() -> None:
    known, block, card = situation(sets=log(left=(2, 18.5), right=(4, 20.0)))
    assert known.flags["reason"].to_list() == ["training"]
    assert block.plan == "even"
    assert card.why.startswith("Both sides get the same from today, left first: in the last weeks")
    assert card.why.endswith("Nothing extra is needed.")


def test_without_a_log_a_new_exercise_starts_light_and_without_an_extra() -> None:
    _, block, card = situation(trials=CLEAR)
    assert [day.title[:5] for day in card.days] == ["Day A", "Day B"]
    lift = next(line for line in card.days[0].lines if line.part == "One side at a time")
    assert "new, so start light and learn it" in lift.text
    assert all(step.weeks[1] is None for step in block.steps if step.part == "extra")


def test_a_two_sided_log_gives_some_of_its_sets_to_one_side_at_a_time() -> None:
    trials = squad("isok_knee_extension_60", 200) + trials_of(
        "isok_knee_extension_60", DAYS, 160, 220
    )
    _, block, _ = situation(trials=trials, sets=squats())
    steps = block.sessions[0].steps
    by_part = {step.part: step for step in steps}
    assert by_part["one_side"].is_new
    assert by_part["one_side"].instead_of == ("Back squat",)
    assert by_part["both_sides"].dose.sets < 3


def test_nothing_known_changes_nothing() -> None:
    _, block, card = situation(roster=roster(), trials=squad())
    assert (block.plan, card.why) == (
        "none", "Nothing to change. Two or three tests would tell more.",
    )  # fmt: skip


def test_sets_with_pain_never_set_the_load() -> None:
    sets = log() + log(left=(2, 26.0), right=(2, 26.0), weeks=(0, 0), pain=2.0)
    _, block, _ = situation(trials=CLEAR, sets=sets)
    assert {step.load_kg for step in block.steps if step.part == "one_side"} == {20.0}


def test_a_team_may_set_its_own_doses() -> None:
    own = Settings(plan={"length": {"weeks": 8}, "extra_work": {"reps": (1, 2)}})
    known = week(AS_OF, own, trials=CLEAR, sets=log(left=(3, 20.0), right=(3, 20.0)))
    block = blocks(known)["A1"]
    assert {len(step.weeks) for step in block.steps} == {8}
    extras = [dose for s in block.steps if s.part == "extra" for dose in s.weeks if dose]
    assert extras and max(dose.reps for dose in extras) == 2
    assert block.weeks == 8


def test_no_sentence_of_any_card_frightens() -> None:
    stories: list[dict[str, Any]] = [
        {"trials": CLEAR, "sets": log()},
        {"trials": CLEAR, "sets": log(right=(4, 24.0)), "decisions": decided(6)},
        {"trials": CLEAR, "sets": log(left=(3, 20.0)), "decisions": decided(9)},
        {"sets": log(left=(2, 14.0))},
        {"sets": log()},
    ]
    for rows in stories:
        known, block, card = situation(**rows)
        steps = next_steps(block, known.flags, known.catalogue.measures, "your medical staff")
        texts = [card.title, card.why, *card.after, *steps, *told(known, block)]
        lines = [line for day in card.days for line in day.lines]
        texts += [f"{line.name} {line.text} {line.cue}" for line in lines]
        assert not FRIGHTENING.search(" ".join(texts)), texts
