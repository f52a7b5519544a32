"""A graded return after clearance: both sides alike, a share of one's own earlier sets.

The program shows a step and what staff still tick; it never moves anybody up. Stepwise return:
Ardern 2016 (from memory); shares of sets are common practice.
"""

import re
from datetime import date
from math import ceil

from pipeline.catalogue import Catalogue, Doses
from pipeline.plan.choice import Case, Choice
from pipeline.programme.days import next_day, session_days
from pipeline.programme.log import Usual
from pipeline.programme.step import Dose, Programme, Session, Step, in_order
from schemas.catalogue_words import LiftType
from schemas.plan_words import StepPart
from schemas.vocabulary import StepSide

SHARES = {1: 0.5, 2: 0.75, 3: 1.0}
RESERVES = {1: 4, 2: 3, 3: 3}
WEEKS = 1  # a step takes a week or more; each is looked at before the next
SHOWN_LIFTS = 4
LETTERS = "AB"
WORD = re.compile(r"[^\W\d_]+")
LIMITS = {"no", "not", "without", "avoid", "except", "none", "only"}
STEM = 4  # letters of a word that may name a lift
COMMON = {"single", "foot", "hand", "side", "with", "machine"}  # of a lift's name, naming none


def graded_return(
    choice: Choice, case: Case, book: Catalogue, rules: Doses, as_of: date
) -> Programme | None:
    """The sessions of one step; None where the log holds nothing to build on, or staff test."""
    share = SHARES.get(choice.step)
    if share is None:
        return None
    measure = book.measures.get(choice.measure or "")
    region = choice.part or (measure.region if measure else None)
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
    slow = int(rules("controlled_lowering", "seconds"))
    days = session_days(
        case.log.own_days,
        2,
        lambda day: sum(day in x.weekdays for x in lifts),
        int(rules("apart", "days")),
    )
    sessions = []
    for number, day in enumerate(days):
        usual = [one for one in lifts if day is None or day in one.weekdays] or lifts
        steps = [_step(one, share, RESERVES[choice.step], slow) for one in usual]
        sessions.append(Session(LETTERS[number], day, in_order(steps)))
    starts = min(next_day(as_of, one.weekday) for one in sessions)
    return Programme(tuple(sessions), WEEKS, starts)


def _is_limited(one: Usual, note: str) -> bool:
    """Whether what staff wrote may leave a lift out: a limit and a word of its name or pattern.

    Rather too often than too seldom, as their limits stand above any line of a card.
    """
    said = WORD.findall(note.casefold())
    if not LIMITS & {*said}:
        return False
    own = WORD.findall(f"{one.exercise.name} {one.exercise.pattern}".casefold().replace("_", " "))
    stems = {word.rstrip("s") for word in said if len(word) >= STEM}
    return bool(stems & {word.rstrip("s") for word in own if len(word) >= STEM} - COMMON)


def _step(one: Usual, share: float, reserve: int, slow: int) -> Step:
    exercise = one.exercise
    rows = (
        [one.by_side["left"], one.by_side["right"]] if one.is_one_sided else [one.by_side["both"]]
    )
    sets = max(1, ceil(share * min(row["typical_sets"] for row in rows)))
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
        load_kg=min(loads) if len(loads) == len(rows) else None,
        seconds_down=slow if exercise.is_lowered else None,
        rest_s=exercise.rest_s[1],
        cue=exercise.cue,
        level=exercise.level,
        hint=exercise.hint,
    )
