"""One session of the next block, in order, and how its extra work grows from week to week.

Everything stays what the athlete already does; both sides do the same, the lower side first, and
only the extra of the lower side is added, within the weekly ceiling.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, inf
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Exercise, Measure

SHOWN_COMPOUNDS = 2
NOT_NEW = ("plyometric", "olympic")  # jumps and lifts at speed are not begun from a card
TYPICAL, LEAST = ("typical_sets", "typical_reps"), ("sets", "reps")  # medians; means, cut down
LEAST_EXTRA = 2  # repetitions: less is not worth walking back to the rack


@dataclass(frozen=True)
class Step:
    """One line of the training card."""

    part: str  # warm-up, one side at a time, both sides, isolation, extra, mobility
    name: str
    side: str  # lower first, lower only, both
    sets: int  # of each side, of the lower side in "lower only"
    reps: int
    load_kg: float | None
    seconds_down: int | None
    exercise: str | None = None
    other_sets: int = 0  # of the other side, where it keeps more than the lower side has yet
    per_week: float = 1.0
    is_new: bool = False


@dataclass(frozen=True)
class Plan:
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


@dataclass(frozen=True)
class Usual:
    """An exercise as the athlete does it; rows of `usual_work` by what the sides are here."""

    exercise: Exercise
    lower: Mapping[str, Any] | None
    other: Mapping[str, Any] | None
    both: Mapping[str, Any] | None

    @property
    def row(self) -> Mapping[str, Any] | None:
        """The lower side's row where both sides do the exercise, else that of two-sided sets."""
        return self.lower if self.lower and self.other else self.both

    @property
    def is_one_sided(self) -> bool:
        """Whether each side does it by itself."""
        return self.lower is not None and self.other is not None


def training_session(
    measure: Measure,
    lower: str,
    usual: Sequence[Mapping[str, Any]],
    book: Catalogue,
    doses: Doses,
    *,
    hold: bool = False,
) -> Plan:
    """The session that trains a measure; `usual` holds the athlete's rows of `usual_work`.

    With `hold` the extra stays what it is: a difference that is closing needs no more.
    """
    known = _known(usual, lower, book)
    recent = _weekly(usual, known, measure, lower)
    for numbers in (TYPICAL, LEAST):
        steps = _steps(measure, known, recent, book, doses, numbers)
        if all(
            _total(steps, known, was, who) <= ceiling(was, doses)
            for was, who in zip(recent, ("lower", "other"), strict=True)
        ):
            break
    kept = _maintained(steps, known, recent, doses)
    return _with_extra(kept, known, recent, doses, hold=hold)


def ceiling(before: float, doses: Doses) -> float:
    """Most weekly repetitions of a side after a week with so many; without any, all is new."""
    share, least = doses("weekly_increase", "max_share"), doses("weekly_increase", "least_reps")
    return float(before + max(share * before, least)) if before > 0 else inf


def _steps(
    measure: Measure,
    known: Mapping[str, Usual],
    recent: tuple[float, float],
    book: Catalogue,
    doses: Doses,
    numbers: tuple[str, str],
) -> list[Step]:
    """The session in order, without its extra."""
    compounds = _fitting(known, measure, doses, "compound", one_sided=True)[:SHOWN_COMPOUNDS]
    pairs = _fitting(known, measure, doses, "compound", one_sided=False)[:1]
    single = _fitting(known, measure, doses, "isolation", one_sided=True)[:1]
    slow = int(doses("controlled_lowering", "seconds"))
    steps = [_one_sided(one, "one side at a time", slow, numbers) for one in compounds]
    two_sided = [_two_sided(one, numbers) for one in pairs]
    singles = [_one_sided(one, "isolation", slow, numbers) for one in single]
    if not compounds and not single:
        fresh = _new(measure, pairs, recent, book, doses, slow)
        (steps if fresh.part == "one side at a time" else singles).append(fresh)
        two_sided = [_less(step, fresh) for step in two_sided]
    return [_warm_up(measure), *steps, *two_sided, *singles]


def fits(measure: Measure, exercise: Exercise) -> tuple[int, int] | None:
    """How well an exercise trains a measure, smaller is better; None where it does not.

    First the exercise a training record is about, then the measure's movement patterns in their
    order, then exercises of the same part of the body that share a muscle group.
    """
    if measure.is_record and measure.id.endswith(f":{exercise.id}"):
        return 0, 0
    if exercise.pattern in measure.patterns:
        return 1, measure.patterns.index(exercise.pattern)
    shared = len(set(measure.muscles) & set(exercise.muscles))
    return (2, -shared) if shared and exercise.region == measure.region else None


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


def _known(usual: Iterable[Mapping[str, Any]], lower: str, book: Catalogue) -> dict[str, Usual]:
    rows: dict[str, dict[str, Mapping[str, Any]]] = {}
    for row in usual:
        rows.setdefault(row["exercise"], {})[row["side"]] = row
    other = "right" if lower == "left" else "left"
    return {
        name: Usual(book.exercises[name], by.get(lower), by.get(other), by.get("both"))
        for name, by in rows.items()
        if name in book.exercises
    }


def _weekly(
    usual: Iterable[Mapping[str, Any]], known: Mapping[str, Usual], measure: Measure, lower: str
) -> tuple[float, float]:
    """Weekly repetitions of (lower side, other side), two-sided included.

    All work of the measure's part of the body counts, and what trains it from elsewhere.
    """
    near = {name for name, one in known.items() if fits(measure, one.exercise) is not None}
    own = [row for row in usual if row["region"] == measure.region or row["exercise"] in near]
    both = sum(row["weekly_reps"] for row in own if row["side"] == "both")
    mine = sum(row["weekly_reps"] for row in own if row["side"] == lower)
    all_sides = sum(row["weekly_reps"] for row in own)
    return both + mine, all_sides - mine


def _fitting(
    known: Mapping[str, Usual], measure: Measure, doses: Doses, kind: str, *, one_sided: bool
) -> list[Usual]:
    """Exercises of the log that train the measure, the best and most used first."""
    order = list(doses("own_load_per_side", "equipment"))

    def place(one: Usual) -> tuple[Any, ...]:
        used = one.row["weekly_reps"] if one.row else 0.0
        return fits(measure, one.exercise), _rank(one.exercise, order), -used, one.exercise.id

    return sorted(
        (
            one
            for one in known.values()
            if one.exercise.type == kind
            and one.is_one_sided == one_sided
            and one.row is not None
            and fits(measure, one.exercise) is not None
        ),
        key=place,
    )


def _rank(exercise: Exercise, order: Sequence[str]) -> int:
    return order.index(exercise.equipment) if exercise.equipment in order else len(order)


def _one_sided(one: Usual, part: str, slow: int, numbers: tuple[str, str]) -> Step:
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


def _two_sided(one: Usual, numbers: tuple[str, str]) -> Step:
    row = one.both or {}
    sets, reps = (max(1, floor(row[name])) for name in numbers)
    return Step("both sides", one.exercise.name, "both", sets, reps, row["load_kg"], None,
                one.exercise.id, sets, row["per_week"])  # fmt: skip


def _less(step: Step, new: Step) -> Step:
    """The two-sided lift with the sets taken off that the new one-sided exercise takes."""
    taken = min(new.sets, step.sets - 1)
    return replace(step, sets=step.sets - taken, other_sets=step.sets - taken)


def _new(
    measure: Measure,
    pairs: Sequence[Usual],
    recent: tuple[float, float],
    book: Catalogue,
    doses: Doses,
    slow: int,
) -> Step:
    """A one-sided exercise of the dictionary, in place of two-sided sets where there are any."""
    order = list(doses("own_load_per_side", "equipment"))
    fitting = [
        (fit, one.pattern in NOT_NEW, one.type != "compound", _rank(one, order), one.id)
        for one in book.exercises.values()
        if one.laterality != "bilateral" and (fit := fits(measure, one)) is not None
    ]
    one = book.exercises[min(fitting, key=lambda known: (known[1], *known))[-1]]
    usual = doses("dose", "one_sided" if one.type == "compound" else "isolation")
    sets, reps, per_week = int(doses("new_exercise", "sets")), int(usual["reps"]), 1.0
    row = pairs[0].both if pairs else None
    if row and row["typical_sets"] >= 2:
        sets = min(sets, floor(row["sets"]) // 2)
        reps, per_week = min(reps, max(1, floor(row["reps"]))), row["per_week"]
    elif max(recent) > 0:
        room = min(ceiling(was, doses) - was for was in recent)
        sets, reps = 1, floor(min(reps, room))
    part = "one side at a time" if one.type == "compound" else "isolation"
    return Step(part, one.name, "lower first", sets, reps, None, slow, one.id, sets, per_week,
                is_new=True)  # fmt: skip


def _warm_up(measure: Measure) -> Step:
    text = f"{measure.joint[:1].upper()}{measure.joint[1:]} through full range"
    return Step("warm-up", text, "lower only", 1, 10, None, None)


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
) -> Plan:
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
    return Plan(
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
