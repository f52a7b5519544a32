"""What is true of a person: level and signed side difference in every test, week by week.

Levels and differences are drawn round the catalogue's expected figures. `d` is the right side
minus the left on the scale where higher is better: a log ratio for ratio tests, the difference
in the test's own unit for the others. Ordinary people stay well inside the review line.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from pipeline.catalogue import Measure, catalogue
from tests.sample.scenario import WEEKS, Knots, Person, person, read, rng, stories

ORDINARY_SHARE = 0.70  # of the review line: as far as an ordinary difference goes
WEEKLY_DRIFT = 0.10  # of the spread between people: what differences wander in a week (own choice)
SPRINT = "sprint_10m_time"
REACHES = ("reach_anterior", "reach_posteromedial", "reach_posterolateral")


@dataclass(frozen=True)
class Truth:
    """Both sides of one person in one test."""

    measure: str
    is_log: bool
    level: float  # log of the value, or the value; the middle between the sides
    gain: float  # by week 16, on the same scale
    d: tuple[float, ...]  # one figure a week, before what a story adds
    sides: dict[str, Knots]
    sign: int  # -1 where lower is better

    def value(self, week: float, side: str) -> float:
        """The true value of one side in one week, in the unit of the test's difference."""
        middle = self.level + self.gain * week / WEEKS
        half = {"right": 0.5, "left": -0.5, "both": 0.0}[side] * self.sign * self.d[round(week) - 1]
        change = _at(self.sides.get(side, ()), week)
        if self.is_log:
            return math.exp(middle + half) * (1 + change / 100) ** self.sign
        return middle + half + change


@cache
def truth(athlete: str, measure: str) -> Truth:
    """Draw what is true of one person in one test, always the same."""
    who = person(athlete)
    if measure == SPRINT:
        return _sprint(who)
    kind = catalogue().measures[measure]
    story = stories().get(athlete)
    told = story.sides.get(measure, {}) if story else {}
    even = bool(told) or (story is not None and measure in story.even)
    draw = rng("gain", athlete, measure)
    return Truth(
        measure=measure,
        is_log=is_log(kind),
        level=_level(who, kind),
        gain=float(draw.normal(0.015, 0.01)) * (1.0 if is_log(kind) else 0.0) * _sign(kind),
        d=tuple(expected_lead(who, kind) + beyond for beyond in _beyond_lead(who, kind, even)),
        sides=told,
        sign=_sign(kind),
    )


def is_log(kind: Measure) -> bool:
    """Whether a test's difference is a ratio."""
    return kind.scale == "log"


def to_d(kind: Measure, shown: float) -> float:
    """A displayed difference as d: percent of the better side, difference over the sum, or unit."""
    if kind.formula == "pct_of_best":
        return math.copysign(math.log1p(-abs(shown) / 100), shown)
    if kind.formula == "bilateral_index":
        return 2 * math.atanh(shown / 100)
    return shown


def side_sd(kind: Measure) -> float:
    """The catalogue's spread of true side differences, on the scale of d."""
    return to_d(kind, kind.side_sd)


def expected_lead(who: Person, kind: Measure) -> float:
    """What the dominant side is expected to lead by, right minus left, on the scale of d."""
    side = {"hand": who.hand, "foot": who.foot, "none": ""}[kind.lead.by]
    lead = 0.0
    if side == "right":
        lead = to_d(kind, kind.lead.right_dominant)
    elif side == "left":
        lead = -to_d(kind, kind.lead.left_dominant)
    return lead


def _beyond_lead(who: Person, kind: Measure, even: bool) -> list[float]:
    """An unremarkable difference week by week: the catalogue's spread and a little wandering.

    Throwers have a shift of their own. Everything stays well inside the review line.
    """
    throwers = read("tests")["throwers"]
    shift = throwers["shift"].get(kind.id, 0.0) if who.position in throwers["positions"] else 0.0
    if who.hand == "left":
        shift = -shift
    if even:
        return [shift] * WEEKS
    steps = rng("drift", who.id, kind.id).normal(0.0, WEEKLY_DRIFT * side_sd(kind), WEEKS)
    walk = shift + side_sd(kind) * _side_z(who.id, kind) + np.cumsum(steps)
    most = ORDINARY_SHARE * to_d(kind, kind.review)
    return [float(d) for d in np.clip(walk, -most, most)]


def _side_z(athlete: str, kind: Measure) -> float:
    """A standard normal figure; related tests of one person share part of it, as in life."""
    plan = read("tests")
    own = float(rng("side", athlete, kind.id).normal())
    if kind.id in plan["opposed"]:
        other = catalogue().measures[plan["opposed"][kind.id]]
        return -0.6 * _side_z(athlete, other) + 0.8 * own
    if kind.id in plan["linked"]:
        other = catalogue().measures[plan["linked"][kind.id]["to"]]
        return 0.7 * _side_z(athlete, other) + 0.71 * own
    return 0.5 * float(rng("side", athlete, kind.region, kind.group).normal()) + 0.87 * own


def _level(who: Person, kind: Measure) -> float:
    link = read("tests")["linked"].get(kind.id)
    mean, sd = _expected(who, kind)
    z = 0.5 * _fitness(who.id) + 0.85 * float(rng("level", who.id, kind.id).normal())
    z = float(np.clip(z, -1.7, 1.7))
    if link:
        other = catalogue().measures[link["to"]]
        ratio = math.log(mean / _expected(who, other)[0])
        return _level(who, other) + ratio + link["spread"] * z
    if is_log(kind):
        return math.log(mean) + z * math.log1p(sd / mean)
    room = 3 * kind.error  # so that noise alone does not make a value look unusual
    level = float(np.clip(mean + z * sd, kind.warn[0] + room, kind.warn[1] - room))
    # reaches are written down in cm, while their level is known in percent of limb length
    return level * sum(who.limb_cm.values()) / 200 if kind.id in REACHES else level


def _expected(who: Person, kind: Measure) -> tuple[float, float]:
    return kind.expected_men if who.sex == "male" else kind.expected_women


@cache
def _fitness(athlete: str) -> float:
    return float(np.clip(rng("fitness", athlete).normal(), -1.5, 1.5))


def _sprint(who: Person) -> Truth:
    """A 10 m time that leaves a usual change-of-direction deficit beside the 505 time."""
    turn = truth(who.id, "cod_505_time")
    mean, sd = _expected(who, catalogue().measures["cod_deficit_505"])
    deficit = mean + 0.4 * sd * float(np.clip(rng("deficit", who.id).normal(), -1.5, 1.5))
    level = math.log(math.exp(turn.level) - deficit)
    return Truth(SPRINT, True, level, turn.gain, (0.0,) * WEEKS, {}, -1)


def _sign(kind: Measure) -> int:
    return -1 if kind.better == "lower" else 1


def _at(knots: Knots, week: float) -> float:
    """The height of a broken line at one week; flat before its first and after its last knot."""
    if not knots:
        return 0.0
    weeks, changes = zip(*knots, strict=True)
    return float(np.interp(week, weeks, changes))
