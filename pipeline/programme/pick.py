"""Which exercises a plan holds: those of the log first, else an easy one that a card is enough for.

Level 3 is planned only where the log has it, level 4 is kept as logged and never planned; under 16
level 3 stays as logged, too.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.catalogue import Catalogue, Exercise, Group, Measure
from pipeline.programme.log import Log
from schemas.catalogue_words import Laterality


@dataclass(frozen=True)
class Picked:
    """An exercise of a plan, and whether it is new for the athlete."""

    exercise: Exercise
    is_new: bool


@dataclass(frozen=True)
class Shelf:
    """What exercises are chosen from: for whom, for which test, with which log."""

    measure: Measure
    group: Group
    log: Log
    book: Catalogue
    is_under_16: bool

    def may(self, one: Exercise) -> bool:
        """Whether a card may plan it for this athlete."""
        if one.level <= 2:
            return True
        return one.level == 3 and not self.is_under_16 and self.log.has(one.id)

    def trains(self, one: Exercise) -> bool:
        """Whether it trains the muscle or the movement of the test."""
        measure = self.measure
        is_lift = measure.is_record and measure.id.endswith(f":{one.id}")
        is_near = one.region == measure.region and {*one.muscles} & {*measure.muscles}
        return bool(is_lift or is_near or one.pattern in measure.patterns)

    def of_the_log(self) -> list[Exercise]:
        """Lifts of the log with a movement of the test that train its muscle, most used first."""
        known = sorted(
            self.log.usual.values(), key=lambda one: (-one.row["weekly_reps"], one.exercise.id)
        )
        patterns, muscles = self.measure.patterns, {*self.measure.muscles}
        return [
            one.exercise
            for one in known
            if one.exercise.pattern in patterns
            and one.exercise.pattern != "plyometric"
            and muscles & {*one.exercise.muscles}
            and one.exercise.id not in self.group.isolation
        ]

    def chain(self, name: str) -> list[Exercise]:
        """An exercise and the easier ones below it that train the test."""
        found, one = [], self.book.exercises[name]
        while True:
            if self.trains(one) or one.id in self.group.main:
                found.append(one)
            if not one.easier:
                return found
            one = self.book.exercises[one.easier]


def pick_mains(shelf: Shelf) -> list[Picked]:
    """The lifts for one side at a time: of the first session, then of the second.

    Of the log first the group's own in their order, then the easier ones below them, then others
    of the same movement and muscle; where the log has none, one new exercise.
    """
    log, group = shelf.log, shelf.group
    known = [
        one
        for one in _unique(
            [
                *(shelf.book.exercises[name] for name in group.main),
                *(one for name in group.main for one in shelf.chain(name)),
                *shelf.of_the_log(),
            ]
        )
        if log.one_sided(one.id) and shelf.may(one) and one.id != "nordic_lowering"  # both legs
    ]
    if known:
        return [Picked(one, is_new=False) for one in known[:2]]
    fresh = _new(shelf)
    return [Picked(fresh, is_new=True)] if fresh else []


def _new(shelf: Shelf) -> Exercise | None:
    """Down the first main's easier ones to one of level 1, else the next main's, else level 2."""
    chains = [[one for one in shelf.chain(name) if _is_sided(one)] for name in shelf.group.main]
    for level in (1, 2):
        for chain in chains:
            for one in chain:
                if one.level == level:
                    return one
    return None


def pick_isolation(shelf: Shelf, mains: Sequence[Picked], room: int) -> list[Picked]:
    """Exercises for one muscle: of the log, else as many new ones as there is room for.

    Where the group asks for two of them, the second beside the first.
    """
    taken = {one.exercise.id for one in mains}
    listed = [shelf.book.exercises[name] for name in shelf.group.isolation if name not in taken]
    allowed = [one for one in listed if shelf.may(one)]
    known = [Picked(one, is_new=False) for one in allowed if shelf.log.one_sided(one.id)]
    fresh = [Picked(one, is_new=True) for one in allowed if not shelf.log.one_sided(one.id)]
    if shelf.group.isolation_both:
        both = [*known, *fresh[: max(room, 1)]][:2]
        return sorted(both, key=lambda one: listed.index(one.exercise))
    return known or fresh[: min(room, 1)]


def pick_jumps(shelf: Shelf) -> list[Picked]:
    """Jumps or throws of the group in order; those of level 3 only where they are logged."""
    found = [
        shelf.book.exercises[name]
        for name in shelf.group.jumps
        if name in shelf.book.exercises and shelf.may(shelf.book.exercises[name])
    ]
    found.sort(key=lambda one: not shelf.log.has(one.id) and one.level > 2)
    return [Picked(one, is_new=not shelf.log.has(one.id)) for one in found]


def _is_sided(one: Exercise) -> bool:
    return one.laterality != Laterality.BILATERAL


def _unique(exercises: Iterable[Exercise]) -> list[Exercise]:
    return list({one.id: one for one in exercises}.values())
