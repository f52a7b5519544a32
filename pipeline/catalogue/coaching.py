"""What coaches know: ladders of weeks, drills, checkpoints of a film, and what trains each test."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from pipeline.catalogue.entries import Exercise, Measure
from pipeline.errors import SquadsidesError
from schemas.catalogue_words import DrillKind
from schemas.plan_words import CountedIn, FastWork, FilmView
from schemas.vocabulary import REGIONS, Region

WEEKS = 6
PRACTICE = ("jump", "quick", "turn", "practice", "stand")  # ladders of what comes before the lifts


@dataclass(frozen=True)
class Checkpoint:
    """One thing that is looked at in a film: from where, what to see, what is worked on."""

    id: str
    views: tuple[FilmView, ...]
    ok: str
    adjust: str


@dataclass(frozen=True)
class Drill:
    """A drill that wakes a side up, works through a range, or practises a test."""

    id: str
    name: str
    kind: DrillKind
    muscles: tuple[str, ...]
    joint: str
    region: Region
    sets: int
    reps: int
    cue: str
    film: FilmView
    hold_s: int | None = None
    counted_in: CountedIn = CountedIn.REPS
    contacts: int = 0
    each_side: bool = False  # the other side does as many sets
    hint: str = ""
    source: str = "common practice"


@dataclass(frozen=True)
class Ladder:
    """Six weeks of one kind of work, week by week; only what its kind needs is filled in.

    `sets` and `reps` are per session and side, `share` of the lower side's last test, `add_s` on
    top of a hold, `contacts` per leg and session, `days` and `sessions` a week, `extra` repetitions
    (seconds of a hold) more for the lower side a session.
    """

    id: str
    source: str
    extra: tuple[int, ...] = (0,) * WEEKS
    sets: tuple[int, ...] = ()
    reps: tuple[int, ...] = ()
    in_reserve: tuple[int, ...] = ()
    share: tuple[float, ...] = ()
    add_s: tuple[int, ...] = ()
    least_s: int = 0
    seconds: tuple[int, ...] = ()
    contacts: tuple[int, ...] = ()
    speed: tuple[int, ...] = ()
    days: tuple[int, ...] = ()
    sessions: tuple[int, ...] = ()


@dataclass(frozen=True)
class Group:
    """Tests that the same work trains, and that work: `schemas/training/training_groups.toml`."""

    id: str
    measures: tuple[str, ...]
    leave: tuple[str, ...]
    source: str
    patterns: tuple[str, ...] = ()
    main: tuple[str, ...] = ()
    isolation: tuple[str, ...] = ()
    wake: tuple[str, ...] = ()
    jumps: tuple[str, ...] = ()
    jump_ladder: str = ""
    jump_share: float = 1.0
    range: str = ""
    range_if: tuple[str, ...] = ()
    mobility: str = ""
    extra: str = "none"
    extra_most: int = 5
    sessions: int = 0
    sets: int = 0
    ladder: str = ""
    in_reserve: int = 2  # at least so many repetitions left over
    retest_weeks: tuple[int, int] = (0, 0)
    isolation_both: bool = False  # each of the first two in a session of its own
    needs_second: bool = False
    needs_strength: bool = False
    other_hand: tuple[str, ...] = ()

    @property
    def is_trained(self) -> bool:
        """Whether any work changes these tests."""
        return self.sessions > 0


@dataclass(frozen=True)
class FastStep:
    """What a step of a graded return holds at speed, of one part of the body."""

    is_called: FastWork
    exercise: str  # or a drill
    hint: str
    limited_by: tuple[str, ...]  # how words of staff begin that leave it out


@dataclass(frozen=True)
class ReturnStep:
    """One step of a graded return: `schemas/training/graded_return.toml`."""

    share: float  # of one's own earlier sets, and of the jump ladder's first week
    in_reserve: int
    fast: Mapping[str, FastStep]  # by part of the body
    is_filmed: bool = False


@dataclass(frozen=True)
class Coaching:
    """All of it, by id; `for_measure` holds each group as it is for one test."""

    checkpoints: dict[str, Checkpoint]
    drills: dict[str, Drill]
    ladders: dict[str, Ladder]
    groups: dict[str, Group]
    for_measure: dict[str, Group]
    returns: dict[int, ReturnStep]  # by number of the step; none of a step without training

    def group_of(self, measure: Measure, exercises: Mapping[str, Exercise]) -> Group:
        """The group of a test; of a lift that the log names, the group of its pattern."""
        if not measure.is_record:
            return self.for_measure[measure.id]
        lift = exercises[measure.id.partition(":")[2]]
        found = next(one for one in self.groups.values() if lift.pattern in one.patterns)
        return replace(found, main=(lift.id, *(one for one in found.main if one != lift.id)))


def checked(coaching: Coaching, exercises: Mapping[str, Exercise], tests: set[str]) -> Coaching:
    """The coaching data as they are; SquadsidesError names everything in them that cannot be."""
    faults = [
        *_exercise_faults(coaching, exercises),
        *_drill_faults(coaching),
        *_ladder_faults(coaching),
        *_group_faults(coaching, exercises, tests),
        *_return_faults(coaching, exercises),
    ]
    if faults:
        raise SquadsidesError("schemas/: " + "; ".join(faults))
    return coaching


def _exercise_faults(coaching: Coaching, exercises: Mapping[str, Exercise]) -> Iterator[str]:
    for one in exercises.values():
        where = f"training/exercises.toml: {one.id}"
        for other in (one.easier, one.harder, *one.twins):
            if other and (other not in exercises or other == one.id):
                yield f"{where}: {other!r} is no other exercise"
        for name in one.checkpoints:
            known = coaching.checkpoints.get(name)
            if known is None or one.film not in known.views:
                yield f"{where}: {name!r} is not seen from {one.film}"
        if len(one.checkpoints) != 3 or not one.cue:
            yield f"{where} needs three checkpoints and a cue"
        if not (0 < one.reps[0] <= one.reps[1] and 0 < one.rest_s[0] <= one.rest_s[1]):
            yield f"{where}: reps and rest_s go from low to high"


def _drill_faults(coaching: Coaching) -> Iterator[str]:
    for drill in coaching.drills.values():
        if not (drill.sets > 0 and drill.reps > 0 and drill.cue and drill.muscles):
            yield f"training/drills.toml: {drill.id} needs sets, reps, a cue and muscles"


def _ladder_faults(coaching: Coaching) -> Iterator[str]:
    weekly = ("extra", "sets", "reps", "in_reserve", "share", "add_s", "seconds", "contacts",
              "speed", "days", "sessions")  # fmt: skip
    for ladder in coaching.ladders.values():
        for name in weekly:
            if len(getattr(ladder, name)) not in (0, WEEKS):
                yield f"training/ladders.toml: {ladder.id}: {name} should have {WEEKS} weeks"
        if ladder.extra[0] or ladder.extra[3]:
            yield f"training/ladders.toml: {ladder.id}: nothing is added in weeks 1 and 4"


def _group_faults(
    coaching: Coaching, exercises: Mapping[str, Exercise], tests: set[str]
) -> Iterator[str]:
    placed = [name for group in coaching.groups.values() for name in group.measures]
    if sorted(placed) != sorted(tests):
        odd = sorted({*placed} ^ tests | {name for name in placed if placed.count(name) > 1})
        yield f"training/training_groups.toml: each test in one group, but {', '.join(odd)}"
    patterns = [name for group in coaching.groups.values() for name in group.patterns]
    if sorted(patterns) != sorted({one.pattern for one in exercises.values()}):
        yield "training/training_groups.toml: each pattern of exercises.toml stands in one group"
    drills = coaching.drills
    for group in coaching.for_measure.values():
        where = f"training/training_groups.toml: {group.id}"
        if not group.is_trained:
            continue
        lifts = [*group.main, *group.isolation]
        lifts += [name for name in group.jumps if name not in drills]
        lifts += [group.extra] if group.extra not in ("main", "jumps", "isolation", "none") else []
        for name in lifts:
            if name not in exercises:
                yield f"{where}: {name!r} is no exercise"
        for name, kind in (
            *((name, DrillKind.ACTIVATION) for name in group.wake),
            *((name, DrillKind.MOBILITY) for name in (group.range, group.mobility) if name),
        ):
            if name not in drills or drills[name].kind != kind:
                yield f"{where}: {name!r} is no drill for {kind}"
        for name in (group.ladder, *([group.jump_ladder] if group.jumps else [])):
            if name not in coaching.ladders:
                yield f"{where}: {name!r} is no ladder"
        if not {*group.range_if} <= tests:
            yield f"{where}: range_if names what is no test"
        if not (group.main and group.wake and group.sets and group.retest_weeks[1]):
            yield f"{where} needs a lift, a drill to wake up, sets and weeks"


def _return_faults(coaching: Coaching, exercises: Mapping[str, Exercise]) -> Iterator[str]:
    for number, step in coaching.returns.items():
        where = f"training/graded_return.toml: {number}"
        if not (0 < step.share <= 1 and step.in_reserve >= 0):
            yield f"{where}: share lies in 0 to 1, in_reserve is a number"
        for limb, fast in step.fast.items():
            if limb not in REGIONS:
                yield f"{where}: {limb!r} is no part of the body"
            if not fast.limited_by:
                yield f"{where}: no word leaves out what is done at speed by {limb!r}"
            if fast.exercise not in exercises and fast.exercise not in coaching.drills:
                yield f"{where}: {fast.exercise!r} is no exercise and no drill"
