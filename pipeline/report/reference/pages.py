"""The page model of a reference: all text and all numbers, decided before anything is drawn."""

from dataclasses import dataclass

from pipeline.report.charts.rows import BalanceRow, DotRow, SidesRow
from pipeline.report.pack.pages import PackCard
from pipeline.report.page_models import Table, TrainingPage
from pipeline.report.text.phrases import Language


@dataclass(frozen=True)
class AgendaItem:
    """One point of the meeting: who, what, how sure, since when, what next."""

    number: int
    flag_id: str
    name: str
    role: str
    sentence: str
    sureness: str
    detail: str
    suggestion: str
    link: str  # anchor of the chart that shows it, or empty


@dataclass(frozen=True)
class AgendaSection:
    """Points of one kind, in meeting order."""

    title: str
    note: str
    items: tuple[AgendaItem, ...]


@dataclass(frozen=True)
class MeasurePanel:
    """One measure of the squad: each athlete's balance line."""

    title: str
    anchor: str
    note: str
    rows: tuple[BalanceRow, ...]


@dataclass(frozen=True)
class Season:
    """How the list and the tests went, month by month."""

    months: tuple[SidesRow, ...]
    blocks: str
    errors: Table
    idle: tuple[str, ...]  # tests not worth their time as they are done here


@dataclass(frozen=True)
class SquadReference:
    """The reference of one squad."""

    language: Language
    header: str
    squad: str
    as_of: str
    subtitle: str
    how_sure: str  # what the words for it mean
    sections: tuple[AgendaSection, ...]
    accepted: Table
    cards: tuple[PackCard, ...]  # those for which the pack has no room
    panels: tuple[tuple[str, tuple[MeasurePanel, ...]], ...]
    season: Season
    training: TrainingPage
    decided: Table  # who decided what when, and what came of it
    dots: tuple[DotRow, ...]  # how well each test tells these athletes apart
    reliability: Table
    agreement: Table
    coverage: Table
    testing: Table
    intake: Table
    refused: Table
    refused_more: int
    sources: tuple[tuple[str, str], ...]
