"""What a programme is made of: doses, steps, sessions, and the weeks they add up to."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from pipeline.programme.log import counted
from schemas.plan_words import CountedIn, HeldLoad, PlanNote, StepPart
from schemas.vocabulary import Side, StepSide

PARTS = tuple(StepPart)
# In the weekly ceiling.
COUNTED_PARTS = (StepPart.ONE_SIDE, StepPart.BOTH_SIDES, StepPart.ISOLATION, StepPart.EXTRA)
LEAST_RESERVE = 2
OTHER_HAND = "other_hand"  # hint: the weight goes into the hand of the other side


@dataclass(frozen=True)
class Dose:
    """Sets and repetitions of a side in one session, and how many more could still be done."""

    sets: int
    reps: int
    in_reserve: int | None = None


@dataclass(frozen=True)
class Step:
    """One line of a session; `weeks` holds its dose week by week, None where it is left out.

    `reps` of a dose stand in `unit`; `hold_s`: seconds each repetition is held.
    """

    part: StepPart
    exercise: str  # an exercise or a drill of the catalogue
    name: str
    side: StepSide
    weeks: tuple[Dose | None, ...]
    unit: CountedIn = CountedIn.REPS
    load_kg: float | None = None
    held: HeldLoad = HeldLoad.ONE
    seconds_down: int | None = None
    rest_s: int | None = None
    cue: str = ""
    hold_s: int | None = None
    level: int = 1
    is_new: bool = False
    hint: str = ""
    instead_of: tuple[str, ...] = ()  # names of the lifts some of whose sets it takes
    offer: str = ""  # name of the exercise with dumbbells that may take a set or two
    is_kept: bool = False  # of one muscle: one set stays before main sets are left out
    later: tuple[int, str, str] | None = None  # from that week on another exercise: its id and name
    is_later_shown: bool = False  # a coach shows that one once
    speeds: tuple[int, ...] = ()  # percent of full speed, week by week

    @property
    def dose(self) -> Dose:
        """Of its first week."""
        return next(dose for dose in self.weeks if dose is not None)

    @property
    def begins(self) -> int:
        """Number of its first week."""
        return next(n for n, dose in enumerate(self.weeks, start=1) if dose is not None)

    @property
    def is_of_lower(self) -> bool:
        """Whether one side begins, so that the other matches it."""
        return self.side in (StepSide.LEFT_FIRST, StepSide.RIGHT_FIRST)

    def at(self, week: int, dose: Dose | None) -> "Step":
        """The same with another dose in one week, counted from 0."""
        return replace(self, weeks=(*self.weeks[:week], dose, *self.weeks[week + 1 :]))

    @property
    def is_empty(self) -> bool:
        """Whether no week is left of it."""
        return all(dose is None for dose in self.weeks)


@dataclass(frozen=True)
class Session:
    """One day of training: its letter, its weekday (0 is Monday; None: any), steps in order."""

    letter: str
    weekday: int | None
    steps: tuple[Step, ...]
    is_home: bool = False

    def of(self, part: StepPart) -> Iterator[Step]:
        """The steps of one part."""
        return (step for step in self.steps if step.part == part)


@dataclass(frozen=True)
class Film:
    """Which set is filmed, from where, and what is looked at."""

    exercise: str
    view: str
    looked_at: tuple[str, ...]  # what to see, of each checkpoint


@dataclass(frozen=True)
class Programme:
    """The sessions of some weeks and what they add up to.

    `reference`: weekly repetitions of the lower side in that part of the body in the last logged
    weeks, 0 where nothing is logged; `weekly`: the same of each planned week, with what goes on
    beside the plan.
    """

    sessions: tuple[Session, ...]
    weeks: int
    starts_on: date
    film: Film | None = None
    reference: float = 0.0
    weekly: tuple[float, ...] = ()
    notes: tuple[PlanNote, ...] = ()  # why it is as it is
    left_out: tuple[str, ...] = ()  # names of exercises that hurt this week

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps, session by session."""
        return tuple(step for session in self.sessions for step in session.steps)

    @property
    def has_extra(self) -> bool:
        """Whether the lower side does a little more."""
        return any(step.part == StepPart.EXTRA for step in self.steps)


def other_of(side: str) -> str:
    """The other side."""
    return Side.RIGHT if side == Side.LEFT else Side.LEFT


def in_order(steps: list[Step]) -> tuple[Step, ...]:
    """The steps of a session in the order of its parts; those left out in every week are gone."""
    kept = [step for step in steps if not step.is_empty]
    return tuple(sorted(kept, key=lambda step: PARTS.index(step.part)))


__all__ = [
    "COUNTED_PARTS",
    "LEAST_RESERVE",
    "OTHER_HAND",
    "PARTS",
    "Dose",
    "Film",
    "Programme",
    "Session",
    "Step",
    "counted",
    "in_order",
    "other_of",
]  # fmt: skip
