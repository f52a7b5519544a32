"""From a test, a lower side and an athlete's own week to sessions on days, week by week."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from pipeline.catalogue import Exercise, Group
from pipeline.programme.ceiling import SPOKEN_LEAST, hold_added_sets, hold_ceiling
from pipeline.programme.days import next_day, session_days
from pipeline.programme.draft import (
    SHOWN_PAIRS,
    Brief,
    Day,
    isolation_step,
    jump_steps,
    main_step,
    pair_step,
    range_steps,
    wake_step,
)
from pipeline.programme.ladder import extra_of
from pipeline.programme.log import Usual
from pipeline.programme.pick import Picked, Shelf, pick_isolation, pick_jumps, pick_mains
from pipeline.programme.step import Dose, Film, Programme, Session, Step, in_order

LETTERS = "ABCDEFG"
MANY_SETS = 10  # of a side a week in this work: order and effort change, nothing is added
EVEN_WEEKS = 3  # without an extra, where the other side did more or sets were far from the end
MUCH_RESERVE = 4.0
RANGE_DAYS = 3
PAIN_NOTED = 3.0
EVEN_SHARE = 0.9  # of the other side's work: below that the other side does more


def programme(
    brief: Brief, starts_after: date, ranges: Sequence[str] = (), *, hold: int | None = None
) -> Programme:
    """The sessions that train a test. `ranges`: drills for the tighter side at their end.

    `hold`: the extra stays at so many repetitions, since a difference that closes needs no more.
    """
    group = brief.group
    days = [Day(day) for day in _weekdays(brief)]
    _give_pairs(brief, days)
    mains = _mains_of_days(brief, days)
    notes = _notes(brief, mains)
    if "many_sets" in notes or brief.is_slim:
        brief = replace(brief, group=replace(group, isolation=(), extra="main"))
    isolation = _isolation_of_days(brief, days, mains)
    shelf = _shelf(brief)
    jumps = pick_jumps(shelf)
    for number, day in enumerate(days):
        _fill(brief, day, number, mains[number], isolation[number], jumps, notes)
        hold_added_sets(brief, day, keeps_isolation=number == len(days) - 1)
    bearers = [_bearer(brief, day) for day in days]
    wanted = _wanted_extra(brief, bearers, notes, hold)
    least = 1 if group.extra == "jumps" else SPOKEN_LEAST
    reference, weekly, extra = hold_ceiling(brief, days, wanted, bearers, least)
    for day, bearer in zip(days, bearers, strict=True):
        if bearer is not None and any(extra):
            day.steps.append(_extra_step(brief, bearer, extra))
        for drill in dict.fromkeys((group.mobility, *ranges)):
            if drill:
                day.steps += range_steps(brief, drill)
    sessions = [
        Session(LETTERS[number], day.weekday, in_order(day.steps))
        for number, day in enumerate(days)
    ]
    sessions += _at_home(brief, sessions, [name for name in (group.mobility, *ranges) if name])
    if not any(True for session in sessions for _ in session.of("one_side")) and not group.jumps:
        notes = (*notes, "no_fit")
    return Programme(
        sessions=tuple(sessions),
        weeks=brief.weeks,
        starts_on=_starts_on(starts_after, sessions),
        film=_film(brief, sessions),
        reference=reference,
        weekly=weekly,
        notes=notes,
    )


def _shelf(brief: Brief) -> Shelf:
    return Shelf(brief.measure, brief.group, brief.log, brief.book, brief.who.is_under_16)


def _weekdays(brief: Brief) -> tuple[int | None, ...]:
    """Own days on which this part of the body is trained go first, then those with least of it."""
    region = brief.measure.region
    near = [one for one in brief.log.usual.values() if one.exercise.region == region]
    own = {*brief.group.main, *brief.group.isolation, *brief.group.jumps}

    def worth(day: int) -> float:
        on_day = [one for one in near if day in one.weekdays]
        return 10.0 * sum(one.exercise.id in own for one in on_day) + bool(on_day)

    return session_days(
        brief.log.own_days, brief.group.sessions, worth, int(brief.rules("apart", "days"))
    )


def _give_pairs(brief: Brief, days: list[Day]) -> None:
    """The two-sided lifts of the log on their days, those that train the test first."""
    shelf = _shelf(brief)
    compound = [
        one
        for one in brief.log.two_sided(brief.measure.region)
        if one.exercise.type == "compound" and one.exercise.pattern != "plyometric"
    ]
    olympic = [
        one
        for one in (*brief.log.two_sided("trunk"),)
        if one.exercise.pattern == "olympic" and brief.measure.region == "lower"
    ]
    ranked = sorted(compound, key=lambda one: not shelf.trains(one.exercise))
    for number, one in enumerate(ranked):
        for place, day in enumerate(days):
            fits_day = day.weekday in one.weekdays
            if day.weekday is None:  # nobody knows the days: share them out
                fits_day = number % len(days) == place
            if fits_day and len(day.pairs) < SHOWN_PAIRS:
                day.pairs.append(one)
    for one in olympic[:1]:
        for day in days:
            if day.weekday in one.weekdays:
                day.steps.append(pair_step(brief, one, 0))


def _mains_of_days(brief: Brief, days: list[Day]) -> list[Picked | None]:
    """The first session takes the first main, the second the next one that the log has.

    What the log has stays on its weekday. Of three sessions the middle one has none.
    """
    found = pick_mains(_shelf(brief))
    if not found:
        return [None] * len(days)
    first, second = found[0], found[-1]
    places = [0, len(days) - 1] if len(days) > 1 else [0]

    def stays(one: Picked, day: Day) -> bool:
        usual = brief.log.usual.get(one.exercise.id)
        return usual is not None and day.weekday in usual.weekdays

    order = [first, second][: len(places)]
    if len(places) == 2 and first != second:
        kept = stays(first, days[places[0]]) + stays(second, days[places[1]])
        turned = stays(second, days[places[0]]) + stays(first, days[places[1]])
        if turned > kept:
            order.reverse()
    mains: list[Picked | None] = [None] * len(days)
    for place, one in zip(places, order, strict=True):
        mains[place] = one
    return mains


def _isolation_of_days(
    brief: Brief, days: list[Day], mains: Sequence[Picked | None]
) -> list[Picked | None]:
    """One small exercise in each session with a main; new ones only as far as new ones go.

    One new exercise a block, two where the log holds none that trains the test.
    """
    picked = [one for one in mains if one is not None]
    news = len({one.exercise.id for one in picked if one.is_new})
    shelf = _shelf(brief)
    if brief.group.jumps and brief.group.jumps[0] not in brief.book.coaching.drills:
        news += any(one.is_new for one in pick_jumps(shelf)[:1])
    holds_none = not any(shelf.trains(one.exercise) for one in brief.log.usual.values())
    room = (2 if holds_none or news else 1) - news
    found = pick_isolation(shelf, picked, may_be_new=room > 0)
    if found and found[0].is_new:
        both = brief.group.id == "arm_size"  # both of its muscles, each in a session of its own
        found = found[: 2 if both else max(room, 1)]
    if not found:
        return [None] * len(days)
    places = [number for number, one in enumerate(mains) if one is not None]
    chosen: list[Picked | None] = [None] * len(days)
    for turn, place in enumerate(places):
        chosen[place] = found[turn % len(found)]
    return chosen


def _fill(
    brief: Brief,
    day: Day,
    number: int,
    main: Picked | None,
    isolation: Picked | None,
    jumps: Sequence[Picked],
    notes: Sequence[str],
) -> None:
    ladders = brief.book.coaching.ladders
    wake = wake_step(brief, number)
    day.steps.append(wake)
    if brief.group.jumps:
        day.steps += jump_steps(brief, jumps, number, wake)
    if main is not None:
        ladder = ladders[_ladder_of(brief, main.exercise)]
        step = main_step(brief, main, ladder)
        if "many_sets" in notes or brief.is_slim:
            step = _as_logged(brief, step)
        day.steps.append(_instead(brief, day, step))
        if _lowering(brief, day):
            day.steps.append(_lowering_step(brief, number))
    if isolation is not None:
        day.steps.append(_instead(brief, day, isolation_step(brief, isolation)))
    for pair in day.pairs:
        if pair.exercise.id != "nordic_lowering":
            day.steps.append(pair_step(brief, pair, day.replaced.get(pair.exercise.id, 0)))


def _ladder_of(brief: Brief, one: Exercise) -> str:
    """The group's; where it goes by a test that was not done, or by a hold, that of strength."""
    ladder = brief.book.coaching.ladders[brief.group.ladder]
    if ladder.share and not brief.tested:
        return "strength"
    if ladder.id == "inner_thigh" and one.hold_s is None:
        return "strength"
    if ladder.add_s and one.hold_s is None and one.counted_in == "reps":
        return "strength"
    return ladder.id


def _as_logged(brief: Brief, step: Step) -> Step:
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


def _instead(brief: Brief, day: Day, step: Step) -> Step:
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
            return replace(step, instead_of=pair.exercise.name)
    return step


def _lowering(brief: Brief, day: Day) -> bool:
    """Whether the log has the slow lowering of both legs on this day: it goes on by its ladder."""
    nordic = brief.log.usual.get("nordic_lowering")
    return (
        nordic is not None
        and "nordic_lowering" in brief.group.main
        and brief.log.has("nordic_lowering")
        and not brief.who.is_under_16
        and (day.weekday is None or day.weekday in nordic.weekdays)
    )


def _lowering_step(brief: Brief, number: int) -> Step:
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


def _bearer(brief: Brief, day: Day) -> Step | None:
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


def _wanted_extra(
    brief: Brief, bearers: Sequence[Step | None], notes: Sequence[str], hold: int | None
) -> tuple[int, ...]:
    """Repetitions more for the lower side, week by week, before the weekly ceiling."""
    nothing = (0,) * brief.weeks
    who = brief.who
    is_left_alone = who.is_growing or who.both_behind or who.pain >= PAIN_NOTED
    if is_left_alone or brief.is_slim or "many_sets" in notes or not any(bearers):
        return nothing
    if hold == 0:
        return nothing
    group = brief.group
    name = group.jump_ladder if group.extra == "jumps" else group.ladder
    first = next(step for step in bearers if step is not None)
    if name in ("many", "inner_thigh", "hold") and group.extra != "jumps":
        name = _ladder_of(brief, brief.book.exercises[first.exercise])
    most = min(group.extra_most, max(brief.rules("extra_work", "reps")))
    wanted = extra_of(brief.book.coaching.ladders[name], brief.weeks, most)
    if who.is_under_16:
        wanted = tuple(figure // 2 for figure in wanted)
    begins = EVEN_WEEKS if {"other_does_more", "far_from_the_end"} & {*notes} else 0
    begins = max([begins, *(2 for step in bearers if step is not None and step.is_new)])
    wanted = tuple(0 if week < begins else figure for week, figure in enumerate(wanted))
    return wanted if hold is None else tuple(min(figure, hold) for figure in wanted)


def _extra_step(brief: Brief, bearer: Step, extra: Sequence[int]) -> Step:
    reserve = bearer.dose.in_reserve
    sets = bearer.dose.sets if bearer.part == "jumps" and bearer.unit != "s" else 1
    weeks = tuple(Dose(sets, figure, reserve) if figure else None for figure in extra)
    return replace(
        bearer, part="extra", side=brief.alone, weeks=weeks, instead_of="", offer="", later=None,
        is_new=False,
    )  # fmt: skip


def _notes(brief: Brief, mains: Sequence[Picked | None]) -> tuple[str, ...]:
    """Why a plan is as it is, by what the log shows of its lifts."""
    log, notes = brief.log, []
    ids = {one.exercise.id for one in mains if one is not None and not one.is_new}
    rows = [log.usual[name].by_side for name in sorted(ids)]
    lower = sum(by[brief.lower]["weekly_reps"] for by in rows)
    other = sum(by[brief.other]["weekly_reps"] for by in rows)
    if rows and lower < EVEN_SHARE * other:
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
    if brief.who.pain >= PAIN_NOTED:
        notes.append("pain_noted")
    if len(log.own_days) == 1:
        notes.append("one_day")
    return tuple(notes)


def _at_home(brief: Brief, sessions: Sequence[Session], drills: Sequence[str]) -> list[Session]:
    """Range, and what wakes the side up, on one more day at home, where training days are few."""
    if not drills or len(sessions) >= RANGE_DAYS:
        return []
    steps = [wake_step(brief, 0)]
    steps += [step for name in dict.fromkeys(drills) for step in range_steps(brief, name)]
    return [Session(LETTERS[len(sessions)], None, in_order(steps), is_home=True)]


def _starts_on(after: date, sessions: Sequence[Session]) -> date:
    days = [next_day(after, one.weekday) for one in sessions if not one.is_home]
    return min(days)


def _film(brief: Brief, sessions: Sequence[Session]) -> Film | None:
    """One set of the first lift for one side, else of the first jump."""
    for part in ("one_side", "jumps", "isolation"):
        for session in sessions:
            for step in session.steps:
                one = brief.book.exercises.get(step.exercise)
                if step.part == part and one is not None:
                    points = brief.book.coaching.checkpoints
                    return Film(step.name, one.film, tuple(points[n].ok for n in one.checkpoints))
    return None


__all__ = ["Brief", "Group", "programme"]
