"""Which tests speak of one quality of one limb and so are told together."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from pipeline.catalogue.coaching import Coaching
from pipeline.catalogue.entries import Measure
from pipeline.errors import SquadsidesError
from schemas.vocabulary import Limb

WHOLE_LEG = "whole_leg"  # the story of several qualities of one leg


@dataclass(frozen=True)
class Quality:
    """One quality of one limb; `schemas/stories.toml` says which tests speak of it."""

    id: str
    limb: Limb
    source: str
    groups: tuple[str, ...]
    measures: tuple[str, ...] = ()


@dataclass(frozen=True)
class WholeLeg:
    """How many of these groups on one side are a story of that leg, and what trains it."""

    groups: tuple[str, ...]
    least: int
    trained_as: str
    source: str


@dataclass(frozen=True)
class StoryRules:
    """All of it; `one_effort`: values of one and the same effort, which count once."""

    qualities: dict[str, Quality]
    whole_leg: WholeLeg
    one_effort: tuple[tuple[str, ...], ...]

    @cached_property
    def effort_of(self) -> dict[str, int]:
        """Measure -> place of the effort that it is one of several values of."""
        return {name: place for place, names in enumerate(self.one_effort) for name in names}


def checked_stories(
    rules: StoryRules, coaching: Coaching, measures: Mapping[str, Measure]
) -> StoryRules:
    """The rules as they are; SquadsidesError names everything in them that cannot be."""
    whole = rules.whole_leg
    groups = {name for one in rules.qualities.values() for name in one.groups}
    groups |= {*whole.groups, whole.trained_as}
    tests = {name for one in rules.qualities.values() for name in one.measures}
    tests.update(*rules.one_effort)
    odd = sorted(groups - set(coaching.groups)) + sorted(tests - set(measures))
    if odd:
        raise SquadsidesError(f"schemas/stories.toml: not known: {', '.join(odd)}")
    return rules
