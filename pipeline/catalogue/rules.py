"""Practice rules, and the words in notes that hand an athlete to medical staff first."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, NamedTuple

from schemas.catalogue_words import Handling
from schemas.plan_words import Plan
from schemas.vocabulary import URGENCIES, Decision, Region, Status, Urgency

# Where a thought ends: what was denied before says nothing about what follows.
CLAUSE_ENDS = re.compile(r"[.;:!?\n]|\b(?:but|however|though|yet|then|now)\b")
# Pain as a number of a note: "4/10", "VAS 3-4", "pain 5"; a span of time, a count or a day is none.
OF_TEN = re.compile(r"(?<![\d.,/])(\d{1,2})(?:\s*(?:-|–|to)\s*(\d{1,2}))?\s*(?:/|of|out of)\s*10\b")
RATED = re.compile(
    r"(?<![\d.,/:-])(\d{1,2})(?:\s*(?:-|–|to)\s*(\d{1,2}))?(?![\d.,/:]*\d)"
    r"(?!\s*(?:x|st|nd|rd|th|days?|d|weeks?|wks?|w|months?|min\w*|h|hours?|sets?|reps?|kg|cm|sessions?"
    r"|jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)\b)"
)
FREE_OF = re.compile(r"\b(?:pain|symptom)s?[ -]?free\b|\bpainless\b")
NEGATION_REACH = 3  # words between a negation and what it denies


class Limits(NamedTuple):
    """The least and the most a team may set a figure to."""

    least: float
    most: float


@dataclass(frozen=True)
class Rule:
    """One rule of the training block: what it says, its figures, and how well it stands."""

    id: str
    text: str
    evidence: str
    source: str
    values: dict[str, Any]
    limits: dict[str, Limits]  # of each figure that is a number, a pair or a table of numbers


@dataclass(frozen=True)
class Doses:
    """Figures of the practice rules; a team's settings override them one by one."""

    plan: Mapping[str, Rule]
    own: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def __call__(self, rule: str, name: str) -> Any:
        """The figure of a rule in force for this team."""
        return self.own.get(rule, {}).get(name, self.plan[rule].values[name])


@dataclass(frozen=True)
class Structure:
    """A known difference that is noted rather than trained."""

    id: str
    words: tuple[str, ...]
    handling: Handling
    regions: tuple[Region, ...]  # parts of the body in which a difference goes with it
    text: str
    source: str


@dataclass(frozen=True)
class Sign:
    """A sign in a note or girth that medical staff see first; it names no condition."""

    id: str
    urgency: Urgency
    words: tuple[str, ...]
    source: str
    girths: tuple[str, ...] = ()  # measures that show it, too
    girth_gain_cm: float | None = None  # on one side since the last time, with a note
    girth_loss_cm: float | None = None  # on one side


@dataclass(frozen=True)
class Ruling:
    """What one decision of a meeting does to plan, pack and report."""

    decision: Decision
    status: Status  # of the flag while it runs
    plan: Plan
    after: Plan  # once its date has passed by `grace_weeks`
    grace_weeks: int
    on_refer: bool  # whether it starts anything on a flag for medical staff
    weeks: int | None = None  # until it is looked at again; without a figure, the block's length


@dataclass(frozen=True)
class Rules:
    """All practice rules of schemas/rules.toml."""

    plan: dict[str, Rule]
    structures: dict[str, Structure]
    signs: dict[str, Sign]
    negations: tuple[str, ...]
    pain_note: float
    pain_refer: float
    pain_under_age: int  # below it, a number to note is a number to refer
    pain_urgency: Urgency
    pain_worded: float  # what a word that says there is pain counts as
    pain_some: tuple[str, ...]
    pain_none: tuple[str, ...]
    pain_noted: tuple[str, ...]
    pain_settled: tuple[str, ...]
    loss_urgency: Urgency
    slow_loss_urgency: Urgency
    decisions: dict[Decision, Ruling]
    very_sure: float  # chance from which a difference is said to be very sure
    most_disputed: float  # said of one which the last tests do not bear out

    def sign(self, note: str) -> Sign | None:
        """The most urgent sign a note holds; a denied one ("no chest pain") does not count."""
        found = [sign for sign in self.signs.values() if self._says(note, sign.words)]
        return min(found, key=lambda sign: URGENCIES.index(sign.urgency), default=None)

    def structure(self, known_difference: str) -> Structure | None:
        """The first kind of known difference the roster's words fit."""
        text = _plain(known_difference)
        for structure in self.structures.values():
            if any(_phrase(words).search(text) for words in structure.words):
                return structure
        return None

    def pain_in_words(self, text: str) -> float | None:
        """Pain of 10 that words without a number speak of; None where they say neither way."""
        if self._says(text, self.pain_some):
            return self.pain_worded
        words = (*self.pain_some, *self.pain_none)
        says_none = any(_phrase(phrase).search(_plain(text)) for phrase in words)
        return 0.0 if says_none else None

    def noted_pain(self, note: str) -> float | None:
        """Pain of 10 that a note beside a decision speaks of; None where it speaks of none.

        Of a range the upper end; a word of pain without a number counts as `worded`.
        """
        text = FREE_OF.sub(" ", _plain(note))
        rated = []
        for clause in CLAUSE_ENDS.split(text):
            of_ten = _numbers(OF_TEN, clause)
            rated += of_ten
            if self._says(clause, self.pain_noted) and not of_ten:
                rated += _numbers(RATED, clause) or [self.pain_worded]
        return max(rated, default=None)

    def asks_for_staff(self, note: str, limit: float) -> bool:
        """Whether words beside a decision hold a sign, or pain from this limit on."""
        pain = self.noted_pain(note)
        return self.sign(note) is not None or (pain is not None and pain >= limit)

    def is_settled(self, note: str) -> bool:
        """Whether words say that what hurt does so no more."""
        return self._says(note, self.pain_settled)

    def _says(self, note: str, phrases: tuple[str, ...]) -> bool:
        text = _plain(note)
        return any(
            not self._is_denied(text, found.start(), found.end())
            for phrase in phrases
            for found in _phrase(phrase).finditer(text)
        )

    def _is_denied(self, text: str, start: int, end: int) -> bool:
        """Whether a negation stands shortly before, or opens a list ("no pain, swelling or …")."""
        before = CLAUSE_ENDS.split(text[:start])[-1]
        negations = "|".join(re.escape(word) for word in self.negations)
        denials = list(re.finditer(rf"(?<!\w)(?:{negations})(?!\w)", before))
        if not denials:
            return False
        between = before[denials[-1].end() :]
        rest = CLAUSE_ENDS.split(text[end:])[0]
        is_list = re.search(r"\b(?:or|nor)\b", between + rest) is not None
        items = re.split(r",|\bor\b|\bnor\b", between) if is_list else [between]
        return all("," not in i and len(i.split()) <= NEGATION_REACH for i in items)


def _numbers(pattern: re.Pattern[str], text: str) -> list[float]:
    """Pain of 10 that stands in a text; of a range the upper end."""
    found = (float(one[2] or one[1]) for one in pattern.finditer(text))
    return [value for value in found if value <= 10]


def _plain(text: str) -> str:
    return text.casefold().replace("’", "'")


@cache
def _phrase(words: str) -> re.Pattern[str]:
    pattern = re.escape(words).replace(r"\*", r"\w*").replace(r"\ ", r"\s+")
    return re.compile(rf"(?<!\w){pattern}(?!\w)")
