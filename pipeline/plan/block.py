"""The next block of training for one athlete: what follows from the plan that was chosen."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Group, Measure
from pipeline.plan.choice import Case, Choice, choose
from pipeline.plan.graded import graded_return
from pipeline.programme.days import next_day
from pipeline.programme.draft import Brief
from pipeline.programme.log import Log
from pipeline.programme.making import programme
from pipeline.programme.step import Film, Programme, Session, Step
from pipeline.review.differences.stories import WHOLE_LEG, story_of
from pipeline.settings import Settings
from schemas.plan_words import CountedIn, Plan, PlanNote, Stage
from schemas.vocabulary import MeasureGroup, Reason, StepSide

__all__ = ["Block", "Case", "Choice", "Step", "next_block"]

Row = Mapping[str, Any]
HELD_EXTRA = 2  # repetitions of an extra while a difference is closing
TESTED_IN = (CountedIn.REPS, CountedIn.S)  # units of tests that a ladder may go by
# Weeks until a test is due again, by what it is about; its group's own weeks are the bounds.
DUE_RANGE, DUE_JUMP, DUE_STRENGTH, DUE_SIZE = 4, 6, 7, 8


@dataclass(frozen=True)
class Block:
    """What one athlete does next, and why."""

    athlete_id: str
    choice: Choice
    weeks: int
    programme: Programme | None = None
    retest_on: date | None = None
    since: date | None = None  # the day from which the difference is said to have closed
    is_record: bool = False  # named by the training log alone
    week: int = 1  # of the block's weeks, that of the as-of date
    because_of: str | None = None  # the flag that it follows from
    test_days: tuple[date, ...] = ()  # training days of one's own in the week of the test

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

    @property
    def sessions(self) -> tuple[Session, ...]:
        """The days of training, in order."""
        return () if self.programme is None else self.programme.sessions

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps, session by session."""
        return () if self.programme is None else self.programme.steps

    @property
    def film(self) -> Film | None:
        """Which set is filmed."""
        return None if self.programme is None else self.programme.film

    @property
    def notes(self) -> tuple[PlanNote, ...]:
        """Why the programme is as it is."""
        return () if self.programme is None else self.programme.notes


def next_block(case: Case, catalogue: Catalogue, as_of: date, settings: Settings) -> Block:
    """The block of one athlete at the as-of date."""
    block = _on_days_of_work(_block(case, catalogue, as_of, settings), catalogue, as_of)
    return replace(block, because_of=_because_of(block.choice, case))


def _on_days_of_work(block: Block, catalogue: Catalogue, as_of: date) -> Block:
    """The same with no test on a day when nearly everybody is off; what a meeting named stands."""
    rules, wanted = catalogue.test_day, block.retest_on
    if wanted is None or (block.plan == Plan.RETEST and block.choice.until is not None):
        return block
    days = tuple(day for day in block.test_days if not rules.is_off(day))
    own = wanted in block.test_days and days
    return replace(block, test_days=days, retest_on=days[0] if own else rules.near(wanted, as_of))


def _because_of(choice: Choice, case: Case) -> str | None:
    """The flag the choice names, else that of the same test, the most pressing first."""
    if choice.flag is not None:
        return str(choice.flag["flag_id"])
    if choice.plan == Plan.MEDICAL:
        referred = (flag["flag_id"] for flag in case.flags if flag["reason"] == Reason.REFER)
        return next(referred, None)
    same = (flag["flag_id"] for flag in case.flags if flag["measure"] == choice.measure)
    return next(same, None) if choice.measure is not None else None


def _block(case: Case, catalogue: Catalogue, as_of: date, settings: Settings) -> Block:
    choice = choose(case, catalogue, as_of, settings)
    rules = Doses(catalogue.rules.plan, settings.plan)
    weeks = int(rules("length", "weeks"))
    who = case.athlete["athlete_id"]
    if choice.plan in (Plan.TRAIN, Plan.MOBILITY):
        return _trained(choice, case, catalogue, settings, as_of)
    if choice.plan == Plan.RETURN:
        steps = graded_return(choice, case, catalogue, rules, as_of)
        return Block(who, choice, steps.weeks if steps else 1, steps)
    if choice.plan == Plan.RETEST:
        until = choice.until or as_of + timedelta(weeks=settings.review.retest_weeks)
        return Block(who, choice, weeks, retest_on=until if until >= as_of else None)
    over = as_of + timedelta(weeks=weeks)
    return Block(who, choice, weeks, retest_on=over if choice.plan == Plan.STOP else None)


def _trained(choice: Choice, case: Case, book: Catalogue, settings: Settings, as_of: date) -> Block:
    """The block of a plan to train or of mobility.

    A block that runs keeps the days and exercises of its beginning, with today's loads; one that
    was hardly done begins anew with less, from the days that were trained since.
    """
    rules = Doses(book.rules.plan, settings.plan)
    measure, lower = book.measures[str(choice.measure)], str(choice.lower_side)
    outcome, weeks = choice.outcome, int(rules("length", "weeks"))
    begins = _is_running(choice, as_of)
    started_on = outcome["started_on"] if begins and outcome is not None else as_of
    log = case.log_then if begins and case.log_then is not None else case.log
    brief = Brief(
        measure=measure,
        group=_group(choice, case, book, begins=begins),
        lower=lower,
        log=log,
        who=replace(case.who, both_behind=measure.id in case.both_behind),
        book=book,
        rules=rules,
        weeks=weeks,
        even_share=settings.review.training_share,
        tested=_tested(choice, case, measure, lower),
        is_slim=choice.stage == Stage.CATCH_UP,
    )
    ranges = tuple(_ranges(choice, case, brief))
    hold = None
    if choice.stage == Stage.CLOSING:  # what was done goes on at its least, nothing new is begun
        hold = HELD_EXTRA if outcome is not None else 0
    made = programme(brief, started_on, ranges, hold=hold)
    if begins:
        made = _with_loads_of(case.log, made, lower)
    made = _without(made, case.who.hurt)
    week = (as_of - made.starts_on).days // 7 + 1 if begins else 1
    is_closing = choice.stage == Stage.CLOSING
    due = made.starts_on + timedelta(weeks=_due_weeks(brief))
    if begins and outcome is not None:
        due = outcome["ends_on"]
    test_days = _own_days_of(due, case.log)
    return Block(
        athlete_id=case.athlete["athlete_id"],
        choice=choice,
        weeks=weeks,
        programme=made,
        retest_on=next(iter(test_days), due),
        test_days=test_days,
        since=_closing_since(choice, case) if is_closing else None,
        is_record=measure.is_record,
        week=min(max(week, 1), weeks),
    )


def _group(choice: Choice, case: Case, book: Catalogue, *, begins: bool) -> Group:
    """What the test's group does; of a whole leg its push, with the small exercise of the surest
    test. A block that runs keeps what was known when it began."""
    coaching, measure = book.coaching, book.measures[str(choice.measure)]
    own = coaching.group_of(measure, book.exercises)
    told = case.stories_then if begins and case.stories_then is not None else case.stories
    story = story_of(told, choice.measure, choice.lower_side)
    if story is None or story.quality != WHOLE_LEG or choice.plan != Plan.TRAIN:
        return own
    surest = coaching.group_of(book.measures[story.measures[0]], book.exercises)
    push = coaching.groups[book.stories.whole_leg.trained_as]
    base = own if own.id == push.id else push
    return replace(
        base, isolation=surest.isolation, isolation_both=False, retest_weeks=own.retest_weeks
    )


def _is_running(choice: Choice, as_of: date) -> bool:
    outcome = choice.outcome
    return outcome is not None and choice.stage != Stage.CATCH_UP and outcome["ends_on"] > as_of


def _tested(choice: Choice, case: Case, measure: Measure, lower: str) -> float | None:
    """The lower side's last test, where repetitions or seconds follow from it."""
    if measure.unit not in TESTED_IN:
        return None
    rows = (row for row in case.found if row["measure"] == choice.measure)
    return next((row[f"{lower}_value"] for row in rows), None)


def _ranges(choice: Choice, case: Case, brief: Brief) -> Iterator[str]:
    """Drills for the tighter side beside a plan to train: a range that is one of the findings, or
    that goes with the test and has the same side lower."""
    group, book = brief.group, brief.book
    if choice.stretch is not None and choice.plan == Plan.TRAIN:
        tight = choice.stretch
        if tight["lower_side"] == brief.lower:
            yield book.coaching.for_measure[tight["measure"]].mobility
    for row in case.found:
        is_less = row["lower_side"] == brief.lower and row["chance_over_line"] >= 0.5
        if group.range and row["measure"] in group.range_if and is_less:
            yield group.range


def _due_weeks(brief: Brief) -> int:
    group = brief.group
    if group.mobility:
        due = DUE_RANGE
    elif group.jumps:
        due = DUE_JUMP
    else:
        due = DUE_SIZE if brief.measure.group == MeasureGroup.SIZE else DUE_STRENGTH
    length = int(brief.rules("length", "weeks"))
    standard = int(brief.rules.plan["length"].values["weeks"])
    low, high = group.retest_weeks
    return min(max(due, low), high) + length - standard


def _own_days_of(due: date, log: Log) -> tuple[date, ...]:
    """Training days of one's own in the week from then on, so that nobody comes in for a test."""
    return tuple(sorted(next_day(due - timedelta(days=1), day) for day in log.own_days))


def _with_loads_of(log: Log, made: Programme, lower: str) -> Programme:
    """The same with what the lower side has controlled since, never more than it has."""

    def today(step: Step) -> Step:
        one = log.one_sided(step.exercise)
        if one is None or step.side == StepSide.BOTH:
            return step
        load = one.by_side[lower]["load_kg"]
        return replace(step, load_kg=load, is_new=step.is_new and not log.has(step.exercise))

    sessions = tuple(
        replace(one, steps=tuple(today(step) for step in one.steps)) for one in made.sessions
    )
    return replace(made, sessions=sessions)


def _without(made: Programme, hurt: frozenset[str]) -> Programme:
    """The same without exercises that hurt this week; next week looks at them anew."""
    if not any(step.exercise in hurt for step in made.steps):
        return made
    names = {step.name for step in made.steps if step.exercise in hurt}
    sessions = tuple(
        replace(one, steps=tuple(step for step in one.steps if step.exercise not in hurt))
        for one in made.sessions
    )
    film = None if made.film is not None and made.film.exercise in names else made.film
    return replace(made, sessions=sessions, film=film, left_out=tuple(sorted(names)))


def _closing_since(choice: Choice, case: Case) -> date | None:
    if choice.outcome is not None:
        began: date = choice.outcome["started_on"]
        return began
    since = (row["reference_on"] for row in case.found if row["measure"] == choice.measure)
    return next(since, None)
