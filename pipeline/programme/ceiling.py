"""How much a plan may hold: added sets of a session, and the lower side's repetitions in a week.

Reference is what the last logged weeks hold, then the heaviest week planned so far. What is over
goes in this order: the extra, sets for one muscle, main sets, sets with both sides.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import floor, inf

from pipeline.catalogue import Doses
from pipeline.programme.draft import Brief, Day
from pipeline.programme.ladder import LEAST_REPS as LOADED_LEAST_REPS
from pipeline.programme.ladder import is_lighter
from pipeline.programme.step import COUNTED_PARTS, Dose, Step, counted
from schemas.plan_words import CountedIn, StepPart

STEADY_WEEKS = 3  # an extra of fewer weeks is none: it would come and go
SPOKEN_LEAST = 2  # repetitions of an extra: less is not worth walking back to the rack
LEAST_REPS = 3  # of a set that had to be made shorter


def most(before: float, rules: Doses) -> float:
    """Most weekly repetitions of a side after weeks with so many; without any, all is new."""
    share, least = rules("weekly_increase", "max_share"), rules("weekly_increase", "least_reps")
    return float(before + max(share * before, least)) if before > 0 else inf


@dataclass(frozen=True)
class Week:
    """The sessions of one week of a plan, counted; `base` is what goes on beside the plan."""

    brief: Brief
    days: list[Day]
    number: int
    base: float
    of_other: bool = False
    asked: dict[tuple[int, int], Dose] = field(default_factory=dict)  # by the ladder, of each place

    def __post_init__(self) -> None:
        for part in COUNTED_PARTS:
            self.asked.update({(id(day), at): dose for day, at, dose in self.places(part)})

    def total(self) -> float:
        """Repetitions of the lower side (`of_other`: of the other) in that part of the body."""
        return self.base + sum(self._work(step) for day in self.days for step in day.steps)

    def _work(self, step: Step) -> float:
        dose = step.weeks[self.number]
        left_out = self.brief.alone if self.of_other else self.brief.other
        if dose is None or step.part not in COUNTED_PARTS or step.side == left_out:
            return 0.0
        one = self.brief.book.exercises[step.exercise]
        if one.region != self.brief.measure.region or one.pattern == "plyometric":
            return 0.0
        return dose.sets * counted(one, dose.reps, in_seconds=step.unit == CountedIn.S)

    def places(self, part: StepPart) -> Iterator[tuple[Day, int, Dose]]:
        """Day, place and dose of the steps of one part that are done this week, the last first."""
        for day in reversed(self.days):
            for place, step in reversed(list(enumerate(day.steps))):
                dose = step.weeks[self.number]
                if step.part == part and dose is not None:
                    yield day, place, dose

    def change(self, day: Day, place: int, dose: Dose | None) -> None:
        """Give a step another dose in this week."""
        day.steps[place] = day.steps[place].at(self.number, dose)

    def fewer_sets(self, part: StepPart, least: int = 0) -> bool:
        """Take one set off the step of a part that has most; whether there was one."""
        return self._one_set_less([one for one in self.places(part) if one[2].sets > least])

    def fewer_isolation(self) -> bool:
        """Take one set for one muscle off, but the last of those that are there for the test."""
        found = [
            one for one in self.places(StepPart.ISOLATION)
            if one[2].sets > int(one[0].steps[one[1]].is_kept)
        ]  # fmt: skip
        return self._one_set_less(found)

    def _one_set_less(self, found: list[tuple[Day, int, Dose]]) -> bool:
        if not found:
            return False
        day, place, dose = max(found, key=lambda one: one[2].sets)
        left = dose.sets - 1
        self.change(day, place, Dose(left, dose.reps, dose.in_reserve) if left else None)
        return True

    def fewer_reps(self, part: StepPart, least: int = 0) -> bool:
        """Take one repetition off the longest set of a part, down to what is usual or `least`."""
        found = [
            one
            for one in self.places(part)
            if one[2].reps > self._fewest(one[0].steps[one[1]], least)
        ]
        if not found:
            return False
        day, place, dose = max(found, key=lambda one: one[2].reps)
        self.change(day, place, Dose(dose.sets, dose.reps - 1, dose.in_reserve))
        return True

    def _fewest(self, step: Step, least: int) -> int:
        """Repetitions that are not gone below: of a loaded lift six."""
        one = self.brief.book.exercises[step.exercise]
        is_loaded = one.equipment != "bodyweight" and step.unit == CountedIn.REPS
        return max(least or one.reps[0], LOADED_LEAST_REPS if is_loaded else 1)

    def one_day_less(self) -> bool:
        """Leave the main lift out on one of several days, first where the log does not have it."""
        found = list(self.places(StepPart.ONE_SIDE))
        if len(found) < 2:
            return False

        def is_logged(one: tuple[Day, int, Dose]) -> bool:
            usual = self.brief.log.usual.get(one[0].steps[one[1]].exercise)
            return usual is not None and one[0].weekday in usual.weekdays

        day, place, _ = min(found, key=is_logged)
        self.change(day, place, None)
        for other, at, dose in list(self.places(StepPart.ONE_SIDE)):  # those have room again
            reps = self.asked[id(other), at].reps
            self.change(other, at, Dose(dose.sets, reps, dose.in_reserve))
        return True

    def drop(self, part: StepPart) -> bool:
        """Leave the last step of a part out this week; whether there was one."""
        found = next(self.places(part), None)
        if found is None:
            return False
        self.change(found[0], found[1], None)
        return True

    def no_more_than_before(self) -> None:
        """In a lighter week no step has more sets than the week before."""
        for day in self.days:
            for place, step in enumerate(day.steps):
                before, now = step.weeks[self.number - 1], step.weeks[self.number]
                if step.part not in COUNTED_PARTS or now is None:
                    continue
                if before is None:
                    self.change(day, place, None)
                elif now.sets > before.sets:
                    self.change(day, place, Dose(before.sets, now.reps, now.in_reserve))


def beside_the_plan(brief: Brief, days: list[Day], side: str | None = None) -> tuple[float, float]:
    """Weekly repetitions of a side in the log, and of those what goes on beside the plan.

    The lower side's where none is named.

    An exercise of the plan takes the place of what the log has of it on as many of its days.
    """
    log, region, side = brief.log, brief.measure.region, side or brief.lower
    lifts = [
        one
        for one in log.usual.values()
        if one.exercise.region == region and one.exercise.pattern != "plyometric"
    ]
    reference = sum(one.weekly(side) for one in lifts)
    base = reference
    for one in lifts:
        planned = [
            day for day in days if any(_counts_as(step, one.exercise.id) for step in day.steps)
        ]
        if planned:
            share = min(1.0, len(planned) / max(1, len(one.weekdays)))
            base -= share * one.weekly(side)
        for day in days:
            if one.exercise.id in day.swapped:
                base -= one.weekly(side) / max(1, len(one.weekdays))
    return reference, max(base, 0.0)


def _counts_as(step: Step, exercise: str) -> bool:
    return step.exercise == exercise and step.part in COUNTED_PARTS


def hold_added_sets(brief: Brief, day: Day) -> None:
    """No more than three sets of a side are added in a session: half of that under 16.

    The exercise for one muscle gives way first; the last set of one that is there for the test goes
    after the main sets.
    """
    most_added = int(brief.rules("added_work", "sets"))
    allowed = most_added // 2 if brief.who.is_under_16 else most_added
    for number in range(brief.weeks):
        week = Week(brief, [day], number, 0.0)
        while _added(brief, day, number) > allowed:
            if not (
                week.fewer_isolation()
                or week.fewer_sets(StepPart.ONE_SIDE, 1)
                or week.fewer_sets(StepPart.ISOLATION)
            ):
                break
        while _sets(day, number) > brief.group.sets and (
            week.fewer_isolation() or week.fewer_sets(StepPart.ONE_SIDE, 1)
        ):
            continue


def _sets(day: Day, number: int) -> int:
    doses = [
        s.weeks[number] for s in day.steps if s.part in (StepPart.ONE_SIDE, StepPart.ISOLATION)
    ]
    return sum(dose.sets for dose in doses if dose is not None)


def _added(brief: Brief, day: Day, number: int) -> int:
    """Sets of the lower side that a session has more than the log, less those they replace."""
    added = 0
    for step in day.steps:
        dose = step.weeks[number]
        if dose is None or step.part not in (StepPart.ONE_SIDE, StepPart.ISOLATION):
            continue
        one = brief.log.one_sided(step.exercise)
        logged = 0 if one is None else int(one.by_side[brief.lower]["typical_sets"])
        taken = min(dose.sets, day.replaced.get(step.exercise, 0))
        added += max(0, dose.sets - logged - taken)
    return added


def hold_ceiling(
    brief: Brief, days: list[Day], wanted: tuple[int, ...], bearers: list[Step | None], least: int
) -> tuple[float, tuple[float, ...], tuple[int, ...]]:
    """Cut each week to its ceiling; the reference, each week's total, and each week's extra.

    `wanted`: the extra of a session week by week; `bearers`: the step of each day it is of;
    `least`: an extra below that is left out.
    """
    reference, base = beside_the_plan(brief, days)
    heaviest = reference
    totals, extras = [], []
    for number, more in enumerate(wanted):
        week = Week(brief, days, number, base)
        allowed = most(heaviest, brief.rules)
        if is_lighter(number):
            week.no_more_than_before()
        while week.total() > allowed + 1e-9 and (
            week.fewer_isolation()
            or week.fewer_sets(StepPart.ONE_SIDE, 1)
            or week.fewer_sets(StepPart.BOTH_SIDES, 1)
            or week.fewer_reps(StepPart.ONE_SIDE)
            or week.one_day_less()
            or week.fewer_sets(StepPart.ISOLATION)
            or week.drop(StepPart.BOTH_SIDES)
            or week.fewer_reps(StepPart.ONE_SIDE, LEAST_REPS)
            or week.drop(StepPart.ONE_SIDE)
        ):
            continue
        total = week.total()
        held = [step for step in bearers if step is not None]
        done = [step for step in held if _is_done(days, step, number)]
        extra = _fitting(brief, done, more, allowed - total, least) if done else 0
        extras.append(extra)
        total += sum(_extra_work(brief, step, extra) for step in done)
        totals.append(total)
        heaviest = max(heaviest, total)
    if sum(figure > 0 for figure in extras) < min(STEADY_WEEKS, len(wanted)) and any(extras):
        return hold_ceiling(brief, days, (0,) * len(wanted), bearers, least)  # no on and off
    return reference, tuple(totals), tuple(extras)


def _is_done(days: list[Day], bearer: Step, number: int) -> bool:
    steps = (s for day in days for s in day.steps if s.exercise == bearer.exercise)
    return any(step.weeks[number] is not None for step in steps if step.part == bearer.part)


def _fitting(brief: Brief, done: list[Step], more: int, room: float, least: int) -> int:
    each = sum(_extra_work(brief, step, 1) for step in done)
    fits = more if each == 0 or room == inf else min(more, floor(room / each + 1e-9))
    return fits if fits >= least else 0


def _extra_work(brief: Brief, bearer: Step, reps: float) -> float:
    one = brief.book.exercises.get(bearer.exercise)
    if one is None or one.region != brief.measure.region or bearer.part == StepPart.JUMPS:
        return 0.0
    return counted(one, reps, in_seconds=bearer.unit == "s")
