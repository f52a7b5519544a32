"""The page model of a meeting pack: all text and all numbers, decided before anything is drawn."""

from dataclasses import dataclass, replace

from pipeline.report.charts.rows import BalanceRow, Levels, SidesRow, StripRow
from pipeline.report.page_models import Table
from pipeline.report.text.phrases import Language, say


@dataclass(frozen=True)
class TodayLine:
    """One athlete of the meeting: where it stands since when, what, and what next."""

    number: int
    name: str
    role: str
    standing: str
    since: str
    is_medical: bool
    what: str
    also: str
    suggestion: str


@dataclass(frozen=True)
class SinceLine:
    """One decision that stands or has just ended, and what came of it."""

    decided: str
    when: str
    done: str
    sides: str
    helped: str


@dataclass(frozen=True)
class PackCard:
    """Half a page for one athlete worth talking about."""

    name: str
    about: str
    levels: Levels | None
    linked: tuple[BalanceRow, ...]  # tests of the same limb
    story: tuple[str, ...]  # what they say together
    said: tuple[str, ...]
    earlier: tuple[str, ...]  # against the own earlier level
    plan: str
    question: str


@dataclass(frozen=True)
class Glance:
    """Groups of measures across, a mark in each cell; athletes without any mark in one line."""

    groups: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    fell: str  # which tests the arrows stand for
    others: str


@dataclass(frozen=True)
class SquadPack:
    """The meeting pack of one squad; `most_pages` is a promise."""

    language: Language
    header: str
    squad: str
    as_of: str
    subtitle: str
    summary: str
    unread: tuple[str, ...]  # what bears on somebody's care and could not be read
    unread_more: int
    doubts: tuple[str, ...]  # files that are held
    doubts_more: str
    how_sure: str  # what the words for it mean
    today: tuple[TodayLine, ...]
    today_more: int
    since: tuple[SinceLine, ...]
    since_more: int
    notes: tuple[str, ...]  # new, off the list, to be checked, accepted
    cards: tuple[PackCard, ...]
    cards_elsewhere: str
    strips: tuple[StripRow, ...]
    glance: Glance
    work: tuple[SidesRow, ...]
    work_note: str
    test_day: str
    tests: Table
    tests_none: str  # what stands in place of the table where it is empty
    most_pages: int

    def smaller(self) -> "SquadPack | None":
        """The next smaller pack where this one has too many pages: what can be looked up goes
        first, from the end of the meeting; None where nothing is left to leave out.

        A pack is planned by counted letters; this is for what no counting foresees.
        """
        if self.cards:
            *kept, gone = self.cards
            left_out = say("cards.no_room", name=gone.name)
            told = " ".join(filter(None, [left_out, self.cards_elsewhere]))
            return replace(self, cards=tuple(kept), cards_elsewhere=told)
        if self.work or len(self.strips) > 1:
            return replace(
                self, work=self.work[: len(self.work) // 2],
                strips=self.strips[: len(self.strips) // 2],
            )  # fmt: skip
        if self.since:
            half = len(self.since) // 2
            return replace(
                self, since=self.since[:half], since_more=self.since_more + len(self.since) - half
            )
        if len(self.glance.rows) > 1:
            half = len(self.glance.rows) // 2
            return replace(self, glance=replace(self.glance, rows=self.glance.rows[:half]))
        if len(self.today) > 1:
            most = len(self.today) - max(1, len(self.today) // 10)
            more = self.today_more + len(self.today) - most
            return replace(self, today=self.today[:most], today_more=more)
        return None
