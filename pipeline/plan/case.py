"""What is known of one athlete, and what follows from it: a case and its choice."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pipeline.programme.log import Log
from pipeline.programme.who import Who
from pipeline.review.differences.stories import Story
from schemas.plan_words import FastWork, Plan, PlanReason, Stage

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Case:
    """All that is known of one athlete: that athlete's rows of what was found, and no others'."""

    athlete: Row
    found: Sequence[Row]
    flags: Sequence[Row]  # in meeting order, with where they stand; accepted ones last
    outcomes: Sequence[Row]
    equal_loads: Sequence[Row] = ()  # of `mart_log_loads`, by design
    work: Sequence[Row] = ()  # of `work_by_side`
    closed: Sequence[Row] = ()  # flags that were decided as done: flag_id, measure, decided_on
    log: Log = field(default_factory=Log)  # up to the as-of date
    log_then: Log | None = None  # up to the day on which a running block began
    who: Who = field(default_factory=Who)
    both_behind: frozenset[str] = frozenset()  # tests with both sides below their earlier level
    stories: Sequence[Story] = ()  # what several tests of one limb say together
    stories_then: Sequence[Story] | None = None  # on the day on which a running block began


@dataclass(frozen=True)
class Choice:
    """What one athlete does next, and because of what."""

    plan: Plan
    flag: Row | None = None  # it is because of; null where no flag is
    measure: str | None = None  # to be trained, tested or left as it is
    lower_side: str | None = None
    part: str | None = None  # whose work it is about: a part of the body, see `stg_sets`
    stage: Stage = Stage.NEW  # of train, mobility and stop
    outcome: Row | None = None  # row of the outcomes this goes on from
    ended: tuple[Row, ...] = ()  # rows of the outcomes that end without change, the surest first
    stretch: Row | None = None  # finding of a range to be worked on beside the plan
    step: int = 0  # of a graded return, from 1
    fast: FastWork | None = None  # of a return: which landings or throws
    limits: str | None = None  # of a return: what staff wrote
    until: date | None = None  # the day on which what was decided is looked at again
    story: Story | None = None  # that what is trained or tested is part of
    handling: str | None = None  # of a known difference, by the practice rule it falls under
    why: PlanReason = PlanReason.FLAG
