"""Test days of a week: what each person's sides did in the stories the reports are there for."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from pipeline.catalogue import Measure, catalogue
from tests.weeks.decks import Cell, Dealer, signs
from tests.weeks.people import Person

# With a comma in place of the point it could mean a thousand and more.
THOUSANDS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")
DAYS_BEFORE = (70, 28, 14, 0)  # days of tests before the newest one
# How large the left side's lead is on each of the days, in review lines, and on which it is tested.
STORIES: dict[str, tuple[tuple[float, ...], tuple[int, ...]]] = {
    "even": ((0.0, 0.1, -0.1, 0.0), (1, 2, 3)),
    "left lower": ((-2.2, -2.2, -2.3, -2.2), (0, 1, 2, 3)),
    "right lower": ((2.2, 2.3, 2.2, 2.2), (1, 2, 3)),
    "growing": ((-0.2, -0.8, -1.8, -2.8), (0, 1, 2, 3)),
    "closing": ((2.9, 2.2, 1.2, 0.4), (0, 1, 2, 3)),
    "one day": ((0, 0, 0, 1.8), (3,)),
    "one side": ((0, 0, 0, 0), (2, 3)),
    "long ago": ((1.2, 0, 0, 0), (0,)),
    "zero": ((0.0, 0.0, 0.0, 0.0), (2, 3)),
    "loss": ((0.0, 0.1, 0.0, -3.5), (1, 2, 3)),
    "pain": ((0.0, 1.0, 1.0, 1.0), (2, 3)),
    "note": ((0.0, 0.0, 0.5, 0.5), (2, 3)),
    "untested with pain": ((0.0, 0.0, 0.0, 0.0), (1, 2)),
    "low ratio": ((0.0, 0.3, 0.2, 0.3), (1, 2, 3)),
    "uneven work": ((0.0, -1.2, -1.4, -1.5), (1, 2, 3)),
}

LOUD = [Cell("7", 7.0), Cell("8!", 8.0), Cell("4", 4.0), Cell("3", 3.0), Cell("yes", 4.0)]


@dataclass
class Session:
    """What one person did in one test on one day, by side; a None value is an untested side."""

    person: Person
    day: str
    measure: Measure
    values: dict[str, list[float | None]]
    pain: dict[str, Cell] = field(default_factory=dict)
    note: dict[str, Cell] = field(default_factory=dict)


def session(
    person: Person, story: str, measure: Measure, day: str, place: int, trials: int, dealer: Dealer
) -> Session:
    """One day of a story; `place` is that of the day in DAYS_BEFORE."""
    lead = STORIES[story][0][place]
    level = _level(person, measure)
    if story == "low ratio" and measure.level_review is not None:
        level = measure.level_review - 2.5 * measure.expected_men[1]
    values: dict[str, list[float | None]] = {}
    if measure.kind == "whole_body":
        values["both"] = [_trial(measure, level, dealer) for _ in range(trials)]
    else:
        for side in ("left", "right"):
            own = shifted(measure, level, lead if side == "left" else 0.0)
            values[side] = [_trial(measure, own, dealer) for _ in range(trials)]
    if story == "zero" and place == 3 and measure.hard[0] <= 0 and "left" in values:
        values["left"] = [0.0] * trials
    if story == "one side" and place == 3 and "left" in values:
        values["right"] = []
    made = Session(person, day, measure, values)
    first = next(iter(values))
    is_last = place == STORIES[story][1][-1]
    if story == "pain" and is_last:
        made.pain[first] = dealer.next("loud pain", LOUD)
    if story == "note" and is_last:
        made.note[first] = dealer.next("note of a sign", signs())
    if story == "untested with pain" and is_last:
        values[first] = [None]
        made.pain[first] = Cell("7", 7.0)
        made.note[first] = dealer.cell("note")
    return made


def shifted(measure: Measure, level: float, lines: float) -> float:
    """A level that is so many review lines better (or worse) than another side at `level`."""
    size = lines * measure.review
    if measure.better == "lower":
        size = -size
    if measure.scale == "difference":
        return level + size
    share = max(-80.0, min(80.0, size)) / 100
    return level * (1 + share) if share < 0 else level / (1 - share)


def _level(person: Person, measure: Measure) -> float:
    """Where a person stands: the same on every day, another for everybody."""
    mean, spread = measure.expected_women if person.known("sex") == "female" else (
        measure.expected_men
    )  # fmt: skip
    place = sum(map(ord, person.id + person.name + measure.id)) % 13 - 6
    return mean + spread * place / 8


def _trial(measure: Measure, level: float, dealer: Dealer) -> float:
    """One trial about a level, in as many digits as a device gives, inside what can be."""
    error = level * measure.error / 100 if measure.error_kind == "pct" else measure.error
    value = level + error * 0.5 * float(dealer.chance.normal())
    low, high = measure.hard
    value = min(max(value, low + 0.02 * (high - low)), high - 0.02 * (high - low))
    return round(value, digits(measure)) + 0.0


def digits(measure: Measure) -> int:
    """Decimals that a twentieth of the spread between people needs."""
    return max(0, math.ceil(-math.log10(measure.expected_men[1] / 20)))


def measures_of(dealer: Dealer, stories: Sequence[str]) -> dict[str, Measure]:
    """The tests of a week by what they are for: the next of the catalogue, one more, and those
    that alone can have a ratio below its line, or a zero.
    """
    every = list(catalogue().measures.values())
    found = {"main": dealer.next("measure", every), "second": dealer.next("second measure", every)}
    if "low ratio" in stories:
        ratios = [one for one in every if one.level_review is not None]
        found["ratio"] = dealer.next("ratio", ratios)
    if "zero" in stories:
        zeros = [one for one in every if one.scale == "log" and one.hard[0] <= 0]
        found["zero"] = dealer.next("zero", [one for one in zeros if one.kind != "whole_body"])
    if len(found) > 2:
        del found["second"]
    return found
