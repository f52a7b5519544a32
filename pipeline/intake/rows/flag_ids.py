"""Ids of flags as they come back in a decision sheet: in our spelling, or why they are none."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import SequenceMatcher

import polars as pl

from pipeline.catalogue import Measure, full_catalogue, header_key
from pipeline.intake.rows.people import People
from schemas.catalogue_words import Scale
from schemas.contracts.flag_ids import joined, parted
from schemas.vocabulary import REGIONS, Family

EXAMPLE = "is no flag; expected an id of the sheet, such as A1.single_hop.difference"


@dataclass(frozen=True)
class FlagNames:
    """Which ids a flag of these people can have; `exercises` are those of the training log."""

    people: People
    exercises: Iterable[str]
    topics: dict[Family, Mapping[str, str]] = field(default_factory=dict)
    athletes: dict[str, str | None] = field(default_factory=dict)

    def read_all(self, texts: pl.Series) -> dict[str, tuple[str | None, str | None]]:
        """Each different text's id in our spelling, or why it is none, with the nearest that is."""
        known = texts.drop_nulls().unique(maintain_order=True)
        who = pl.Series([parts[0] for text in known if (parts := parted(text))], dtype=pl.String)
        places = self.people.find(who)
        self.athletes.update(zip(who, self.people.ids.gather(places), strict=True))
        return {text: self.read(text) for text in known}

    def read(self, text: str) -> tuple[str | None, str | None]:
        """The id in our spelling, or why the text is none, with the nearest that is."""
        parts = parted(text)
        if parts is None:
            return None, EXAMPLE
        who, what, kind = parts
        athlete = self.athletes.get(who)
        family = next((one for one in Family if one == kind.casefold()), None)
        topic = None if family is None else self._topic(what, family)
        if athlete is not None and family is not None and topic is not None:
            return joined(athlete, topic, family), None
        wrong = (
            "athlete" if athlete is None else "kind of flag" if family is None else "test or topic"
        )
        near = joined(
            athlete or _nearest(who, self.people.ids),
            topic or _nearest(what, self._known(family or Family.DIFFERENCE).values()),
            family or _nearest(kind, Family),
        )
        return None, f"is no flag, it names no {wrong} that is known; nearest: {near}"

    def _topic(self, text: str, family: Family) -> str | None:
        """The topic in our spelling; former names of a measure are among its synonyms."""
        known = self._known(family)
        if (found := known.get(header_key(text))) is not None:
            return found
        if family == Family.TRAINING:  # work nobody can place has its exercise's name
            return text if text.startswith("other:") else None
        found = full_catalogue().find_measure(text)
        return found if found in known.values() else None

    def _known(self, family: Family) -> Mapping[str, str]:
        if family not in self.topics:
            book = full_catalogue()
            bodies = [f"{part}_body" for part in REGIONS]
            names = [one.id for one in book.measures.values() if _can_be(one, family)]
            if family == Family.TRAINING:
                names = [*bodies, "other_body"]
            elif family == Family.REFER:
                names += [*book.exercises, *book.rules.signs, *bodies, *self.exercises]
            self.topics[family] = {header_key(name): name for name in names}
        return self.topics[family]


def _can_be(measure: Measure, family: Family) -> bool:
    """Whether a flag of this family can be about a measure."""
    if family == Family.RATIO:
        return measure.level_review is not None
    return family != Family.ZERO or measure.scale == Scale.LOG


def _nearest(text: str, known: Iterable[str]) -> str:
    """The most similar of the known words, of equal ones the first."""
    wanted = text.casefold()
    return max(
        map(str, known),
        key=lambda word: SequenceMatcher(None, wanted, word.casefold()).ratio(),
        default=text,
    )
