"""The little more that the lower side does at the very end, and why there may be none."""

from collections.abc import Sequence
from dataclasses import replace

from pipeline.catalogue import Exercise
from pipeline.programme.draft import Brief, Day
from pipeline.programme.ladder import extra_of
from pipeline.programme.pick import Picked
from pipeline.programme.step import Dose, Step
from schemas.plan_words import CountedIn, PlanNote, StepPart

MANY_SETS = 10  # of a side a week in this work: order and effort change, nothing is added
EVEN_WEEKS = 3  # without an extra, where the other side did more or sets were far from the end
MUCH_RESERVE = 4.0


def bearer_of(brief: Brief, day: Day) -> Step | None:
    """The step of a day whose lower side does a little more; the last that is there for it."""
    wanted = brief.group.extra
    if wanted == "none":
        return None
    if wanted == "jumps":
        return next(
            (step for step in day.steps if step.part == StepPart.JUMPS and step.is_of_lower), None
        )
    steps = [step for step in day.steps if step.part in (StepPart.ONE_SIDE, StepPart.ISOLATION)]
    steps = [step for step in steps if step.is_of_lower and not step.is_empty]
    named = [step for step in steps if step.exercise == wanted]
    if wanted == "isolation":
        named = [step for step in steps if step.part == StepPart.ISOLATION]
    return next(iter(named or [step for step in steps if step.part == StepPart.ONE_SIDE]), None)


def wanted_extra(
    brief: Brief, bearers: Sequence[Step | None], notes: Sequence[PlanNote], hold: int | None
) -> tuple[int, ...]:
    """Repetitions more for the lower side, week by week, before the weekly ceiling."""
    nothing = (0,) * brief.weeks
    who = brief.who
    is_left_alone = who.is_growing or who.both_behind or who.pain >= brief.book.rules.pain_note
    if is_left_alone or brief.is_slim or not any(bearers):
        return nothing
    if hold == 0:
        return nothing
    group = brief.group
    name = group.jump_ladder if group.extra == "jumps" else group.ladder
    first = next(step for step in bearers if step is not None)
    if name in ("many", "inner_thigh", "hold") and group.extra != "jumps":
        name = ladder_of(brief, brief.book.exercises[first.exercise])
    most = min(group.extra_most, max(brief.rules("extra_work", "reps")))
    wanted = extra_of(brief.book.coaching.ladders[name], brief.weeks, most)
    if who.is_under_16:
        wanted = tuple(figure // 2 for figure in wanted)
    begins = EVEN_WEEKS if {PlanNote.OTHER_DOES_MORE, PlanNote.FAR_FROM_THE_END} & {*notes} else 0
    begins = max([begins, *(2 for step in bearers if step is not None and step.is_new)])
    wanted = tuple(0 if week < begins else figure for week, figure in enumerate(wanted))
    return wanted if hold is None else tuple(min(figure, hold) for figure in wanted)


def extra_step(brief: Brief, bearer: Step, extra: Sequence[int]) -> Step:
    reserve = bearer.dose.in_reserve
    sets = bearer.dose.sets if bearer.part == StepPart.JUMPS and bearer.unit != CountedIn.S else 1
    weeks = tuple(Dose(sets, figure, reserve) if figure else None for figure in extra)
    return replace(
        bearer, part=StepPart.EXTRA, side=brief.alone, weeks=weeks, instead_of=(), offer="",
        later=None, is_new=False,
    )  # fmt: skip


def notes_of(brief: Brief, mains: Sequence[Picked | None]) -> tuple[PlanNote, ...]:
    """Why a plan is as it is, by what the log shows of its lifts."""
    log = brief.log
    notes: list[PlanNote] = []
    ids = {one.exercise.id for one in mains if one is not None and not one.is_new}
    rows = [log.usual[name].by_side for name in sorted(ids)]
    lower = sum(by[brief.lower]["weekly_reps"] for by in rows)
    other = sum(by[brief.other]["weekly_reps"] for by in rows)
    if rows and lower < brief.even_share * other:
        notes.append(PlanNote.OTHER_DOES_MORE)
    own = {*brief.group.main, *brief.group.isolation, *ids}
    sets = sum(
        one.by_side[brief.lower]["typical_sets"] * one.by_side[brief.lower]["per_week"]
        for name, one in log.usual.items()
        if name in own and one.is_one_sided
    )
    if rows and sets >= MANY_SETS:
        notes.append(PlanNote.MANY_SETS)
    reserves = [by[brief.lower]["rir"] for by in rows]
    if reserves and all(one is not None and one >= MUCH_RESERVE for one in reserves):
        notes.append(PlanNote.FAR_FROM_THE_END)
    if brief.who.is_growing:
        notes.append(PlanNote.GROWING)
    if brief.who.both_behind:
        notes.append(PlanNote.BOTH_BEHIND)
    if brief.who.pain >= brief.book.rules.pain_note:
        notes.append(PlanNote.PAIN_NOTED)
    if len(log.own_days) == 1:
        notes.append(PlanNote.ONE_DAY)
    return tuple(notes)


def ladder_of(brief: Brief, one: Exercise) -> str:
    """The group's; where it goes by a test that was not done, or by a hold, that of strength."""
    ladder = brief.book.coaching.ladders[brief.group.ladder]
    if ladder.share and not brief.tested:
        return "strength"
    if ladder.id == "inner_thigh" and one.hold_s is None:
        return "strength"
    if ladder.add_s and one.hold_s is None and one.counted_in == CountedIn.REPS:
        return "strength"
    return ladder.id
