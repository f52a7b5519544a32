"""The card's sentences, day by day, and what was done in words."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from pipeline.catalogue import Doses
from pipeline.plan.block import Block
from pipeline.plan.choice import Choice
from pipeline.programme.load import held_load
from pipeline.programme.step import Dose, Film, Programme, Session, Step
from pipeline.programme.who import Who
from pipeline.report.athlete.card import training_card
from pipeline.report.page_models import Card
from pipeline.report.sections.work_done import outcome_line
from pipeline.report.text import words
from schemas.plan_words import Plan, PlanNote, StepPart
from schemas.vocabulary import StepSide
from tests.programme.logs import BOOK, log_of, plan_of, sets_of

AS_OF = date(2026, 11, 20)
MEASURES = BOOK.measures
WEEKS = (
    Dose(2, 8, 3), Dose(3, 8, 3), Dose(3, 8, 2), Dose(2, 6, 4), Dose(3, 6, 2), Dose(3, 6, 2),
)  # fmt: skip
WAKE = Step(StepPart.ACTIVATION, "heel_dig_hold", "Heel-dig hold", StepSide.LEFT_FIRST,
            (Dose(2, 5, 5),) * 6, rest_s=15, cue="Pull the heel in", hold_s=5)  # fmt: skip
MAIN = Step(StepPart.ONE_SIDE, "step_up", "Step-up", StepSide.LEFT_FIRST, WEEKS, load_kg=12.0,
            seconds_down=3, rest_s=90, cue="Top leg does the work")  # fmt: skip
EXTRA = Step(StepPart.EXTRA, "step_up", "Step-up", StepSide.LEFT, (
    None, Dose(1, 2, 3), Dose(1, 3, 3), None, Dose(1, 4, 3), Dose(1, 5, 3),
), load_kg=12.0, rest_s=90)  # fmt: skip
FILM = Film("Step-up", "front", ("kneecap over the middle toes", "belt line level"))
OUTCOME: dict[str, Any] = {
    "measure": "single_hop", "lower_side": "left", "started_on": date(2026, 9, 25),
    "ends_on": date(2026, 11, 20), "weeks_in": 8.0, "log_state": "counted", "logged_weeks": 8.0,
    "planned_sessions": 8.2, "done_sessions": 3, "planned_extras": 0.0, "done_extras": 0,
    "observed_then_d": 0.25, "expected_d": 0.22, "latest_d": 0.10, "chance_smaller": 0.97,
    "lower_change": 0.08, "other_change": -0.02, "verdict": "smaller",
}  # fmt: skip


def block(stage: Any = "new", *steps: Step, notes: tuple[PlanNote, ...] = (), **more: Any) -> Block:
    days = steps or (WAKE, MAIN, EXTRA)
    made = Programme(
        (Session("A", 0, days), Session("B", 3, days)), 6, date(2026, 11, 23), FILM, notes=notes
    )
    of_block = {name: more.pop(name) for name in ("week", "is_record") if name in more}
    chosen = {"plan": Plan.TRAIN, "measure": "single_hop", "lower_side": "left", **more}
    return Block(
        "A1", Choice(stage=stage, **chosen), 6, made, date(2027, 1, 5), **of_block
    )  # fmt: skip


def card(of: Block, born: date | None = date(1998, 5, 4)) -> Card:
    return training_card(of, MEASURES, "the physio", 2, Who(born, AS_OF))


def test_a_day_is_a_table_that_an_athlete_follows_line_by_line() -> None:
    made = card(block())
    assert [day.title for day in made.days] == ["Monday", "Thursday"]
    wake, main, extra = made.days[0].lines
    assert (wake.part, wake.text, wake.dose) == (
        "Wake up",
        "left 2 sets, right 1",
        "5, hold 5\xa0s",
    )
    assert (main.dose, main.load, main.rest) == ("2\xa0×\xa08", "12\xa0kg · 3 spare", "90\xa0s")
    assert (extra.part, extra.text, extra.dose) == ("Extra, left only", "from week 2", "see weeks")


def test_the_weeks_stand_in_a_row_with_a_box_for_each_session() -> None:
    (weeks,) = card(block(week=3)).weeks
    assert weeks.head[0] == "1 · 23\xa0Nov"
    assert weeks.head[3] == "4 · 14\xa0Dec easy"
    assert weeks.now == 2
    rows = dict(weeks.rows)
    assert rows["Step-up"][:4] == (
        "2\xa0×\xa08, 3 spare", "3\xa0×\xa08, 3 spare", "3\xa0×\xa08, 2 spare",
        "2\xa0×\xa06, 4 spare",
    )  # fmt: skip
    assert rows["Extra reps, left"] == ("–", "+2", "+3", "–", "+4", "+5")
    assert rows["Done, tick each day"] == ("☐ ☐",) * 6


def test_the_days_show_the_doses_of_the_present_week() -> None:
    line = card(block(week=3)).days[0].lines[1]
    assert (line.dose, line.load) == ("3\xa0×\xa08", "12\xa0kg · 2 spare")


@pytest.mark.parametrize(
    ("stage", "start"),
    [
        ("new", "Here is your plan: 2 sessions a week, as you train anyway. Your left side goes"),
        ("running", "You are in week 2; go on as planned."),
        ("widening", "The plan stays; your coach looks at it with you."),
        ("closing", "Your sides are moving closer. Go on like this; no more is needed."),
        ("catch_up", "The plan has not fitted your weeks yet, so this one is shorter."),
    ],
)
def test_every_stage_of_a_block_opens_with_its_own_words(stage: str, start: str) -> None:
    assert card(block(stage, week=2)).why.startswith(start)


def test_what_was_done_is_said_in_numbers() -> None:
    text = card(block("catch_up", outcome=OUTCOME)).why
    assert text.startswith("Your log has 3 of about 8 sessions of the last plan.")


@pytest.mark.parametrize(("weeks_in", "said"), [(7.9, "You are in week"), (8.1, "are over. Go on")])
def test_a_block_whose_weeks_have_passed_has_no_middle(weeks_in: float, said: str) -> None:
    assert said in card(block("running", outcome=OUTCOME | {"weeks_in": weeks_in})).why


@pytest.mark.parametrize("note", PlanNote)
def test_why_a_plan_is_as_it_is_is_said(note: PlanNote) -> None:
    assert len(card(block(notes=(note,))).why) > len(card(block()).why)


def test_of_one_set_no_second_last_one_is_filmed() -> None:
    single = replace(MAIN, weeks=tuple(replace(dose, sets=1) for dose in WEEKS))
    assert any("film the second last set of Step-up" in line for line in card(block()).after)
    assert any("film a set of Step-up" in line for line in card(block("new", single)).after)


@pytest.mark.parametrize("step", [1, 2, 3])
def test_a_return_says_its_step_what_comes_next_and_who_limits(step: int) -> None:
    made = card(block(plan=Plan.RETURN, step=step))
    assert f"this is step {step} of 5" in made.why
    after = " ".join(made.after)
    assert "The next step comes when the physio and your coach say so: pain 0 to 2" in after
    assert ("film’s points" in after) == (step == 2)
    assert "What the physio told you comes before every line here." in after


@pytest.mark.parametrize(
    ("born", "said"),
    [
        (date(1998, 5, 4), "Pain 4: stop and speak with the physio."),
        (date(2011, 5, 4), "From 3: stop and speak with the physio."),
        (None, "if you are under 18, stop."),
    ],
)
def test_the_line_for_pain_is_that_of_the_age(born: date | None, said: str) -> None:
    assert any(said in line for line in card(block(), born).after)


def test_an_outcome_says_size_chance_falling_back_and_each_side() -> None:
    line = outcome_line(OUTCOME, MEASURES["single_hop"], AS_OF).replace("\xa0", " ")
    assert line == (
        "Since 25 Sep, “Single hop”: the difference truly became smaller (about 97 in 100). The "
        "difference was 22 % before and 10 % in the latest tests. Without any work it would have "
        "been about 20 %. Each side since then: left up 8 % and right down 2 %. Sessions "
        "of the plan in your log: 3 sessions, planned about 8."
    )


def test_smaller_because_the_other_side_came_down_is_said_in_so_many_words() -> None:
    fell = OUTCOME | {"lower_change": 0.01, "other_change": -0.12}
    line = outcome_line(fell, MEASURES["single_hop"], AS_OF)
    assert "It became smaller mostly because the right side came down." in line


def test_no_change_shown_claims_nothing() -> None:
    same = OUTCOME | {"verdict": "no change shown", "chance_smaller": 0.6, "latest_d": 0.2}
    line = outcome_line(same, MEASURES["single_hop"], AS_OF)
    assert "“Single hop”: no change shown. The difference was 22" in line
    assert "Without any work" not in line
    assert "truly" not in line


def test_before_the_first_look_it_is_too_early() -> None:
    early = OUTCOME | {"latest_d": None, "chance_smaller": None, "verdict": "too early"}
    assert outcome_line(early, MEASURES["single_hop"], AS_OF) == (
        "Since 25\xa0Sep, “Single hop”: too early to tell what the work does. Sessions of "
        "the plan in your log: 3 sessions, planned about 8."
    )


def test_weeks_without_a_test_are_not_called_too_early() -> None:
    late = OUTCOME | {"latest_d": None, "chance_smaller": None, "verdict": "no test"}
    line = outcome_line(late, MEASURES["single_hop"], AS_OF)
    assert line.startswith(
        "Since 25\xa0Sep, “Single hop”: no test yet that could tell what the work does."
    )


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"logged_weeks": 7.3}, "Sessions of the plan in your log: 3 sessions, planned about 8."),
        (
            {"planned_extras": 6.2, "done_extras": 2},
            "planned about 8. With the small extra: 2 of about 6.",
        ),
        (
            {"logged_weeks": 2.0, "planned_sessions": 2.05, "done_sessions": 1},
            "Sessions of the plan, 2 weeks logged: 1 session, planned about 2.",
        ),
        (
            {"log_state": "no_log", "logged_weeks": None, "done_sessions": None},
            "About 8 sessions were planned; your log holds nothing since, so how many were done is "
            "not known.",
        ),
        ({"log_state": "not_for_a_log", "done_sessions": None}, "right down 2\xa0%."),
    ],
)
def test_only_what_is_logged_is_counted(state: dict[str, Any], said: str) -> None:
    assert outcome_line(OUTCOME | state, MEASURES["single_hop"], AS_OF).endswith(said)


@pytest.mark.parametrize(
    ("exercise", "dumbbells", "said"),
    [
        ("dumbbell_bench_press", "per hand", "16\xa0kg each hand"),
        ("dumbbell_bench_press", "pair", "16\xa0kg both hands together"),
        ("alternating_dumbbell_curl", "per hand", "16\xa0kg each hand"),
        ("farmer_carry", "per hand", "16\xa0kg each hand"),
        ("single_arm_dumbbell_row", "per hand", "16\xa0kg"),
        ("goblet_squat", "pair", "16\xa0kg"),
        ("back_squat", "per hand", "16\xa0kg"),
        # One dumbbell or two: the log alone cannot tell, and twice the load would be too much.
        ("reverse_lunge", "per hand", "16\xa0kg, counted as in your log"),
        ("split_squat", "pair", "16\xa0kg, counted as in your log"),
    ],
)
def test_a_load_says_what_to_pick_up(exercise: str, dumbbells: str, said: str) -> None:
    # Common practice: a log of dumbbells gives the load of one hand, unless a team says otherwise.
    rules = Doses(BOOK.rules.plan, {"logged_loads": {"dumbbells": dumbbells}})
    assert words.load(16.0, held_load(BOOK.exercises[exercise], rules)) == said


def test_every_lift_with_dumbbells_for_one_leg_is_held_as_logged() -> None:
    for one in BOOK.exercises.values():
        is_leg = one.equipment == "dumbbell" and one.region == "lower"
        if is_leg and one.laterality != "bilateral":
            assert one.held_as_logged, one.id


def test_a_jump_to_learn_begins_low_and_a_harder_one_is_shown() -> None:
    _, made = plan_of("single_hop", log_of(sets_of("split_squat", (0, 3))))
    jump = next(step for step in made.steps if step.part == "jumps")
    line = card(block("new", jump)).days[0].lines[0]
    assert "new, so start low and learn it" in line.text
    assert "from week 3, shown by a coach first" in line.text
    assert "start light" not in line.text


def test_a_lift_offered_in_place_of_a_barbell_is_no_lift_with_its_load() -> None:
    step = replace(MAIN, part=StepPart.BOTH_SIDES, side=StepSide.BOTH, offer="Split squat")
    line = card(block("new", step)).days[0].lines[0]
    assert "or a set or two as Split squat, with a light weight" in line.text
