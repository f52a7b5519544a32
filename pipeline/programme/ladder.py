"""The weeks of a ladder as doses of one exercise."""

from collections.abc import Sequence
from math import ceil, floor

from pipeline.catalogue import Drill, Exercise, Ladder
from pipeline.programme.step import LEAST_RESERVE, Dose
from schemas.plan_words import CountedIn

LEAST_REPS = 6  # of a loaded lift, for whoever is under 18 or has not done it for twelve weeks
LIGHTER, LAST, LATER_LIGHTER = 3, 5, 9  # weeks counted from 0


def week_of(number: int) -> int:
    """The week of six whose figures a week has, from 0; after six all but the tenth are as the
    sixth."""
    if number <= LAST:
        return number
    return LIGHTER if number == LATER_LIGHTER else LAST


def is_lighter(number: int) -> bool:
    """Whether fewer sets are done in a week, counted from 0."""
    return week_of(number) == LIGHTER


def lift_doses(
    ladder: Ladder,
    exercise: Exercise,
    weeks: int,
    *,
    least_reserve: int = LEAST_RESERVE,
    tested: float | None = None,
    least_reps: int = LEAST_REPS,
) -> tuple[Dose, ...]:
    """Doses of a lift or a hold, cut to the repetitions the exercise is done with.

    `tested`: the lower side's last test, in repetitions or seconds, for ladders that go by it.
    """
    low, high = _range(ladder, exercise)
    if exercise.equipment != "bodyweight" and unit_of(ladder, exercise) == CountedIn.REPS:
        low, high = max(low, least_reps), max(high, least_reps)
    doses = []
    for number in range(weeks):
        week = week_of(number)
        reps = min(max(_reps(ladder, week, tested), low), high)
        reserve = max(ladder.in_reserve[week], least_reserve) if ladder.in_reserve else None
        doses.append(Dose(ladder.sets[week], reps, reserve))
    return tuple(doses)


def unit_of(ladder: Ladder, exercise: Exercise) -> CountedIn:
    """What the doses of `lift_doses` are counted in."""
    is_held = bool(ladder.add_s) and exercise.hold_s is not None
    return CountedIn.S if is_held else exercise.counted_in


def _range(ladder: Ladder, exercise: Exercise) -> tuple[int, int]:
    if ladder.add_s and exercise.hold_s is not None:
        return exercise.hold_s
    return exercise.reps


def _reps(ladder: Ladder, week: int, tested: float | None) -> int:
    if ladder.share:
        return floor(ladder.share[week] * (tested or 0))
    if ladder.add_s:
        return max(ladder.least_s, floor((tested or 0) / 3)) + ladder.add_s[week]
    return ladder.reps[week]


def jump_doses(
    ladder: Ladder, one: Exercise | Drill, weeks: int, share: float = 1.0, fewer: int = 0
) -> tuple[Dose, ...]:
    """Contacts, throws, turns or trials a side, spread over sets no longer than usual.

    `fewer`: contacts of a leg that a drill before them takes. A drill with several sets is done in
    as many directions; a stand is counted in seconds.
    """
    if ladder.seconds:
        return tuple(
            Dose(ladder.sets[week_of(n)], ladder.seconds[week_of(n)]) for n in range(weeks)
        )
    contacts = [max(1, floor(ladder.contacts[week_of(n)] * share) - fewer) for n in range(weeks)]
    if isinstance(one, Drill):
        return tuple(Dose(one.sets, count) for count in contacts)
    return tuple(spread(count, one.reps) for count in contacts)


def spread(count: int, usual: tuple[int, int]) -> Dose:
    """So many repetitions in even sets, none longer than usual; what is left is left out."""
    low, high = usual
    fewest = ceil(count / high)
    even = [sets for sets in range(fewest, count + 1) if count % sets == 0 and count // sets >= low]
    sets = even[0] if even else fewest
    return Dose(sets, count // sets)


def extra_of(ladder: Ladder, weeks: int, most: int = 5) -> tuple[int, ...]:
    """Repetitions (seconds of a hold) more for the lower side a session, week by week."""
    is_timed = bool(ladder.add_s or ladder.seconds)
    figures: Sequence[int] = [ladder.extra[week_of(number)] for number in range(weeks)]
    return tuple(figure if is_timed else min(figure, most) for figure in figures)
