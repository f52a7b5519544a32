"""The coming week of every card, set by set and side by side, as a log would hold it."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from pipeline.plan.block import Block
from pipeline.programme.step import Programme, Session, Step, other_of
from schemas.plan_words import CountedIn, StepPart
from schemas.vocabulary import StepSide

WEEK_DAYS = 7


@dataclass(frozen=True)
class PlannedSet:
    """One set of one side, as a card plans it; `side` is left, right or both."""

    athlete_id: str
    day: date
    session: str  # its letter
    order: int  # of the exercise in the session
    part: StepPart
    exercise: str
    name: str
    set_number: int
    side: str
    reps: int
    unit: CountedIn
    load_kg: float | None


def training_week(block: Block, as_of: date) -> tuple[PlannedSet, ...]:
    """The sets of the seven days after the as-of date, in the order in which they are done.

    A session without a weekday of its own stands two days after the one before, from tomorrow on.
    """
    made = block.programme
    if made is None:
        return ()
    dated = [(_day(made, place, as_of), one) for place, one in enumerate(made.sessions)]
    return tuple(
        planned
        for day, session in sorted(dated, key=lambda one: (one[0], one[1].letter))
        for planned in _of_session(block, made, session, day)
    )


def _day(made: Programme, place: int, as_of: date) -> date:
    session = made.sessions[place]
    if session.weekday is not None:
        return as_of + timedelta(days=(session.weekday - as_of.weekday() - 1) % WEEK_DAYS + 1)
    free = [one for one in made.sessions[:place] if one.weekday is None]
    return as_of + timedelta(days=min(1 + 2 * len(free), WEEK_DAYS))


def _of_session(block: Block, made: Programme, session: Session, day: date) -> Iterator[PlannedSet]:
    week = (day - made.starts_on).days // WEEK_DAYS
    if week >= made.weeks:
        return
    done: Counter[tuple[str, str]] = Counter()  # sets before, by exercise and side
    for order, step in enumerate(session.steps, start=1):
        dose = step.weeks[max(week, 0)]
        if dose is None:
            continue
        later = step.later is not None and max(week, 0) + 1 >= step.later[0]
        exercise, name = step.later[1:] if later and step.later else (step.exercise, step.name)
        for number in range(dose.sets):
            for side in _sides(step, number):
                done[exercise, side] += 1
                yield PlannedSet(
                    athlete_id=block.athlete_id,
                    day=day,
                    session=session.letter,
                    order=order,
                    part=step.part,
                    exercise=exercise,
                    name=name,
                    set_number=done[exercise, side],
                    side=side,
                    reps=dose.reps,
                    unit=step.unit,
                    load_kg=step.load_kg,
                )


def _sides(step: Step, number: int) -> tuple[str, ...]:
    """The sides of one set, counted from 0, in their order; a set of both is one line.

    What wakes a side up is done once by the other.
    """
    if step.side in (StepSide.LEFT_FIRST, StepSide.RIGHT_FIRST):
        first = step.side.removesuffix("_first")
        is_alone = step.part == StepPart.ACTIVATION and number > 0
        return (first,) if is_alone else (first, other_of(first))
    return (step.side,)
