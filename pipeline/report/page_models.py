"""The frozen page models: all text and all numbers of a page, decided before anything is drawn."""

from dataclasses import dataclass, replace
from typing import ClassVar, Literal, Self, get_args

from pipeline.report.charts.rows import BalanceRow, Trend
from pipeline.report.text.phrases import Language

Room = Literal["roomy", "", "dense"]
ROOMS: tuple[Room, ...] = get_args(Room)
ROOMY, DENSE = 22, 26  # lines of the card's tables, found by looking at pages


@dataclass(frozen=True)
class SideLine:
    """Both sides' own progress in one measure, first session to latest."""

    measure: str
    left: str
    right: str
    unit: str
    days: str


@dataclass(frozen=True)
class CardLine:
    """One line of a day of the card; `text` stands behind the name."""

    part: str
    name: str
    text: str
    dose: str
    load: str
    rest: str
    cue: str
    is_main: bool


@dataclass(frozen=True)
class CardDay:
    """One day of training."""

    title: str
    lines: tuple[CardLine, ...]


@dataclass(frozen=True)
class CardWeeks:
    """Some weeks side by side; `now` is the place of the present one, outside where it is not."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    now: int


@dataclass(frozen=True)
class Card:
    """The next block: a title, why, the days, the weeks to tick, and what follows."""

    title: str
    why: str
    days: tuple[CardDay, ...] = ()
    weeks: tuple[CardWeeks, ...] = ()
    week: int = 1  # the doses of the days are of this one
    after: tuple[str, ...] = ()
    tighter: int = 0  # steps, where it did not keep to its page

    @property
    def room(self) -> Room:
        """How its lines are set, so that it fills a page and keeps to it."""
        lines = sum(2 + len(day.lines) for day in self.days)
        lines += sum(1 + len(weeks.rows) for weeks in self.weeks)
        planned = 0 if len(self.days) < 3 and lines < ROOMY else 2 if lines > DENSE else 1
        return ROOMS[min(planned + self.tighter, len(ROOMS) - 1)]


BESIDE_LINES, LINE_LETTERS = 4, 115  # printed lines of the first page, so that it stays one


@dataclass(frozen=True)
class AthletePage:
    """One athlete's report; holds nothing of any other athlete."""

    language: Language
    header: str
    athlete_id: str
    name: str
    squad: str
    as_of: str
    opening: str
    balance: tuple[BalanceRow, ...]
    findings: tuple[str, ...]
    how_sure: str  # what the words for it mean
    trends: tuple[Trend, ...]
    trend_notes: tuple[str, ...]
    sides: tuple[SideLine, ...]
    card: Card
    work: tuple[str, ...]  # how the work was done, and whether it helped
    film: tuple[str, ...]
    next_steps: tuple[str, ...]
    contact: str

    most_pages: ClassVar = 2

    def smaller(self) -> Self | None:
        """With its card set tighter, for what no counting of lines foresees; None where it is."""
        if not self.card.days or self.card.room == ROOMS[-1]:
            return None
        return replace(self, card=replace(self.card, tighter=self.card.tighter + 1))

    @property
    def beside(self) -> tuple[str, ...]:
        """What stands on the first page where the card has the second to itself."""
        kept, room = [], BESIDE_LINES
        for text in (*self.next_steps[:1], *self.film[:1], *self.work):
            lines = -(-len(text) // LINE_LETTERS)
            if lines <= room:
                kept.append(text)
                room -= lines
        return tuple(kept)


@dataclass(frozen=True)
class UnmadePage:
    """What stands in place of a report or a pack that could not be made: a few plain sentences."""

    language: Language
    header: str
    title: str
    under: str
    footer: str
    opening: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class TestBlock:
    """One test of the printed sheet: what its side means, its unit, when a trial counts, and a row
    an athlete: name and id, why, first side."""

    __test__ = False  # no test of the program

    title: str
    about: str
    counts: str
    trials: int
    rows: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True)
class StationBlock:
    """One station, with what its tester needs to know."""

    title: str
    how: str
    tests: tuple[TestBlock, ...]


@dataclass(frozen=True)
class TestDay:
    """One day of tests, with its stations in their order."""

    __test__ = False

    under: str  # when it is, and which of two
    stations: tuple[StationBlock, ...]


@dataclass(frozen=True)
class TestsSheet:
    """The next test days of one squad on paper; no earlier value and nobody's notes."""

    __test__ = False

    language: Language
    header: str
    squad: str
    as_of: str
    days: tuple[TestDay, ...]  # one, or two
    contact: str


@dataclass(frozen=True)
class LogLine:
    """One exercise and side of a day on paper, with room for each of its sets."""

    name: str
    side: str
    planned: str
    load: str
    sets: int


@dataclass(frozen=True)
class LogDay:
    """One day of one athlete on paper."""

    title: str
    lines: tuple[LogLine, ...]


@dataclass(frozen=True)
class LogPage:
    """The coming week of one athlete on paper."""

    name: str
    athlete_id: str
    days: tuple[LogDay, ...]
    most_sets: int


@dataclass(frozen=True)
class TrainingSheet:
    """The coming week of one squad on paper: a page an athlete."""

    language: Language
    header: str
    squad: str
    as_of: str
    athletes: tuple[LogPage, ...]
    contact: str


@dataclass(frozen=True)
class Table:
    """A plain table; `numeric` names the columns set flush right."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[int, ...]


@dataclass(frozen=True)
class TrainingPage:
    """Whose sides got what, how it was done, what comes next and whether it helped."""

    is_logged: bool  # whether the squad keeps a log of one-sided work
    work: Table
    work_note: str
    habits: Table
    plans: Table
    outcomes: Table
    dose: str
