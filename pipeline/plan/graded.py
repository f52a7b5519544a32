"""A graded return after clearance: both sides alike, a share of one's own earlier sets.

The program shows a step and what staff still tick; it never moves anybody up. Stepwise return:
Ardern 2016 (from memory); shares of sets are common practice.
"""

from collections.abc import Sequence
from datetime import date
from math import floor

from pipeline.catalogue import Catalogue, Doses, Drill, Exercise, FastStep
from pipeline.plan.case import Case, Choice
from pipeline.plan.fast_work import WORD, planned_fast, words_of_limits
from pipeline.programme.days import next_day, session_days
from pipeline.programme.ladder import spread
from pipeline.programme.load import held_load
from pipeline.programme.log import Usual
from pipeline.programme.step import Dose, Film, Programme, Session, Step, in_order
from schemas.catalogue_words import Laterality, LiftType
from schemas.plan_words import StepPart
from schemas.vocabulary import StepSide

WEEKS = 1  # a step takes a week or more; each is looked at before the next
SHOWN_LIFTS = 4
LETTERS = "AB"
SET_OF_JUMPS = (3, 4)  # each the best there is, so few in a row
REST_OF_LANDINGS_S = 60
STEM = 4  # letters of a word that may name a lift
COMMON = {"single", "foot", "hand", "side", "with", "machine"}  # of a lift's name, naming none


def graded_return(
    choice: Choice, case: Case, book: Catalogue, rules: Doses, as_of: date
) -> Programme | None:
    """The sessions of one step; None where the log holds nothing to build on, or staff test."""
    rule, region = book.coaching.returns.get(choice.step), choice.part
    if rule is None:
        return None
    lifts = sorted(
        (
            one
            for one in case.log.usual.values()
            if (region is None or one.exercise.region == region)
            and one.exercise.pattern not in ("plyometric", "olympic")
            and (one.is_one_sided or "both" in one.by_side)
            and one.exercise.id not in case.who.hurt
            and not _is_limited(one, choice.limits or "")
        ),
        key=lambda one: (-one.row["weekly_reps"], one.exercise.id),
    )[:SHOWN_LIFTS]
    if not lifts:
        return None
    days = session_days(
        case.log.own_days,
        2,
        lambda day: sum(day in x.weekdays for x in lifts),
        int(rules("apart", "days")),
    )
    planned = planned_fast(choice.step, region, book)
    fast = []
    if planned is not None and choice.fast == planned.is_called:  # else something speaks against it
        fast.append(_fast_step(planned, rule.share, case, book))
    sessions = []
    for number, day in enumerate(days):
        usual = [one for one in lifts if day is None or day in one.weekdays] or lifts
        steps = [_step(one, rule.share, rule.in_reserve, rules) for one in usual]
        sessions.append(Session(LETTERS[number], day, in_order([*fast, *steps])))
    starts = min(next_day(as_of, one.weekday) for one in sessions)
    film = _film(sessions, book) if rule.is_filmed else None
    return Programme(tuple(sessions), WEEKS, starts, film)


def _fast_step(planned: FastStep, share: float, case: Case, book: Catalogue) -> Step:
    """Landings or throws of both sides alike: a share of the first week of the ladder of jumps."""
    contacts = book.coaching.ladders["jump"].contacts[0]
    count = max(1, floor(contacts * share * case.who.fast_share))
    one: Exercise | Drill
    if planned.exercise in book.coaching.drills:
        one, is_pair, is_new, rest, level = (
            book.coaching.drills[planned.exercise], False, False, REST_OF_LANDINGS_S, 1,
        )  # fmt: skip
    else:
        one = book.exercises[planned.exercise]
        is_pair, is_new = one.laterality == Laterality.BILATERAL, not case.log.has(one.id)
        rest, level = one.rest_s[1], one.level
    return Step(
        part=StepPart.JUMPS,
        exercise=one.id,
        name=one.name,
        side=StepSide.BOTH if is_pair else StepSide.LEFT_FIRST,
        weeks=(spread(count, SET_OF_JUMPS),) * WEEKS,
        rest_s=rest,
        cue=one.cue,
        level=level,
        is_new=is_new,
        hint=planned.hint,
    )


def _film(sessions: Sequence[Session], book: Catalogue) -> Film | None:
    """A set of what is done at speed, else of the first lift: the next step asks what it shows."""
    names = [step.exercise for session in sessions for step in session.steps]
    one = next((book.exercises[name] for name in names if name in book.exercises), None)
    if one is None:
        return None
    points = book.coaching.checkpoints
    return Film(one.name, one.film, tuple(points[name].ok for name in one.checkpoints))


def _is_limited(one: Usual, note: str) -> bool:
    """Whether what staff wrote may leave a lift out: a limit and a word of its name or pattern.

    Rather too often than too seldom, as their limits stand above any line of a card.
    """
    said = words_of_limits(note)
    own = f"{one.exercise.name} {one.exercise.pattern}".casefold().replace("_", " ")
    stems = {word.rstrip("s") for word in said if len(word) >= STEM}
    return bool(
        stems & {word.rstrip("s") for word in WORD.findall(own) if len(word) >= STEM} - COMMON
    )


def _step(one: Usual, share: float, reserve: int, rules: Doses) -> Step:
    exercise, slow = one.exercise, int(rules("controlled_lowering", "seconds"))
    rows = (
        [one.by_side["left"], one.by_side["right"]] if one.is_one_sided else [one.by_side["both"]]
    )
    sets = max(1, floor(share * min(row["typical_sets"] for row in rows)))
    reps = max(1, int(min(row["typical_reps"] for row in rows)))
    loads = [row["load_kg"] for row in rows if row["load_kg"] is not None]
    single: StepPart = (
        StepPart.ONE_SIDE if exercise.type == LiftType.COMPOUND else StepPart.ISOLATION
    )
    return Step(
        part=single if one.is_one_sided else StepPart.BOTH_SIDES,
        exercise=exercise.id,
        name=exercise.name,
        side=StepSide.LEFT_FIRST if one.is_one_sided else StepSide.BOTH,
        weeks=(Dose(sets, reps, reserve),) * WEEKS,
        unit=exercise.counted_in,
        held=held_load(exercise, rules),
        load_kg=min(loads) if len(loads) == len(rows) else None,
        seconds_down=slow if exercise.is_lowered else None,
        rest_s=exercise.rest_s[1],
        cue=exercise.cue,
        level=exercise.level,
        hint=exercise.hint,
    )
