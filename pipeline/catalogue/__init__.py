"""The catalogue: the TOML of schemas/ as frozen objects, and the look-ups by what staff write."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import cache, cached_property

from pipeline.catalogue import loading
from pipeline.catalogue.coaching import (
    Checkpoint,
    Coaching,
    Drill,
    FastStep,
    Group,
    Ladder,
    checked,
)
from pipeline.catalogue.entries import (
    Exercise,
    ExportKind,
    Headers,
    Lead,
    Measure,
    Parts,
    Unit,
)
from pipeline.catalogue.rules import Doses, Rule, Rules, Ruling, Sign, Structure
from pipeline.catalogue.story_rules import Quality, StoryRules, checked_stories
from pipeline.catalogue.test_day_rules import DayRules, Station, checked_day

__all__ = [
    "Catalogue", "Checkpoint", "Coaching", "DayRules", "Doses", "Drill", "Exercise",
    "ExportKind", "FastStep", "Group", "Headers", "Ladder", "Lead", "Measure", "Parts", "Quality",
    "Rule", "Rules", "Ruling", "Sign", "Station", "StoryRules", "Structure", "Unit",
    "catalogue", "full_catalogue", "header_key", "unit_key",
]  # fmt: skip


@dataclass(frozen=True)
class Catalogue:
    """Everything schemas/*.toml says."""

    measures: dict[str, Measure]
    exercises: dict[str, Exercise]
    headers: Headers
    units: dict[str, Unit]
    across: dict[tuple[str, str], float]  # quantity, quantity -> factor between their base units
    per_body_mass: dict[str, str]  # unit -> unit of the absolute value
    sources: dict[str, str]  # S-number -> the work and how much of it was read
    load_steps: tuple[float, ...]  # kg from one load to the next
    rules: Rules
    coaching: Coaching
    test_day: DayRules
    stories: StoryRules

    def find_measure(self, text: str) -> str | None:
        """Id of the measure whose id, name, short name or synonym this is."""
        return self.measure_names.get(self.plain(text))

    def find_exercise(self, text: str) -> str | None:
        """Id of the exercise whose id, name or synonym this is."""
        return self.exercise_names.get(self.plain(text))

    def find_drill(self, text: str) -> str | None:
        """Id of the drill whose id or name this is."""
        return self.drill_names.get(self.plain(text))

    def nearest_measures(self, text: str, n: int = 3) -> list[str]:
        """The n measure ids whose names are most alike to the text, best first."""
        wanted = self.plain(text)
        alike: dict[str, float] = {}
        for name, measure in self.measure_names.items():
            likeness = SequenceMatcher(None, wanted, name).ratio()
            alike[measure] = max(alike.get(measure, 0.0), likeness)
        return sorted(alike, key=lambda measure: (-alike[measure], measure))[:n]

    def find_unit(self, text: str) -> str | None:
        """Id of the unit written here, for example "lbs" -> "lb"."""
        return self.unit_names.get(unit_key(text))

    def factor(self, given: str, wanted: str) -> float | None:
        """What one of the given unit is in the wanted one; None where they do not convert.

        Mass and force convert into each other at standard gravity: a dial in kg that measures a
        force shows kilogram-force.
        """
        source, target = self.units[given], self.units[wanted]
        if source.quantity == target.quantity:
            return source.factor / target.factor
        forth = self.across.get((source.quantity, target.quantity))
        back = self.across.get((target.quantity, source.quantity))
        if forth is not None:
            return source.factor * forth / target.factor
        return None if back is None else source.factor / back / target.factor

    def plain(self, text: str) -> str:
        """A name reduced to what tells it from others: "SL Hop test" -> "singleleghop"."""
        spaced = " " + " ".join(re.findall(r"[^\W_]+", text.casefold())) + " "
        for form, word in self.headers.word_forms.items():
            spaced = spaced.replace(f" {form} ", f" {word} ")
        words = [word for word in spaced.split() if word not in self.headers.filler_words]
        return "".join(words)

    @cached_property
    def measure_names(self) -> dict[str, str]:
        """Plain name -> measure id."""
        return self._names(
            (m.id, (*m.synonyms, m.name, m.short, m.id)) for m in self.measures.values()
        )

    @cached_property
    def exercise_names(self) -> dict[str, str]:
        """Plain name -> exercise id."""
        return self._names((e.id, (*e.synonyms, e.name, e.id)) for e in self.exercises.values())

    @cached_property
    def drill_names(self) -> dict[str, str]:
        """Plain name -> drill id."""
        return self._names((d.id, (d.name, d.id)) for d in self.coaching.drills.values())

    @cached_property
    def unit_names(self) -> dict[str, str]:
        """Unit as written (lower case, no spaces) -> unit id."""
        return {
            unit_key(spelling): unit.id
            for unit in self.units.values()
            for spelling in (unit.id, *unit.spellings)
        }

    def _names(self, entries: Iterable[tuple[str, tuple[str, ...]]]) -> dict[str, str]:
        return {self.plain(name): key for key, names in entries for name in names}


def header_key(text: str) -> str:
    """A header or word without case, spaces, underscores and punctuation."""
    return re.sub(r"[\W_]+", "", text.casefold())


def unit_key(text: str) -> str:
    """A unit without case and spaces."""
    return "".join(text.casefold().split())


@cache
def catalogue() -> Catalogue:
    """The catalogue, read once from schemas/."""
    units, across, per_body_mass = loading.units()
    measures, exercises = loading.measures_by_id(), loading.exercises()
    coaching = checked(loading.coaching(), exercises, set(measures))
    return Catalogue(
        measures=measures,
        exercises=exercises,
        headers=loading.headers(header_key),
        units=units,
        across=across,
        per_body_mass=per_body_mass,
        sources=loading.sources(),
        load_steps=loading.load_steps(),
        rules=loading.rules(),
        coaching=coaching,
        test_day=checked_day(loading.test_day(), measures),
        stories=checked_stories(loading.story_rules(measures), coaching, measures),
    )


@cache
def full_catalogue() -> Catalogue:
    """The catalogue together with the measures that the training log gives.

    The exports name tests only, so the intake reads without them.
    """
    tests = catalogue()
    record = loading.log_measures(tests.exercises)
    return replace(tests, measures={**tests.measures, **record})
