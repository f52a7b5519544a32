"""Replaced before added: what a plan takes the place of, and what goes on as the log has it."""

from dataclasses import replace
from math import ceil

from pipeline.programme.ceiling import Week, beside_the_plan, most
from pipeline.programme.draft import Brief, Day, pair_step
from pipeline.programme.log import Usual, counted
from pipeline.programme.pick import Shelf
from pipeline.programme.step import Dose, Step
from schemas.catalogue_words import LiftType
from schemas.plan_words import StepPart


def shelf_of(brief: Brief) -> Shelf:
    return Shelf(brief.measure, brief.group, brief.log, brief.book, brief.who.is_under_16)


def as_logged(brief: Brief, step: Step) -> Step:
    """Order and effort only: sets and repetitions as they are."""
    one = brief.log.one_sided(step.exercise)
    if one is None:
        return step
    rows = (one.by_side["left"], one.by_side["right"])
    sets, reps = (max(1, int(min(row[name] for row in rows)))
                  for name in ("typical_sets", "typical_reps"))  # fmt: skip
    weeks = tuple(
        None if dose is None else Dose(sets, reps, dose.in_reserve) for dose in step.weeks
    )
    return replace(step, weeks=weeks)


def in_place_of_some(brief: Brief, day: Day, step: Step) -> Step:
    """A new exercise takes one or two sets of a two-sided lift of that day, never the last one."""
    if not step.is_new:
        return step
    one = brief.book.exercises[step.exercise]
    for pair in day.pairs:
        is_alike = pair.exercise.pattern in (one.pattern, *brief.measure.patterns)
        if not (is_alike or one.id in pair.exercise.twins) or pair.exercise.id in day.replaced:
            continue
        taken = min(2, step.dose.sets, max(1, int(pair.by_side["both"]["typical_sets"])) - 1)
        if taken > 0:
            day.replaced[pair.exercise.id] = taken
            day.replaced[step.exercise] = taken
            return replace(step, instead_of=(pair.exercise.name,))
    return step


def make_room(brief: Brief, days: list[Day]) -> None:
    """One lift of one side that does not train the test is left out on a day of a new main lift,
    where the weekly ceiling would cut that short."""
    reference, base = beside_the_plan(brief, days)
    needed = Week(brief, days, 0, base).total() - most(reference, brief.rules)
    if needed <= 0:
        return
    shelf = shelf_of(brief)
    planned = {step.exercise for day in days for step in day.steps}
    for day in days:
        place = next(
            (n for n, s in enumerate(day.steps) if s.part == StepPart.ONE_SIDE and s.is_new), None
        )
        if place is None:
            continue
        found = [
            one
            for one in brief.log.usual.values()
            if one.is_one_sided
            and one.exercise.type == LiftType.COMPOUND
            and one.exercise.region == brief.measure.region
            and one.exercise.pattern != "plyometric"
            and one.exercise.id not in planned
            and (day.weekday is None or day.weekday in one.weekdays)
            and not shelf.trains(one.exercise)
        ]
        if found:
            out = max(found, key=lambda one: (one.weekly(brief.lower), one.exercise.id))
            day.swapped.append(out.exercise.id)
            step = day.steps[place]
            day.steps[place] = replace(step, instead_of=(*step.instead_of, out.exercise.name))
            return


def keep_the_other_side(brief: Brief, days: list[Day]) -> None:
    """More sets of the other side where equal work would leave it less than what keeps it."""
    logged, base = beside_the_plan(brief, days, brief.other)
    least = float(brief.rules("maintenance", "keep_share")) * logged
    missing = least - Week(brief, days, 0, base, of_other=True).total()
    for day in days:
        for step in list(day.steps):
            one = brief.log.one_sided(step.exercise)
            dose = step.weeks[0]
            if missing <= 0 or step.part != StepPart.ONE_SIDE or one is None or dose is None:
                continue
            sets = ceil(missing / counted(one.exercise, dose.reps))
            more = Dose(sets, dose.reps, dose.in_reserve)
            day.steps.append(replace(step, side=brief.other, weeks=(more,) * brief.weeks))
            missing = 0.0


def has_lowering(brief: Brief, day: Day) -> bool:
    """Whether the log has the slow lowering of both legs on this day: it goes on by its ladder."""
    nordic = brief.log.usual.get("nordic_lowering")
    return (
        nordic is not None
        and "both" in nordic.by_side
        and "nordic_lowering" in brief.group.main
        and brief.log.has("nordic_lowering")
        and not brief.who.is_under_16
        and (day.weekday is None or day.weekday in nordic.weekdays)
    )


def lowering_step(brief: Brief, number: int) -> Step:
    ladder = brief.book.coaching.ladders["lowering"]
    one = brief.book.exercises["nordic_lowering"]
    is_used = brief.log.weeks.get(one.id, 0) >= 6
    usual = Usual(one, brief.log.usual[one.id].by_side)
    doses: list[Dose | None] = []
    for week in range(brief.weeks):
        at = min(week, len(ladder.sets) - 1)
        once = ladder.sessions[at] == 1 or is_used
        reps = 5 if is_used else ladder.reps[at]
        doses.append(None if once and number > 0 else Dose(ladder.sets[at], reps))
    step = pair_step(brief, usual, 0)
    return replace(step, weeks=tuple(doses), seconds_down=None, load_kg=None)
