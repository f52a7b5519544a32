"""From a test, a lower side and an athlete's own week to sessions on days, week by week."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

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
from pipeline.programme.extras import (
    bearer_of,
    extra_step,
    ladder_of,
    notes_of,
    wanted_extra,
)
from pipeline.programme.pick import Picked, pick_isolation, pick_jumps, pick_mains
from pipeline.programme.step import Film, Programme, Session, in_order
from pipeline.programme.swaps import (
    as_logged,
    has_lowering,
    in_place_of_some,
    keep_the_other_side,
    lowering_step,
    make_room,
    shelf_of,
)
from schemas.catalogue_words import LiftType
from schemas.plan_words import PlanNote, StepPart
from schemas.vocabulary import Region

LETTERS = "ABCDEFG"
RANGE_DAYS = 3
HOME_DAYS, HOME_DRILLS = 2, 2


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
    notes = notes_of(brief, mains)
    if PlanNote.MANY_SETS in notes or brief.is_slim:
        brief = replace(brief, group=replace(group, isolation=(), extra="main"), is_slim=True)
    isolation = _isolation_of_days(brief, days, mains)
    shelf = shelf_of(brief)
    jumps = pick_jumps(shelf)
    for number, day in enumerate(days):
        is_last = number == len(days) - 1
        _fill(brief, day, number, mains[number], isolation[number], jumps, is_last=is_last)
        hold_added_sets(brief, day)
    make_room(brief, days)
    bearers = [bearer_of(brief, day) for day in days]
    wanted = wanted_extra(brief, bearers, notes, hold)
    least = 1 if group.extra == "jumps" else SPOKEN_LEAST
    reference, weekly, extra = hold_ceiling(brief, days, wanted, bearers, least)
    keep_the_other_side(brief, days)
    for day, bearer in zip(days, bearers, strict=True):
        if bearer is not None and any(extra):
            day.steps.append(extra_step(brief, bearer, extra))
        for drill in dict.fromkeys((group.mobility, *ranges)):
            if drill:
                day.steps += range_steps(brief, drill)
    sessions = [
        Session(LETTERS[number], day.weekday, in_order(day.steps))
        for number, day in enumerate(days)
    ]
    drills = [name for name in (group.mobility, *ranges) if name]
    has_lift = any(True for session in sessions for _ in session.of(StepPart.ONE_SIDE))
    if has_lift or group.jumps or group.mobility:  # of a range the drill itself is the work
        sessions += _range_at_home(brief, sessions, drills)
    else:
        notes = (*notes, PlanNote.NO_FIT)
        home = _home_card(brief, len(sessions), drills)
        sessions += home
        notes = (*notes, PlanNote.HOME) if home else notes
    return Programme(
        sessions=tuple(sessions),
        weeks=brief.weeks,
        starts_on=_starts_on(starts_after, sessions),
        film=_film(brief, sessions),
        reference=reference,
        weekly=weekly,
        notes=notes,
    )


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
    shelf = shelf_of(brief)
    compound = [
        one
        for one in brief.log.two_sided(brief.measure.region)
        if one.exercise.type == LiftType.COMPOUND and one.exercise.pattern != "plyometric"
    ]
    olympic = [
        one
        for one in (*brief.log.two_sided(Region.TRUNK),)
        if one.exercise.pattern == "olympic" and brief.measure.region == Region.LOWER
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
    found = pick_mains(shelf_of(brief))
    if not found:
        return [None] * len(days)
    first, second = found[0], found[-1]
    places = [0, len(days) - 1] if len(days) > 1 else [0]

    order = _on_their_days(brief, days, places, [first, second][: len(places)])
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
    shelf = shelf_of(brief)
    news = len({one.exercise.id for one in picked if one.is_new})
    drills = brief.book.coaching.drills
    if brief.group.jumps and brief.group.jumps[0] not in drills:
        news += any(one.is_new for one in pick_jumps(shelf)[:1])
    holds_none = not any(shelf.trains(one.exercise) for one in brief.log.usual.values())
    room = max(0, (2 if holds_none or news else 1) - news)
    found = pick_isolation(shelf, picked, room)
    places = [number for number, one in enumerate(mains) if one is not None]
    if not places and days:
        places = [len(days) - 1]
    chosen: list[Picked | None] = [None] * len(days)
    if not found:
        return chosen
    order = [found[turn % len(found)] for turn in range(len(places))]
    for place, one in zip(places, _on_their_days(brief, days, places, order), strict=True):
        chosen[place] = one
    return chosen


def _on_their_days(
    brief: Brief, days: list[Day], places: Sequence[int], order: list[Picked]
) -> list[Picked]:
    """The same exercises turned round where that leaves more of them on their weekdays."""

    def kept(ones: Sequence[Picked]) -> int:
        usual = [brief.log.usual.get(one.exercise.id) for one in ones]
        pairs = zip(places, usual, strict=True)
        return sum(one is not None and days[place].weekday in one.weekdays for place, one in pairs)

    turned = order[::-1]
    return turned if kept(turned) > kept(order) else order


def _fill(
    brief: Brief,
    day: Day,
    number: int,
    main: Picked | None,
    isolation: Picked | None,
    jumps: Sequence[Picked],
    *,
    is_last: bool,
) -> None:
    ladders = brief.book.coaching.ladders
    wake = wake_step(brief, number)
    day.steps.append(wake)
    if brief.group.jumps:
        day.steps += jump_steps(brief, jumps, number, wake)
    if main is not None:
        ladder = ladders[ladder_of(brief, main.exercise)]
        step = main_step(brief, main, ladder)
        if brief.is_slim:
            step = as_logged(brief, step)
        day.steps.append(in_place_of_some(brief, day, step))
        if has_lowering(brief, day):
            day.steps.append(lowering_step(brief, number))
    if isolation is not None:
        is_kept = is_last or brief.group.isolation_both
        step = isolation_step(brief, isolation, is_kept=is_kept)
        day.steps.append(in_place_of_some(brief, day, step))
    for pair in day.pairs:
        if pair.exercise.id != "nordic_lowering":
            step = pair_step(brief, pair, day.replaced.get(pair.exercise.id, 0))
            is_there = any(step.offer == other.name for other in day.steps)
            day.steps.append(replace(step, offer="") if is_there else step)


def _range_at_home(
    brief: Brief, sessions: Sequence[Session], drills: Sequence[str]
) -> list[Session]:
    """Range, and what wakes the side up, on one more day at home, where training days are few."""
    if not drills or len(sessions) >= RANGE_DAYS:
        return []
    steps = [wake_step(brief, 0)]
    steps += [step for name in dict.fromkeys(drills) for step in range_steps(brief, name)]
    return [Session(LETTERS[len(sessions)], None, in_order(steps), is_home=True)]


def _home_card(brief: Brief, before: int, drills: Sequence[str]) -> list[Session]:
    """Ten minutes at home twice a week, where the week has no room for a lift.

    A lift of any load would be over the weekly ceiling there, so what is done at home is the calm
    work that does not count in it: the drills of the group with body mass or a band, and range.
    Where pain was noted, nothing.
    """
    if brief.who.pain >= brief.book.rules.pain_note:
        return []
    steps = [wake_step(brief, number) for number in range(min(HOME_DRILLS, len(brief.group.wake)))]
    steps += [step for name in dict.fromkeys(drills) for step in range_steps(brief, name)]
    return [
        Session(LETTERS[before + number], None, in_order(steps), is_home=True)
        for number in range(HOME_DAYS)
    ]


def _starts_on(after: date, sessions: Sequence[Session]) -> date:
    days = [next_day(after, one.weekday) for one in sessions if not one.is_home]
    return min(days)


def _film(brief: Brief, sessions: Sequence[Session]) -> Film | None:
    """One set of the first lift for one side, else of the first jump."""
    for part in (StepPart.ONE_SIDE, StepPart.JUMPS, StepPart.ISOLATION):
        for session in sessions:
            for step in session.steps:
                one = brief.book.exercises.get(step.exercise)
                if step.part == part and one is not None:
                    points = brief.book.coaching.checkpoints
                    return Film(step.name, one.film, tuple(points[n].ok for n in one.checkpoints))
    return None
