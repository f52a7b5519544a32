"""The scenario as frozen objects: who there is, what is tested when, whose story is told.

Everything that can be chosen stands in the TOML files beside this module.
"""

import tomllib
import zlib
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

DATA = Path(__file__).parent / "data"
SEED = 20261120
FIRST_MONDAY = date(2026, 8, 3)
WEEKS = 16
LAST_DAY = date(2026, 11, 20)  # the Friday of week 16

Knots = tuple[tuple[float, float], ...]  # (week, change), straight lines between


@dataclass(frozen=True)
class Squad:
    code: str
    name: str
    sex: str
    limb_lengths: bool


@dataclass(frozen=True)
class Person:
    id: str
    name: str
    squad: Squad
    sex: str
    born: date
    hand: str
    foot: str
    position: str
    availability: str
    known_difference: str
    known_side: str
    known_since: date | None
    blank: tuple[str, ...]
    height_cm: int
    body_mass_kg: float
    limb_cm: dict[str, float]  # by side


@dataclass(frozen=True)
class Round:
    squad: str
    sheet: str
    weekday: int
    weeks: tuple[int, ...]
    measures: tuple[str, ...]
    trials: int


@dataclass(frozen=True)
class Story:
    key: str
    athlete: str
    title: str
    tells: str
    sides: dict[str, dict[str, Knots]] = field(default_factory=dict)  # measure, side
    even: tuple[str, ...] = ()
    weeks: dict[str, list[int]] = field(default_factory=dict)
    absent: tuple[dict[str, Any], ...] = ()
    fixed: tuple[dict[str, Any], ...] = ()
    said: tuple[dict[str, Any], ...] = ()
    training: dict[str, Any] = field(default_factory=dict)


def rng(*key: object) -> np.random.Generator:
    """A generator of its own for every key, so that one changed story leaves all else as it was."""
    return np.random.default_rng([SEED, zlib.crc32("/".join(map(str, key)).encode())])


def day_of(week: int, weekday: int) -> date:
    """The date of a weekday (0 = Monday) in week 1 to 16."""
    return FIRST_MONDAY + timedelta(days=7 * (week - 1) + weekday)


@cache
def read(name: str) -> dict[str, Any]:
    """One data file as it stands."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def people() -> tuple[Person, ...]:
    """Everybody, in the order of the roster."""
    squads = {entry["code"]: Squad(**entry) for entry in read("people")["squads"]}
    return tuple(_person(entry, squads[entry["id"][:2]]) for entry in read("people")["people"])


def person(athlete: str) -> Person:
    """The person behind an id; KeyError if there is none."""
    return {one.id: one for one in people()}[athlete]


@cache
def rounds() -> tuple[Round, ...]:
    """Every block of test days: one squad, one sheet."""
    return tuple(
        Round(**{**entry, "weeks": tuple(entry["weeks"]), "measures": tuple(entry["measures"])})
        for entry in read("tests")["rounds"]
    )


@cache
def stories() -> dict[str, Story]:
    """The stories by athlete."""
    return {entry["athlete"]: _story(entry) for entry in read("stories")["stories"]}


def _person(entry: dict[str, Any], squad: Squad) -> Person:
    sex = entry.get("sex", squad.sex)
    draw = rng("body", entry["id"])
    usual = {"male": 181, "female": 168}[sex] + read("people")["taller"].get(
        entry.get("position", ""), 0
    )
    height = round(usual + 4.5 * float(np.clip(draw.normal(), -1.8, 1.8)))
    # mass for height with a spread of 7 %; leg length about 0.505 of height (both from memory)
    mass = {"male": 24.2, "female": 22.6}[sex] * (height / 100) ** 2 * (1 + 0.07 * draw.normal())
    leg = 0.505 * height + float(draw.normal())
    gap = 1.8 if "leg-length" in entry.get("known_difference", "") else 0.4 * float(draw.normal())
    return Person(
        id=entry["id"],
        name=entry["name"],
        squad=squad,
        sex=sex,
        born=entry["born"],
        hand=entry.get("hand", "right"),
        foot=entry.get("foot", "right"),
        position=entry.get("position", ""),
        availability=entry.get("availability", "full"),
        known_difference=entry.get("known_difference", ""),
        known_side=entry.get("known_side", ""),
        known_since=entry.get("known_since"),
        blank=tuple(entry.get("blank", ())),
        height_cm=height,
        body_mass_kg=round(2 * mass) / 2,
        limb_cm={"left": round(leg + gap / 2, 1), "right": round(leg - gap / 2, 1)},
    )


def _story(entry: dict[str, Any]) -> Story:
    lists = {
        name: tuple(entry[name]) for name in ("even", "absent", "fixed", "said") if name in entry
    }
    sides = {
        measure: {side: tuple(map(tuple, knots)) for side, knots in sides.items()}
        for measure, sides in entry.get("sides", {}).items()
    }
    return Story(**{**entry, **lists, "sides": sides})
