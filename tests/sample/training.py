"""The training logs: what each person lifted, set by set and side by side."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

import numpy as np

from tests.sample.scenario import WEEKS, Person, Story, day_of, people, read, rng, stories

SORE_WORDS = ("", "", "", "", "felt good", "slow today", "short of time", "new shoes")


@dataclass(frozen=True)
class Set:
    """One row of a log."""

    athlete: str
    trained_on: date
    exercise: str
    number: int
    side: str
    reps: int
    load_kg: float | None
    order: int
    effort: int | None
    tempo: str
    note: str


@cache
def sets_of(squad: str) -> tuple[Set, ...]:
    """Every set of one squad's log, in the order it was written down."""
    plan = read("programme")["squads"][squad]
    members = [who for who in people() if who.squad.code == squad]
    return tuple(
        one
        for week in range(1, WEEKS + 1)
        if week not in plan["rest_weeks"]
        for session in plan["sessions"]
        for who in members
        if _came(who, week, session["weekday"], plan["attendance"])
        for one in _session(who, week, session, plan["effort"])
    )


def _came(who: Person, week: int, weekday: int, attendance: float) -> bool:
    story = stories().get(who.id)
    if story and week < story.training.get("from_week", 1):
        return False
    return bool(rng("gym", who.id, week, weekday).random() < attendance)


def _session(who: Person, week: int, session: dict[str, Any], scale: str) -> Iterator[Set]:
    story = stories().get(who.id)
    left_out = story.training.get("leaves_out", []) if story else []
    remark = str(rng("remark", who.id, week, session["weekday"]).choice(SORE_WORDS))
    for order, exercise in enumerate(session["exercises"], start=1):
        if exercise["id"] in left_out:
            continue
        for one in _sets(who, week, exercise, order, scale, story):
            day = day_of(week, session["weekday"])
            note = one["note"] or (remark if order == one["number"] == 1 else "")
            yield Set(athlete=who.id, trained_on=day, **{**one, "note": note})


def _sets(
    who: Person, week: int, exercise: dict[str, Any], order: int, scale: str, story: Story | None
) -> Iterator[dict[str, Any]]:
    equal = story is not None and story.training.get("equal", False)
    sides = ("both",) if exercise["sides"] == "both" or equal else ("left", "right")
    counts = {side: _count(exercise, side, week, story) for side in sides}
    for number in range(1, max(counts.values()) + 1):
        for side in sides:
            if number > counts[side]:
                continue
            draw = rng("set", who.id, week, exercise["id"], number, side)
            effort = int(draw.integers(1, 4))
            yield {
                "exercise": exercise["id"],
                "number": number,
                "side": side,
                "reps": _reps(exercise, draw, number),
                "load_kg": _load(who, week, exercise, side, story),
                "order": order,
                "effort": _effort(effort, scale, draw),
                "tempo": exercise["tempo"],
                "note": _note(exercise, side, number, counts, story),
            }


def _count(exercise: dict[str, Any], side: str, week: int, story: Story | None) -> int:
    """Sets of one side: the plan's, and what a story adds."""
    extra = 0
    for entry in story.training.get("extra", []) if story else []:
        first, last = entry["weeks"]
        if exercise["id"] in entry["exercises"] and side == entry["side"] and first <= week <= last:
            extra += entry["sets"]
    return exercise["sets"] + extra


def _reps(exercise: dict[str, Any], draw: np.random.Generator, number: int) -> int:
    """The reps asked for; now and then one or two fewer in a later set."""
    missed = int(draw.integers(1, 3)) if number > 1 and draw.random() < 0.12 else 0
    return exercise["reps"] - missed * (2 if exercise["reps"] > 15 else 1)


def _load(
    who: Person, week: int, exercise: dict[str, Any], side: str, story: Story | None
) -> float | None:
    """Load by sex and strength, a little more every fourth week; the same on both sides but for
    what a story says. None where the exercise is done with body mass."""
    step = exercise["step"]
    if not step:
        return None
    strength = float(np.clip(rng("strength", who.id).normal(0.0, 0.14), -0.25, 0.25))
    load = exercise["men" if who.sex == "male" else "women"] * (1 + strength)
    load *= 1 + 0.03 * ((week - 1) // 4)
    for entry in story.training.get("lighter", []) if story else []:
        if exercise["id"] in entry["exercises"] and side == entry["side"]:
            load *= 1 + entry["change"] / 100
    return max(step, round(load / step) * step)


def _effort(in_reserve: int, scale: str, draw: np.random.Generator) -> int | None:
    """Reps in reserve, or exertion of 10; not everybody writes it down."""
    if draw.random() < 0.25:
        return None
    return in_reserve if scale == "rir" else 10 - in_reserve


def _note(
    exercise: dict[str, Any], side: str, number: int, counts: dict[str, int], story: Story | None
) -> str:
    if story is None:
        return ""
    for entry in story.training.get("extra", []):
        is_extra = number > exercise["sets"] and side == entry["side"]
        if is_extra and exercise["id"] in entry["exercises"]:
            return entry.get("note", "")
    return story.training.get("note", "") if number == 1 and len(counts) == 1 else ""
