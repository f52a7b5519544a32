"""Whatever word the data may hold in a closed set, every page has a sentence for it."""

from collections.abc import Iterable
from datetime import date
from itertools import cycle, product
from typing import Any

import pytest

from pipeline.catalogue import catalogue, full_catalogue
from pipeline.plan.block import Block
from pipeline.plan.choice import Choice
from pipeline.programme.step import OTHER_HAND, Dose, Programme, Session, Step
from pipeline.programme.who import Who
from pipeline.report.athlete.card import training_card
from pipeline.report.text import words
from pipeline.report.text.phrases import language, parsed, say_of
from pipeline.report.text.said_sets import said_sets
from pipeline.report.text.suggestions import block_suggestion
from schemas.contracts.flag_relations import FLAGS
from schemas.contracts.relations import RELATIONS
from schemas.contracts.training_relations import REVIEWED
from schemas.plan_words import BlockVerdict, CountedIn, LogState, Plan, Stage, StepPart
from schemas.vocabulary import (
    NORMAL_STEP,
    REGIONS,
    Availability,
    Formula,
    MeasureGroup,
    Movement,
    Side,
    StepSide,
    Urgency,
)

AS_OF = date(2026, 11, 20)
BOOK = full_catalogue()
ENGLISH = parsed(language("english").text).phrases


@pytest.mark.parametrize("key", said_sets())
def test_every_word_of_a_closed_set_has_its_sentence(key: str) -> None:
    said = {
        word: say_of(key, word, **dict.fromkeys(ENGLISH[f"{key}.{word}"].names, 2))
        for word in said_sets()[key].said
    }
    assert said and all(text.strip() for text in said.values())


def test_the_catalogue_uses_every_word_of_its_sets() -> None:
    """That it uses no other is seen when it loads."""
    measures, exercises = BOOK.measures.values(), BOOK.exercises.values()
    assert {one.region for one in measures} | {one.region for one in exercises} == set(REGIONS)
    assert {one.formula for one in measures} == set(Formula)
    assert {one.group for one in measures} == set(MeasureGroup)
    assert {sign.urgency for sign in BOOK.rules.signs.values()} == set(Urgency)
    said = set(catalogue().headers.words["availability"])
    assert said | {"unclear"} == set(Availability)


def test_the_contracts_keep_to_the_closed_sets() -> None:
    """What a page puts into a key stands in a column that can hold nothing else."""
    held = {
        (str(model.to_schema().name), name): set(check.statistics["allowed_values"])
        for model in (*RELATIONS.values(), *REVIEWED)
        for name, column in model.to_schema().columns.items()
        for check in column.checks
        if "allowed_values" in (check.statistics or {})
    }
    expected: dict[tuple[str, str], Iterable[str]] = {
        ("stg_athletes", "availability"): Availability,
        ("stg_sets", "region"): [*REGIONS, "other"],
        ("mart_plans", "plan"): [str(plan) for plan in Plan],
        ("mart_plans", "part"): StepPart,
        ("mart_plans", "side"): StepSide,
        ("mart_plans", "reps_unit"): CountedIn,
        ("mart_plans", "lower_side"): Side,
        ("mart_block_outcomes", "region"): REGIONS,
        ("mart_block_outcomes", "verdict"): BlockVerdict,
        ("mart_block_outcomes", "log_state"): LogState,
    }  # fmt: skip
    assert {key: held.get(key) for key in expected} == {k: set(v) for k, v in expected.items()}
    raised = FLAGS["flags_raised"].to_schema().columns
    assert "part" in raised and "region" not in raised


@pytest.mark.parametrize("part", [*REGIONS, "other:sled_drag", "other:other"])
def test_one_sided_work_has_words_wherever_it_was_done(part: str) -> None:
    assert words.one_sided_work(part).startswith("one-sided ")


OUTCOME: dict[str, Any] = {
    "measure": "single_hop", "started_on": date(2026, 9, 25), "ends_on": date(2026, 11, 6),
    "weeks_in": 8.0, "log_state": "counted", "planned_sessions": 6.0, "done_sessions": 1,
    "planned_extras": 2.0, "done_extras": 0,
}  # fmt: skip


@pytest.mark.parametrize("plan", Plan)
def test_every_plan_and_stage_of_a_block_has_a_card_and_a_line(plan: Plan) -> None:
    steps = tuple(
        Step(part, "step_up", "Step-up", side, (None, Dose(2, 8, 3)), unit, seconds_down=3,
             hint=OTHER_HAND, is_new=True, level=level, instead_of=("Squat",), offer="Lunge")
        for (part, side), unit, level in zip(
            product(StepPart, StepSide),
            cycle(CountedIn),
            cycle((1, 2)),
        )
    )  # fmt: skip
    days = tuple(Session(letter, day, steps) for letter, day in (("A", 0), ("B", None)))
    home = Session("C", None, steps, is_home=True)
    made = Programme((*days, home), 2, AS_OF)
    has_days = plan in (Plan.TRAIN, Plan.MOBILITY)
    shown = (made,) if has_days else (made, None)
    returned = range(1, NORMAL_STEP) if plan == Plan.RETURN else (0,)
    ways = product(Stage, (None, OUTCOME), shown, returned)
    for stage, outcome, done, step in ways:
        choice = Choice(
            plan, None, "single_hop", "left", "lower", stage, outcome, ended=(OUTCOME,), step=step
        )
        block = Block("A1", choice, 2, done, AS_OF)
        card = training_card(block, BOOK.measures, "the physio", 2, Who(None, AS_OF))
        assert card.title and card.why.endswith(".")
        assert bool(card.days) == (done is not None)
        assert block_suggestion(block, AS_OF).endswith(".")


@pytest.mark.parametrize("movement", Movement)
def test_every_movement_is_said(movement: str) -> None:
    chance = 0.97 if movement in ("smaller", "larger") else None
    assert words.moved(movement, chance)
