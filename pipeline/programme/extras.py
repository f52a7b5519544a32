"""The little more that the lower side does at the very end, and why there may be none."""

from collections.abc import Sequence
from dataclasses import replace

from pipeline.catalogue import Exercise
from pipeline.programme.draft import Brief, Day
from pipeline.programme.ladder import extra_of
from pipeline.programme.pick import Picked
from pipeline.programme.step import Dose, Step

MANY_SETS = 10  # of a side a week in this work: order and effort change, nothing is added
EVEN_WEEKS = 3  # without an extra, where the other side did more or sets were far from the end
MUCH_RESERVE = 4.0


def bearer_of(brief: Brief, day: Day) -> Step | None:
    """The step of a day whose lower side does a little more; the last that is there for it."""
    wanted = brief.group.extra
    if wanted == "none":
        return None
    if wanted == "jumps":
        return next((step for step in day.steps if step.part == "jumps" and step.is_of_lower), None)
    steps = [step for step in day.steps if step.part in ("one_side", "isolation")]
    steps = [step for step in steps if step.is_of_lower and not step.is_empty]
    named = [step for step in steps if step.exercise == wanted]
    if wanted == "isolation":
        named = [step for step in steps if step.part == "isolation"]
    return next(iter(named or [step for step in steps if step.part == "one_side"]), None)


def wanted_extra(
    brief: Brief, bearers: Sequence[Step | None], notes: Sequence[str], hold: int | None
) -> tuple[int, ...]:
    """Repetitions more for the lower side, week by week, before the weekly ceiling."""
    nothing = (0,) * brief.weeks
    who = brief.who
    is_left_alone = who.is_growing or who.both_behind or who.pain >= brief.book.rules.pain_note
    if is_left_alone or brief.is_slim or "many_sets" in notes or not any(bearers):
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
    begins = EVEN_WEEKS if {"other_does_more", "far_from_the_end"} & {*notes} else 0
    begins = max([begins, *(2 for step in bearers if step is not None and step.is_new)])
    wanted = tuple(0 if week < begins else figure for week, figure in enumerate(wanted))
    return wanted if hold is None else tuple(min(figure, hold) for figure in wanted)


def extra_step(brief: Brief, bearer: Step, extra: Sequence[int]) -> Step:
    reserve = bearer.dose.in_reserve
    sets = bearer.dose.sets if bearer.part == "jumps" and bearer.unit != "s" else 1
    weeks = tuple(Dose(sets, figure, reserve) if figure else None for figure in extra)
    return replace(
        bearer, part="extra", side=brief.alone, weeks=weeks, instead_of=(), offer="", later=None,
        is_new=False,
    )  # fmt: skip


def notes_of(brief: Brief, mains: Sequence[Picked | None]) -> tuple[str, ...]:
    """Why a plan is as it is, by what the log shows of its lifts."""
    log, notes = brief.log, []
    ids = {one.exercise.id for one in mains if one is not None and not one.is_new}
    rows = [log.usual[name].by_side for name in sorted(ids)]
    lower = sum(by[brief.lower]["weekly_reps"] for by in rows)
    other = sum(by[brief.other]["weekly_reps"] for by in rows)
    if rows and lower < brief.even_share * other:
        notes.append("other_does_more")
    own = {*brief.group.main, *brief.group.isolation, *ids}
    sets = sum(
        one.by_side[brief.lower]["typical_sets"] * one.by_side[brief.lower]["per_week"]
        for name, one in log.usual.items()
        if name in own and one.is_one_sided
    )
    if rows and sets >= MANY_SETS:
        notes.append("many_sets")
    reserves = [by[brief.lower]["rir"] for by in rows]
    if reserves and all(one is not None and one >= MUCH_RESERVE for one in reserves):
        notes.append("far_from_the_end")
    if brief.who.is_growing:
        notes.append("growing")
    if brief.who.both_behind:
        notes.append("both_behind")
    if brief.who.pain >= brief.book.rules.pain_note:
        notes.append("pain_noted")
    if len(log.own_days) == 1:
        notes.append("one_day")
    return tuple(notes)


def ladder_of(brief: Brief, one: Exercise) -> str:
    """The group's; where it goes by a test that was not done, or by a hold, that of strength."""
    ladder = brief.book.coaching.ladders[brief.group.ladder]
    if ladder.share and not brief.tested:
        return "strength"
    if ladder.id == "inner_thigh" and one.hold_s is None:
        return "strength"
    if ladder.add_s and one.hold_s is None and one.counted_in == "reps":
        return "strength"
    return ladder.id
