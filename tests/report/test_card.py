"""The card's sentences, block by block, and how the extra grows in words."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from pipeline.review.session import Session, Step

from pipeline.catalogue import full_catalogue
from pipeline.plan.block import Block
from pipeline.plan.choice import Choice
from pipeline.report.card import training_card
from pipeline.report.work_done import outcome_line
from schemas.vocabulary import Plan

AS_OF = date(2026, 11, 20)
MEASURES = full_catalogue().measures
MAIN = Step("one side at a time", "Step-up", "lower first", 2, 8, 12.0, 3, "step_up", 2)
EXTRA = replace(MAIN, part="extra", side="lower only", sets=1, other_sets=0)
OUTCOME: dict[str, Any] = {
    "measure": "single_hop", "lower_side": "left", "started_on": date(2026, 9, 25),
    "ends_on": date(2026, 11, 20), "weeks_in": 8.0, "log_state": "counted", "logged_weeks": 8.0,
    "planned_sessions": 8.2, "done_sessions": 3, "observed_then_d": 0.25,
    "expected_d": 0.22, "latest_d": 0.10, "chance_smaller": 0.97, "lower_change": 0.08,
    "other_change": -0.02, "verdict": "smaller",
}  # fmt: skip


def block(stage: str = "new", extra: tuple[int, ...] = (8,) * 6, **more: Any) -> Block:
    steps = (MAIN, EXTRA) if max(extra) else (MAIN,)
    session = Session(steps, extra, 1.0, (32.0, 32.0), ((40.0, 32.0),) * len(extra), False)
    of_block = {name: more.pop(name) for name in ("since", "is_record") if name in more}
    kept = {"session": session, "retest_on": date(2027, 1, 1), **of_block}
    chosen = {"plan": Plan.TRAIN, "measure": "single_hop", "lower_side": "left", **more}
    return Block("A1", Choice(stage=stage, **chosen), 6, steps, **kept)


def why(of: Block) -> str:
    return training_card(of, MEASURES, "the physio", 2, AS_OF).why


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        ((8, 8, 8), ""),
        ((4, 8, 8), ": 4 repetitions in week 1, 8 from week 2"),
        ((2, 4, 6, 8), ": 2 repetitions in week 1, 4 in week 2, 6 in week 3, 8 from week 4"),
        ((0, 0, 4, 4), ": 4 repetitions from week 3"),
    ],
)
def test_the_extra_grows_in_words(extra: tuple[int, ...], said: str) -> None:
    lines = training_card(block(extra=extra), MEASURES, "the physio", 2, AS_OF).lines
    assert lines[-1].text == f"Step-up, left side, 12\xa0kg, lower in 3\xa0s{said}"


@pytest.mark.parametrize(
    ("stage", "start"),
    [
        ("new", "Both sides do the same work, left first, and the left side a little more"),
        ("running", "You are in the middle of this block. Go on as planned."),
        ("widening", "The plan stays small and the same. Your coach goes through it with you."),
        ("catch_up", "Your log has little of the last plan so far. The same plan gets another go"),
    ],
)
def test_every_stage_of_a_block_opens_with_its_own_words(stage: str, start: str) -> None:
    assert why(block(stage)).startswith(start)


def test_what_was_done_is_said_in_numbers() -> None:
    text = why(block("catch_up", outcome=OUTCOME))
    assert text.startswith("So far your log has 3 of about 8 planned extras.")


def test_a_closing_difference_names_the_day_it_is_compared_with() -> None:
    assert why(block("closing", since=date(2026, 9, 4))).startswith(
        "The difference has become smaller since 4\xa0September\xa02026. Go on as you are; no more"
    )


@pytest.mark.parametrize(
    ("weeks_in", "said"), [(7.9, "in the middle of"), (8.1, "are over. Go on")]
)
def test_a_block_whose_weeks_have_passed_has_no_middle(weeks_in: float, said: str) -> None:
    assert said in why(block("running", outcome=OUTCOME | {"weeks_in": weeks_in}))


def test_a_side_that_must_not_lose_more_keeps_its_own_sets() -> None:
    kept = block()
    kept = replace(kept, steps=(replace(MAIN, other_sets=3),))
    text = training_card(kept, MEASURES, "the physio", 2, AS_OF).lines[0].text
    assert text.endswith("lower in 3\xa0s; right side 3 sets")


def test_an_outcome_says_size_chance_falling_back_and_each_side() -> None:
    line = outcome_line(OUTCOME, MEASURES["single_hop"], AS_OF).replace("\xa0", " ")
    assert line == (
        "Since 25 Sep, “Single hop”: the difference was 22 % in the test before and 10 % in the "
        "latest; about 97 in 100 that it truly became smaller. Without any work, another test "
        "would have shown about 20 %. Each side since then: left up 8 % and right down 2 %. Extra "
        "work in your log: 3 sessions, planned about 8."
    )


def test_smaller_because_the_other_side_came_down_is_said_in_so_many_words() -> None:
    fell = OUTCOME | {"lower_change": 0.01, "other_change": -0.12}
    line = outcome_line(fell, MEASURES["single_hop"], AS_OF)
    assert "It became smaller mostly because the right side came down." in line


def test_no_change_shown_claims_nothing() -> None:
    same = OUTCOME | {"verdict": "no change shown", "chance_smaller": 0.6, "latest_d": 0.2}
    line = outcome_line(same, MEASURES["single_hop"], AS_OF)
    assert "; no change shown. Each side since then" in line
    assert "truly" not in line


def test_before_the_first_look_it_is_too_early() -> None:
    early = OUTCOME | {"latest_d": None, "chance_smaller": None, "verdict": "too early"}
    assert outcome_line(early, MEASURES["single_hop"], AS_OF) == (
        "Since 25\xa0Sep, “Single hop”: too early to tell what the work does. Extra work in "
        "your log: 3 sessions, planned about 8."
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
        ({"logged_weeks": 7.3}, "Extra work in your log: 3 sessions, planned about 8."),
        (
            {"logged_weeks": 2.0, "planned_sessions": 2.05, "done_sessions": 1},
            "Extra work, 2 weeks logged: 1 session, planned about 2.",
        ),
        (
            {"log_state": "no_log", "logged_weeks": None, "done_sessions": None},
            "Extra work: about 8 sessions planned; your log holds nothing since, so how many were "
            "done is not known.",
        ),
        ({"log_state": "not_for_a_log", "done_sessions": None}, "right down 2\xa0%."),
    ],
)
def test_only_what_is_logged_is_counted(state: dict[str, Any], said: str) -> None:
    assert outcome_line(OUTCOME | state, MEASURES["single_hop"], AS_OF).endswith(said)
