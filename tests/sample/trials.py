"""Test days: who came, and what each attempt on each side gave, noise included."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from pipeline.catalogue import catalogue
from tests.sample.scenario import (
    Person,
    Round,
    Story,
    day_of,
    people,
    read,
    rng,
    rounds,
    stories,
)
from tests.sample.truth import SPRINT, is_log, truth

KG_PER_LB = 0.45359237  # exact
SPRINT_ERROR_PCT = 1.0  # from memory: timing gates

# Shares of the catalogue's error of one trial: from attempt to attempt, from day to day on one
# side, and from day to day on both sides at once (own choice: together about the whole error).
ATTEMPT, SIDE_DAY, BOTH_DAY = 0.9, 0.3, 0.5

MISSED_DAY = 0.07  # an ordinary person misses a test day this often
BOTCHED = 0.004  # attempts that went wrong and were kept, 8 to 20 % too low


@dataclass(frozen=True)
class Trial:
    """One attempt on one side, in the unit its file is written in."""

    athlete: str
    week: int
    tested_on: date
    measure: str
    side: str
    number: int
    value: float
    unit: str
    pain: int | None = None
    note: str = ""


@cache
def trials_of(sheet: str) -> tuple[Trial, ...]:
    """Every attempt of a sheet, by day, person, test, attempt and side."""
    found = [
        trial
        for block in rounds()
        if block.sheet == sheet
        for who in people()
        if who.squad.code == block.squad
        for measure in block.measures
        for week in _weeks(who, block, measure)
        for trial in _session(who, block, measure, week)
    ]
    order = list(read("tests")["measures"])
    return tuple(
        sorted(
            found,
            key=lambda t: (t.tested_on, t.athlete, order.index(t.measure), t.number, t.side),
        )
    )


def _weeks(who: Person, block: Round, measure: str) -> list[int]:
    """The weeks in which one person did one test."""
    story = stories().get(who.id)
    if story is None:
        return _attended(who.id, block)
    weeks = story.weeks.get(measure, block.weeks)
    return [w for w in weeks if not any(_is_absent(a, measure, w) for a in story.absent)]


def _attended(athlete: str, block: Round) -> list[int]:
    """Weeks of an ordinary person: a day missed now and then, never two in a row."""
    came: list[bool] = []
    for week in block.weeks:
        missed = rng("came", athlete, block.sheet, week).random() < MISSED_DAY
        came.append(not missed or came[-1:] == [False])
    return [week for week, there in zip(block.weeks, came, strict=True) if there]


def _is_absent(entry: dict[str, Any], measure: str, week: int) -> bool:
    first, last = entry["weeks"]
    return first <= week <= last and measure in entry.get("measures", [measure])


def _session(who: Person, block: Round, measure: str, week: int) -> Iterator[Trial]:
    story = stories().get(who.id)
    tested_on = day_of(week, block.weekday)
    written = read("tests")["measures"][measure]
    sides = ("both",) if measure == SPRINT else ("left", "right")
    count = min(block.trials, 2) if measure == SPRINT else block.trials
    for side in sides:
        pain, note = _said(story, measure, week, side)
        for number, value in enumerate(_values(who, measure, week, side, count), start=1):
            in_unit = value / KG_PER_LB if written.get("unit") == "lb" else value
            yield Trial(
                athlete=who.id,
                week=week,
                tested_on=tested_on,
                measure=measure,
                side=side,
                number=number,
                value=_as_written(in_unit, written),
                unit=written.get("unit", _unit(measure)),
                pain=pain,
                note=note,
            )


def _as_written(value: float, written: dict[str, Any]) -> float:
    """A value at the resolution of its file, and no higher than somebody reads it."""
    capped = min(value, written.get("most", value))
    return round(round(capped / written["step"]) * written["step"], 3)


def _values(who: Person, measure: str, week: int, side: str, count: int) -> list[float]:
    """The attempts of one side on one day: the truth, the day, the attempt."""
    true = truth(who.id, measure).value(week, side)
    error, in_log = _error(measure)
    fixed = _fixed(stories().get(who.id), measure, week, side)
    if fixed:
        return [true * (1 + percent / 100) for percent in fixed]
    both = rng("day", who.id, measure, week).normal()
    draw = rng("trial", who.id, measure, week, side)
    day = error * (BOTH_DAY * both + SIDE_DAY * draw.normal())
    noise = [day + error * ATTEMPT * draw.normal() for _ in range(count)]
    if in_log:
        botched = [draw.uniform(0.80, 0.92) if draw.random() < BOTCHED else 1.0 for _ in noise]
        return [true * math.exp(e) * b for e, b in zip(noise, botched, strict=True)]
    return [true + e for e in noise]


def _error(measure: str) -> tuple[float, bool]:
    """The catalogue's error of one trial, and whether it is one of the logarithm."""
    if measure == SPRINT:
        return SPRINT_ERROR_PCT / 100, True
    kind = catalogue().measures[measure]
    return (kind.error / 100, True) if is_log(kind) else (kind.error, False)


def _fixed(story: Story | None, measure: str, week: int, side: str) -> list[float]:
    for entry in story.fixed if story else ():
        if (entry["measure"], entry["week"]) == (measure, week):
            return entry[side]
    return []


def _said(story: Story | None, measure: str, week: int, side: str) -> tuple[int | None, str]:
    for entry in story.said if story else ():
        if (entry["measure"], entry["week"]) == (measure, week) and entry["side"] in (side, "both"):
            return entry.get("pain"), entry.get("note", "")
    return None, ""


def _unit(measure: str) -> str:
    return "s" if measure == SPRINT else catalogue().measures[measure].unit
