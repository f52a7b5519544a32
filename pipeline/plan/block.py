"""The next block of training for one athlete: what follows from the plan that was chosen.

The session itself is made in `session`, from what the athlete already does. The extra starts
small: twice the work for the lower side was not better than equal work with the lower side first
(Moreno-Azze 2021, Int J Environ Res Public Health 18:8270).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.plan.choice import Case, Choice, choose
from pipeline.review.session import Session, Step, training_session
from pipeline.settings import Settings
from schemas.vocabulary import Plan

__all__ = ["Block", "Case", "Choice", "Step", "next_block"]

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Block:
    """What one athlete does next, and why."""

    athlete_id: str
    choice: Choice
    weeks: int
    steps: tuple[Step, ...] = ()
    film: str | None = None
    retest_on: date | None = None
    session: Session | None = None
    since: date | None = None  # the day from which the difference is said to have closed
    is_record: bool = False  # named by the training log alone

    @property
    def plan(self) -> Plan:
        """The plan that was chosen."""
        return self.choice.plan

    @property
    def measure(self) -> str | None:
        """What it is about."""
        return self.choice.measure

    @property
    def lower_side(self) -> str | None:
        """The side that goes first."""
        return self.choice.lower_side


def next_block(case: Case, catalogue: Catalogue, as_of: date, settings: Settings) -> Block:
    """The block of one athlete at the as-of date."""
    choice = choose(case, catalogue, as_of, settings)
    doses = Doses(catalogue.rules.plan, settings.plan)
    weeks = int(doses("length", "weeks"))
    over = as_of + timedelta(weeks=weeks)
    who = case.athlete["athlete_id"]
    stretches = tuple(
        _mobility(row, catalogue.measures) for row in (choice.stretch,) if row is not None
    )
    if choice.plan == Plan.TRAIN:
        return _train(choice, case, stretches, catalogue, doses, as_of)
    if choice.plan == Plan.MOBILITY:
        return Block(who, choice, weeks, stretches, retest_on=over)
    return Block(who, choice, weeks, retest_on=over if choice.plan == Plan.STOP else None)


def _train(
    choice: Choice,
    case: Case,
    stretches: tuple[Step, ...],
    catalogue: Catalogue,
    doses: Doses,
    as_of: date,
) -> Block:
    measure, lower = catalogue.measures[str(choice.measure)], str(choice.lower_side)
    outcome, weeks = choice.outcome, int(doses("length", "weeks"))
    is_closing = choice.stage == "closing"
    session = training_session(measure, lower, case.usual, catalogue, doses, hold=is_closing)
    filmed = [step for step in session.steps if step.side == "lower first"]
    filmed.sort(key=lambda step: step.seconds_down is None)  # slow work shows more than a jump
    retest_on = as_of + timedelta(weeks=weeks)
    if outcome is not None and choice.stage != "catch_up" and outcome["ends_on"] > as_of:
        retest_on = outcome["ends_on"]
    return Block(
        athlete_id=case.athlete["athlete_id"],
        choice=choice,
        weeks=weeks,
        steps=(*session.steps, *stretches),
        film=filmed[0].name if filmed else None,
        retest_on=retest_on,
        session=session,
        since=_closing_since(choice, case) if is_closing else None,
        is_record=measure.is_record,
    )


def _closing_since(choice: Choice, case: Case) -> date | None:
    if choice.outcome is not None:
        began: date = choice.outcome["started_on"]
        return began
    since = (row["reference_on"] for row in case.found if row["measure"] == choice.measure)
    return next(since, None)


def _mobility(row: Row, measures: Mapping[str, Measure]) -> Step:
    joint = measures[row["measure"]].joint
    return Step("mobility", joint, "lower only", 2, 10, None, None, per_week=3.0)
