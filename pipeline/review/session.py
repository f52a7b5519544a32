"""One session of the next block, in order, and how its extra work grows from week to week.

Everything stays what the athlete already does; both sides do the same, the lower side first, and
only the extra of the lower side is added, within the weekly ceiling.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.review.exercises import Usual, fits, fitting, known_exercises, weekly_work
from pipeline.review.steps import (
    Step,
    ceiling,
    fewer_sets,
    new_step,
    one_sided_step,
    two_sided_step,
    warm_up_step,
)

__all__ = ["Session", "Step", "fits", "growth", "training_session"]

SHOWN_COMPOUNDS = 2
TYPICAL, LEAST = ("typical_sets", "typical_reps"), ("sets", "reps")  # medians; means, cut down
LEAST_EXTRA = 2  # repetitions: less is not worth walking back to the rack


@dataclass(frozen=True)
class Session:
    """The steps of a session and the weekly repetitions they add up to in that part of the body.

    Repetitions of a side count its own sets and the two-sided ones. `weekly` holds (lower side,
    other side) for each week of the block, `recent` what the log holds for a week before it.
    """

    steps: tuple[Step, ...]
    extra: tuple[int, ...]  # repetitions of the extra set, week by week
    extra_per_week: float
    recent: tuple[float, float]
    weekly: tuple[tuple[float, float], ...]
    other_does_more: bool


def training_session(
    measure: Measure,
    lower: str,
    usual: Sequence[Mapping[str, Any]],
    book: Catalogue,
    doses: Doses,
    *,
    hold: bool = False,
) -> Session:
    """The session that trains a measure; `usual` holds the athlete's rows of `usual_work`.

    With `hold` the extra stays what it is: a difference that is closing needs no more.
    """
    known = known_exercises(usual, lower, book)
    recent = weekly_work(usual, known, measure, lower)
    for numbers in (TYPICAL, LEAST):
        steps = _steps(measure, known, recent, book, doses, numbers)
        if all(
            _total(steps, known, was, who) <= ceiling(was, doses)
            for was, who in zip(recent, ("lower", "other"), strict=True)
        ):
            break
    kept = _maintained(steps, known, recent, doses)
    return _with_extra(kept, known, recent, doses, hold=hold)


def _steps(
    measure: Measure,
    known: Mapping[str, Usual],
    recent: tuple[float, float],
    book: Catalogue,
    doses: Doses,
    numbers: tuple[str, str],
) -> list[Step]:
    """The session in order, without its extra."""
    compounds = fitting(known, measure, doses, "compound", one_sided=True)[:SHOWN_COMPOUNDS]
    pairs = fitting(known, measure, doses, "compound", one_sided=False)[:1]
    single = fitting(known, measure, doses, "isolation", one_sided=True)[:1]
    slow = int(doses("controlled_lowering", "seconds"))
    steps = [one_sided_step(one, "one side at a time", slow, numbers) for one in compounds]
    two_sided = [two_sided_step(one, numbers) for one in pairs]
    singles = [one_sided_step(one, "isolation", slow, numbers) for one in single]
    if not compounds and not single:
        fresh = new_step(measure, pairs, recent, book, doses, slow)
        (steps if fresh.part == "one side at a time" else singles).append(fresh)
        two_sided = [fewer_sets(step, fresh) for step in two_sided]
    return [warm_up_step(measure), *steps, *two_sided, *singles]


def growth(
    before: float, base: float, per_week: float, cap: int, weeks: int, doses: Doses
) -> tuple[int, ...]:
    """Repetitions of one extra set, week by week, within the weekly ceiling.

    `before` and `base` are weekly repetitions of the side: in the weeks before and in the plan
    without its extra.
    """
    last, grown = before, []
    for _ in range(weeks):
        room = ceiling(last, doses) - base
        reps = min(cap, max(0, floor(room / per_week + 1e-9)))
        grown.append(reps if reps >= LEAST_EXTRA else 0)
        last = base + per_week * grown[-1]
    return tuple(grown)


def _maintained(
    steps: Sequence[Step],
    known: Mapping[str, Usual],
    recent: tuple[float, float],
    doses: Doses,
) -> list[Step]:
    """The steps with more sets of the other side where it would fall below what keeps it."""
    keep = doses("maintenance", "keep_share") * recent[1]
    kept = list(steps)
    own = [place for place, step in enumerate(kept) if step.side == "lower first"]
    for left, place in zip(range(len(own), 0, -1), own, strict=True):
        step = kept[place]
        missing = (keep - _total(kept, known, recent[1], "other")) / left
        if missing > 0 and step.exercise in known:
            more = ceil(missing / (step.per_week * step.reps) - 1e-9)
            kept[place] = replace(step, other_sets=step.other_sets + more)
    return kept


def _total(steps: Iterable[Step], known: Mapping[str, Usual], recent: float, who: str) -> float:
    """Weekly repetitions of a side: what it did, less what the steps replace, plus the steps."""
    total = recent
    for step in steps:
        if step.exercise is None or step.part == "extra":
            continue
        sets = step.sets if who == "lower" else step.other_sets
        total += step.per_week * sets * step.reps
        one = known.get(step.exercise)
        rows = () if one is None else (one.lower if who == "lower" else one.other, one.both)
        wanted = ("both",) if step.side == "both" else ("left", "right")
        total -= sum(row["weekly_reps"] for row in rows if row and row["side"] in wanted)
    return max(total, 0.0)


def _with_extra(
    steps: Sequence[Step],
    known: Mapping[str, Usual],
    recent: tuple[float, float],
    doses: Doses,
    *,
    hold: bool,
) -> Session:
    weeks = int(doses("length", "weeks"))
    one_sided = [step for step in steps if step.side == "lower first"]
    bearer = next((step for step in one_sided if step.seconds_down is not None), None)
    bearer = bearer or next(iter(one_sided), None)
    if bearer is not None and bearer.is_new:  # learn it before adding to it
        bearer = None
    base = _total(steps, known, recent[0], "lower")
    other = _total(steps, known, recent[1], "other")
    ratio = _done(known, one_sided)
    extra: tuple[int, ...] = (0,) * weeks
    if bearer is not None:
        cap = int(doses("extra_work", "sets")) * bearer.reps
        cap = min(
            cap, floor((doses("extra_work", "max_side_ratio") - 1) * bearer.sets * bearer.reps)
        )
        before = recent[0] or base
        per_week = bearer.per_week
        extra = growth(before, base, per_week, cap, weeks, doses)
        if hold:
            extra = (min(extra[0], _extra_now(bearer, known)),) * weeks
    ordered = list(steps)
    if bearer is not None and max(extra) > 0:
        ordered.append(
            replace(bearer, part="extra", side="lower only", sets=1, reps=max(extra), other_sets=0)
        )
    rate = bearer.per_week if bearer else 0.0
    return Session(
        steps=tuple(ordered),
        extra=extra,
        extra_per_week=rate,
        recent=recent,
        weekly=tuple((base + rate * reps, other) for reps in extra),
        other_does_more=ratio is not None and ratio < 1,
    )


def _extra_now(bearer: Step, known: Mapping[str, Usual]) -> int:
    """Repetitions that the lower side does beyond the other's sets as a rule."""
    one = known.get(bearer.exercise or "")
    more = one.lower["typical_sets"] - bearer.sets if one and one.lower else 0.0
    return max(0, floor(more)) * bearer.reps


def _done(known: Mapping[str, Usual], steps: Iterable[Step]) -> float | None:
    """Lower side's repetitions over the other's in these exercises, a tenth less counts as even."""
    pairs = [known[s.exercise] for s in steps if s.exercise is not None and s.exercise in known]
    lower = sum(one.lower["weekly_reps"] for one in pairs if one.lower)
    other = sum(one.other["weekly_reps"] for one in pairs if one.other)
    return (lower / other) / 0.9 if other else None
