"""The steps of a plan before the weekly ceiling: who does what on which day."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import floor

from pipeline.catalogue import Catalogue, Doses, Drill, Exercise, Group, Ladder, Measure
from pipeline.programme.ladder import (
    LEAST_REPS,
    is_lighter,
    jump_doses,
    lift_doses,
    unit_of,
)
from pipeline.programme.load import held_load, planned_load
from pipeline.programme.log import Log, Usual
from pipeline.programme.pick import Picked
from pipeline.programme.step import LEAST_RESERVE, OTHER_HAND, Dose, Step
from pipeline.programme.who import Who
from schemas.catalogue_words import Laterality
from schemas.plan_words import CountedIn, StepPart
from schemas.vocabulary import Side, StepSide

DRILL_REST_S = 15
WAKE_RESERVE = 5
SHOWN_PAIRS = 2  # two-sided lifts of a session
LIFT_WEEKS = 12  # with a lift in the log, before it is done with fewer than six repetitions


@dataclass(frozen=True)
class Brief:
    """What a plan is drawn up from: test, lower side, the athlete's log and person."""

    measure: Measure
    group: Group
    lower: str
    log: Log
    who: Who
    book: Catalogue
    rules: Doses
    weeks: int
    even_share: float  # of the other side's work: below that the other side does more
    tested: float | None = None  # the lower side's last test, in the test's unit
    is_slim: bool = False  # it would not fit else: nothing beside the main work

    @property
    def first(self) -> StepSide:
        """The lower side begins."""
        return StepSide.LEFT_FIRST if self.lower == Side.LEFT else StepSide.RIGHT_FIRST

    @property
    def alone(self) -> StepSide:
        """The lower side by itself."""
        return StepSide.LEFT if self.lower == Side.LEFT else StepSide.RIGHT

    @property
    def other(self) -> StepSide:
        """The other side by itself."""
        return StepSide.RIGHT if self.lower == Side.LEFT else StepSide.LEFT

    def least_reserve(self, *, is_new: bool) -> int:
        """Repetitions left over, at least."""
        careful = is_new or self.who.is_minor
        careful_reserve = int(self.rules("new_exercise", "reps_in_reserve"))
        return max(self.group.in_reserve, careful_reserve if careful else LEAST_RESERVE)


@dataclass
class Day:
    """One session while it is made: `steps` grow, `pairs` are the two-sided lifts of that day."""

    weekday: int | None
    steps: list[Step] = field(default_factory=list)
    pairs: list[Usual] = field(default_factory=list)
    replaced: dict[str, int] = field(default_factory=dict)  # sets that a new exercise takes
    swapped: list[str] = field(default_factory=list)  # lifts of the log left out on this day


def of_drill(drill: Drill, part: StepPart, side: StepSide, dose: Dose, weeks: int) -> Step:
    """A drill as a step."""
    return Step(
        part=part,
        exercise=drill.id,
        name=drill.name,
        side=side,
        weeks=(dose,) * weeks,
        unit=drill.counted_in,
        rest_s=DRILL_REST_S,
        cue=drill.cue,
        hold_s=drill.hold_s,
        hint=drill.hint,
    )


def wake_step(brief: Brief, number: int) -> Step:
    """The activation of a session: one row with the sets of the lower side."""
    name = brief.group.wake[number % len(brief.group.wake)]
    drill = brief.book.coaching.drills[name]
    dose = Dose(drill.sets, drill.reps, WAKE_RESERVE)
    return of_drill(drill, StepPart.ACTIVATION, brief.first, dose, brief.weeks)


def range_steps(brief: Brief, name: str) -> list[Step]:
    """Work through the range: one set of both sides, the other sets of the tighter side alone."""
    drill = brief.book.coaching.drills[name]
    even = of_drill(drill, StepPart.RANGE, brief.first, Dose(1, drill.reps), brief.weeks)
    if drill.sets == 1:
        return [even]
    more = of_drill(
        drill, StepPart.RANGE, brief.alone, Dose(drill.sets - 1, drill.reps), brief.weeks
    )
    return [even, more]


def main_step(brief: Brief, picked: Picked, ladder: Ladder) -> Step:
    """The lift of one side at a time by the ladder, the lower side first, with its load."""
    one, log = picked.exercise, brief.log
    reserve = brief.least_reserve(is_new=picked.is_new)
    may_be_heavy = not brief.who.is_minor and log.weeks.get(one.id, 0) >= LIFT_WEEKS
    doses = lift_doses(
        ladder,
        one,
        brief.weeks,
        least_reserve=reserve,
        tested=brief.tested,
        least_reps=1 if may_be_heavy else LEAST_REPS,
    )
    usual = log.one_sided(one.id)
    row = None if usual is None else usual.by_side[brief.lower]
    return replace(
        lift_step(one, StepPart.ONE_SIDE, brief.first, doses, brief),
        unit=unit_of(ladder, one),
        load_kg=None if row is None else planned_load(row, doses),
        is_new=picked.is_new,
        hint=_hint(one, brief),
    )


def lift_step(
    one: Exercise, part: StepPart, side: StepSide, doses: Sequence[Dose | None], brief: Brief
) -> Step:
    """An exercise of the dictionary as a step."""
    return Step(
        part=part,
        exercise=one.id,
        name=one.name,
        side=side,
        weeks=tuple(doses),
        unit=one.counted_in,
        held=held_load(one, brief.rules),
        seconds_down=int(brief.rules("controlled_lowering", "seconds")) if one.is_lowered else None,
        rest_s=one.rest_s[1],
        cue=one.cue,
        level=one.level,
        hint=one.hint,
    )


def _hint(one: Exercise, brief: Brief) -> str:
    return OTHER_HAND if one.id in brief.group.other_hand else one.hint


def isolation_step(brief: Brief, picked: Picked, *, is_kept: bool) -> Step:
    """One small exercise for the muscle of the test, fewer sets in the lighter week."""
    rule = brief.rules("dose", "isolation")
    one = picked.exercise
    reps = min(max(int(rule["reps"]), one.reps[0]), one.reps[1])
    reserve = brief.least_reserve(is_new=True)
    doses = tuple(
        Dose(1 if is_lighter(number) else int(rule["sets"]), reps, reserve)
        for number in range(brief.weeks)
    )
    usual = brief.log.one_sided(one.id)
    row = None if usual is None else usual.by_side[brief.lower]
    return replace(
        lift_step(one, StepPart.ISOLATION, brief.first, doses, brief),
        load_kg=None if row is None else planned_load(row, doses),
        is_new=picked.is_new,
        is_kept=is_kept,
    )


def pair_step(brief: Brief, pair: Usual, taken: int) -> Step:
    """A lift with both sides as the log has it, less the sets that are replaced."""
    row, one = pair.by_side["both"], pair.exercise
    sets, reps = max(1, int(row["typical_sets"])), max(1, int(row["typical_reps"]))
    reserve = max(brief.least_reserve(is_new=False), min(5, floor(row["rir"] or 0)))
    kept = max(1, sets - taken)
    doses = tuple(
        Dose(max(1, kept - kept // 3) if is_lighter(n) else kept, reps, reserve)
        for n in range(brief.weeks)
    )
    is_olympic = one.pattern == "olympic"
    step = lift_step(
        one, StepPart.JUMPS if is_olympic else StepPart.BOTH_SIDES, StepSide.BOTH, doses, brief
    )
    twins = (brief.book.exercises[name] for name in one.twins)
    own = next((t for t in twins if t.equipment == "dumbbell" and t.level <= 2), None)
    if own is not None and (own.id in brief.group.main or brief.log.one_sided(own.id)):
        own = None  # it stands in the plan or in the log already
    offer = own.name if own is not None and one.equipment == "barbell" and not is_olympic else ""
    return replace(step, load_kg=row["load_kg"], offer=offer)


def jump_steps(brief: Brief, picked: Sequence[Picked], number: int, wake: Step) -> list[Step]:
    """Jumps, throws, turns or practice before the lifts: of this session, by their ladder."""
    group, coaching = brief.group, brief.book.coaching
    ladder = coaching.ladders[group.jump_ladder]
    drills = [coaching.drills[name] for name in group.jumps if name in coaching.drills]
    if drills:
        return [_practice(brief, drills[0], ladder)]
    if not picked:
        return []
    if ladder.id == "quick" and not brief.log.has(picked[0].exercise.id):
        ladder = coaching.ladders["jump"]
    one = picked[number % len(picked)].exercise
    share = group.jump_share * brief.who.fast_share
    fewer = coaching.drills[wake.exercise].contacts * wake.dose.reps
    doses = jump_doses(ladder, one, brief.weeks, share, fewer)
    side: StepSide = StepSide.BOTH if one.laterality == Laterality.BILATERAL else brief.first
    step = replace(
        lift_step(one, StepPart.JUMPS, side, doses, brief), is_new=not brief.log.has(one.id)
    )
    if brief.log.has_jumps or one.contacts == 0 or one.laterality == Laterality.BILATERAL:
        return [step]
    soft = brief.book.exercises["box_jump"]
    easy = jump_doses(ladder, soft, brief.weeks, share, fewer)
    return [
        replace(
            lift_step(soft, StepPart.JUMPS, StepSide.BOTH, (*easy[:2], *doses[2:]), brief),
            is_new=True,
            later=(3, one.id, one.name),
            is_later_shown=one.level == 2 and not brief.log.has(one.id),
        )
    ]


def _practice(brief: Brief, drill: Drill, ladder: Ladder) -> Step:
    doses = jump_doses(ladder, drill, brief.weeks, brief.who.fast_share)
    step = of_drill(drill, StepPart.JUMPS, brief.first, doses[0], brief.weeks)
    speeds = tuple(ladder.speed[min(n, len(ladder.speed) - 1)] for n in range(brief.weeks)) if (
        ladder.speed
    ) else ()  # fmt: skip
    unit = CountedIn.S if ladder.seconds else drill.counted_in
    return replace(step, weeks=doses, unit=unit, speeds=speeds)
