"""What a test day is made of: its stations in their order, and what one athlete does at most."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from pipeline.catalogue.entries import Measure
from pipeline.errors import SquadsidesError
from schemas.catalogue_words import Effort


@dataclass(frozen=True)
class Station:
    """Tests that are done in one place; `schemas/test_day.toml` says how."""

    id: str
    title: str
    measures: tuple[str, ...]  # in the order in which they are done
    effort: Effort
    practice: int
    rest_s: tuple[int, int]  # seconds between trials
    an_hour: int  # athletes
    before: str
    source: str
    is_adult: bool = False  # one repetition with all that goes: from an age on
    logged: str = ""  # an exercise that the training log must have
    second_day: bool = False  # whether it is on the second of two days


@dataclass(frozen=True)
class DayLimits:
    """What one athlete does on one day at most."""

    measures: int
    leg_strength: int  # stations
    minutes: int
    source: str


@dataclass(frozen=True)
class MostEffort:
    """The most effort of those who may not do all."""

    pain: Effort
    pain_least: float
    returning: Effort
    returning_step: int
    growing: Effort
    first_try: Effort
    adult_age: int
    source: str


@dataclass(frozen=True)
class SecondDay:
    """How many days after the first one strength is tested, where somebody is due in both."""

    days: int
    source: str


@dataclass(frozen=True)
class FirstTests:
    """What a squad that has no test yet begins with."""

    measures: tuple[str, ...]
    source: str


@dataclass(frozen=True)
class OffDays:
    """Days of the year on which nobody is tested, as month and day: `12-25`."""

    days: tuple[str, ...]
    source: str


@dataclass(frozen=True)
class DayRules:
    """All of it; `stations` in the order of a test day."""

    stations: tuple[Station, ...]
    limits: DayLimits
    most_effort: MostEffort
    first: FirstTests
    off: OffDays
    second_day: SecondDay

    def is_off(self, day: date) -> bool:
        """Whether nearly everybody is off."""
        return f"{day:%m-%d}" in self.off.days

    def near(self, day: date, after: date) -> date:
        """That day; where all are off, the nearest other one beyond `after`, of two the later."""
        if not self.is_off(day):
            return day
        ways = (timedelta(days=away * way) for away in range(366) for way in (1, -1))
        return next(day + way for way in ways if day + way > after and not self.is_off(day + way))

    @cached_property
    def station_of(self) -> dict[str, Station]:
        """The station of each test."""
        return {name: one for one in self.stations for name in one.measures}

    @cached_property
    def order(self) -> dict[str, int]:
        """The place of each test in the day."""
        names = (name for one in self.stations for name in one.measures)
        return {name: place for place, name in enumerate(names)}


def checked_day(rules: DayRules, measures: Mapping[str, Measure]) -> DayRules:
    """The rules, once each test has one station; raises SquadsidesError by name otherwise."""
    named = [name for one in rules.stations for name in one.measures]
    twice = sorted({name for name in named if named.count(name) > 1})
    lacking = sorted(set(measures).difference(named))
    unknown = sorted({*named, *rules.first.measures}.difference(measures))
    for names, what in (
        (twice, "more than one station"), (lacking, "no station"), (unknown, "no such test"),
    ):  # fmt: skip
        if names:
            raise SquadsidesError(f"schemas/test_day.toml: {what}: {', '.join(names)}")
    return rules
