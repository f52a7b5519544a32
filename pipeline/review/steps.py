"""The lines of a training card, each from what the athlete does or from the dictionary."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, inf

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.review.exercises import Usual, fits, rank
from schemas.vocabulary import StepPart, StepSide

NOT_NEW = ("plyometric", "olympic")  # jumps and lifts at speed are not begun from a card


@dataclass(frozen=True)
class Step:
    """One line of the training card."""

    part: StepPart
    name: str  # of the exercise; of the joint in warm-up and mobility
    side: StepSide
    sets: int  # of each side, of the lower side in "lower only"
    reps: int
    load_kg: float | None
    seconds_down: int | None
    exercise: str | None = None
    other_sets: int = 0  # of the other side, where it keeps more than the lower side has yet
    per_week: float = 1.0
    is_new: bool = False


def warm_up_step(measure: Measure) -> Step:
    return Step("warm-up", measure.joint, "lower only", 1, 10, None, None)


def one_sided_step(one: Usual, part: StepPart, slow: int, numbers: tuple[str, str]) -> Step:
    """Both sides do what the side with fewer sets does, with the lower side's load."""
    lower, other = one.lower or {}, one.other or {}
    sets, reps = (max(1, floor(min(lower[name], other[name]))) for name in numbers)
    return Step(
        part=part,
        name=one.exercise.name,
        side="lower first",
        sets=sets,
        reps=reps,
        load_kg=lower["load_kg"],
        seconds_down=None if one.exercise.pattern == "plyometric" else slow,
        exercise=one.exercise.id,
        other_sets=sets,
        per_week=lower["per_week"],
    )


def two_sided_step(one: Usual, numbers: tuple[str, str]) -> Step:
    row = one.both or {}
    sets, reps = (max(1, floor(row[name])) for name in numbers)
    return Step("both sides", one.exercise.name, "both", sets, reps, row["load_kg"], None,
                one.exercise.id, sets, row["per_week"])  # fmt: skip


def fewer_sets(step: Step, new: Step) -> Step:
    """The two-sided lift with the sets taken off that the new one-sided exercise takes."""
    taken = min(new.sets, step.sets - 1)
    return replace(step, sets=step.sets - taken, other_sets=step.sets - taken)


def new_step(
    measure: Measure,
    pairs: Sequence[Usual],
    recent: tuple[float, float],
    book: Catalogue,
    doses: Doses,
    slow: int,
) -> Step:
    """A one-sided exercise of the dictionary, in place of two-sided sets where there are any."""
    order = list(doses("own_load_per_side", "equipment"))
    easy = list(doses("new_exercise", "begin_with"))
    known = [
        (
            one.pattern in NOT_NEW,
            fit[0],
            easy.index(one.id) if one.id in easy else len(easy),
            fit[1],
            one.type != "compound",
            rank(one, order),
            one.id,
        )
        for one in book.exercises.values()
        if one.laterality != "bilateral" and (fit := fits(measure, one)) is not None
    ]
    one = book.exercises[min(known)[-1]]
    usual = doses("dose", "one_sided" if one.type == "compound" else "isolation")
    sets, reps, per_week = int(doses("new_exercise", "sets")), int(usual["reps"]), 1.0
    row = pairs[0].both if pairs else None
    if row and row["typical_sets"] >= 2:
        sets = min(sets, max(1, floor(row["sets"]) // 2))
        reps, per_week = min(reps, max(1, floor(row["reps"]))), row["per_week"]
    elif max(recent) > 0:
        room = min(ceiling(was, doses) - was for was in recent)
        sets, reps = 1, floor(min(reps, room))
    part: StepPart = "one side at a time" if one.type == "compound" else "isolation"
    return Step(part, one.name, "lower first", sets, reps, None, slow, one.id, sets, per_week,
                is_new=True)  # fmt: skip


def ceiling(before: float, doses: Doses) -> float:
    """Most weekly repetitions of a side after a week with so many; without any, all is new."""
    share, least = doses("weekly_increase", "max_share"), doses("weekly_increase", "least_reps")
    return float(before + max(share * before, least)) if before > 0 else inf
