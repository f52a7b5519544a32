"""Which exercises of an athlete's log, or of the dictionary, train a measure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Exercise, Measure

MOBILITY_GROUPS = ("range_of_motion", "balance")  # of measures: slow work through the range


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


def is_trained(measure: Measure, book: Catalogue) -> bool:
    """Whether any exercise trains a measure; nothing changes the length of a leg."""
    return any(fits(measure, exercise) is not None for exercise in book.exercises.values())


def known_exercises(
    usual: Iterable[Mapping[str, Any]], lower: str, book: Catalogue
) -> dict[str, Usual]:
    rows: dict[str, dict[str, Mapping[str, Any]]] = {}
    for row in usual:
        rows.setdefault(row["exercise"], {})[row["side"]] = row
    other = "right" if lower == "left" else "left"
    return {
        name: Usual(book.exercises[name], by.get(lower), by.get(other), by.get("both"))
        for name, by in rows.items()
        if name in book.exercises
    }


def weekly_work(
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


def fitting(
    known: Mapping[str, Usual], measure: Measure, doses: Doses, kind: str, *, one_sided: bool
) -> list[Usual]:
    """Exercises of the log that train the measure, the best and most used first."""
    order = list(doses("own_load_per_side", "equipment"))

    def place(one: Usual) -> tuple[Any, ...]:
        used = one.row["weekly_reps"] if one.row else 0.0
        return fits(measure, one.exercise), rank(one.exercise, order), -used, one.exercise.id

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


def rank(exercise: Exercise, order: Sequence[str]) -> int:
    return order.index(exercise.equipment) if exercise.equipment in order else len(order)
