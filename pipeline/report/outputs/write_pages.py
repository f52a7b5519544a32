"""Which PDFs a build writes, the page model of each, and which of them have changed."""

import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from threading import Lock
from typing import Any, NamedTuple

import polars as pl

from pipeline.errors import STOPS
from pipeline.last_build import digest
from pipeline.plan.block import Block
from pipeline.plan.rows import Coming
from pipeline.report.athlete.athlete_page import AthleteWeek, athlete_page
from pipeline.report.charts.rows import as_shown, trend_as_shown
from pipeline.report.outputs.print_sheets import instead, sheet_of_tests, sheet_of_training
from pipeline.report.outputs.reports_folder import file_names
from pipeline.report.pack.pack import squad_pack
from pipeline.report.pack.pages import PackCard, SquadPack
from pipeline.report.page_models import AthletePage, TestsSheet, UnmadePage
from pipeline.report.pdf.render import Page, Printed, render
from pipeline.report.reference.pages import SquadReference
from pipeline.report.reference.reference import squad_reference
from pipeline.report.sections.unmade_page import unmade_pack, unmade_reference, unmade_report
from pipeline.review.week import Week, by_athlete, compared_days
from pipeline.unmade import LET_THROUGH, Failure, Unmade, attempt, traceback_file
from pipeline.warehouse.parts import squads_of

REFERENCE = "_reference"  # how the name of a squad's second file ends
MOST_PRINTING = 500  # pages handed in and not yet on the disk; bounds memory, keeps workers busy


class PdfNames(NamedTuple):
    """Where each PDF lies in the reports folder: by athlete id, and by squad."""

    athletes: dict[str, str]
    squads: dict[str, str]  # the packs
    references: dict[str, str]
    tests: dict[str, str]  # sheets of the next test day, by squad
    training: dict[str, str]  # sheets of the coming week, by squad


Instead = Callable[[str], UnmadePage]  # from the name of the file that says why


class Sheet(NamedTuple):
    """One PDF to be: what makes its page model, and the page in its place where that fails."""

    make: Callable[[], Page]
    instead: Instead


def pdf_names(roster: pl.DataFrame) -> PdfNames:
    """The names of all PDFs of a build; `roster` (athlete_id, squad) is that of all squads."""
    squads = file_names(squads_of(roster), ("", REFERENCE))
    return PdfNames(
        {who: f"athletes/{name}.pdf" for who, name in file_names(roster["athlete_id"]).items()},
        {squad: f"squad_{name}.pdf" for squad, name in squads.items()},
        {squad: f"squad_{name}{REFERENCE}.pdf" for squad, name in squads.items()},
        {squad: f"sheets/tests_{name}.pdf" for squad, name in squads.items()},
        {squad: f"sheets/training_{name}.pdf" for squad, name in squads.items()},
    )


Left = dict[str, tuple[PackCard, ...]]  # by squad: cards for which its pack had no room


def squad_packs(
    week: Week,
    blocks: Mapping[str, Block],
    flags_before: pl.DataFrame | None,
    left: Left,
    unmade: Unmade = LET_THROUGH,
    due: pl.DataFrame | None = None,
) -> Iterator[tuple[str, Sheet]]:
    """Name and sheet of each squad's pack; `flags_before` is the list of the last meeting.

    `due` are the tests of the next test days, if known.

    As a page model is made, the cards it has no room for are put into `left`.
    """
    for squad in squads_of(week.athletes):
        yield (
            squad,
            Sheet(
                partial(_pack, left, squad, blocks, week, flags_before, unmade, due),
                partial(unmade_pack, squad, week.as_of, week.settings.report),
            ),
        )


def sheets_of_tests(week: Week, coming: Coming) -> Iterator[tuple[str, Sheet]]:
    """Squad and sheet of each squad's next test day."""
    for squad in squads_of(week.athletes):
        yield squad, Sheet(partial(_tests, squad, coming, week), instead(squad, week))


def _tests(squad: str, coming: Coming, week: Week) -> TestsSheet:
    if coming.tests is None:
        raise ValueError("who is due on the next test day could not be worked out")
    return sheet_of_tests(squad, coming.tests.filter(pl.col("squad") == squad), week)


def sheets_of_training(week: Week, coming: Coming) -> Iterator[tuple[str, Sheet]]:
    """Squad and sheet of the coming week of each squad's cards."""
    for squad in squads_of(week.athletes):
        planned = coming.sets.filter(pl.col("squad") == squad)
        yield squad, Sheet(partial(sheet_of_training, squad, planned, week), instead(squad, week))


def squad_references(
    week: Week, blocks: Mapping[str, Block], left: Left, unmade: Unmade = LET_THROUGH
) -> Iterator[tuple[str, Sheet]]:
    """Name and sheet of each squad's reference, once the packs are made (see `squad_packs`)."""
    for squad in squads_of(week.athletes):
        yield (
            squad,
            Sheet(
                partial(_reference, left, squad, blocks, week, unmade),
                partial(unmade_reference, squad, week.as_of, week.settings.report),
            ),
        )


def athlete_pages(week: Week, blocks: Mapping[str, Block]) -> Iterator[tuple[str, Sheet]]:
    """Id and sheet of each athlete's report."""
    found = by_athlete(week.findings)
    compared = compared_days(week)
    days = by_athlete(compared)
    side_values = by_athlete(week.side_values)
    flags = by_athlete(week.flags)
    film = by_athlete(week.film)
    for athlete in week.athletes.iter_rows(named=True):
        who = athlete["athlete_id"]
        own = AthleteWeek(
            athlete,
            found.get(who, week.findings.clear()),
            days.get(who, compared.clear()),
            side_values.get(who, week.side_values.clear()),
            flags.get(who, week.flags.clear()),
            film.get(who, week.film.clear()),
        )
        make = partial(_report, own, blocks[who], week)
        named = athlete["name"], athlete["squad"]
        yield who, Sheet(make, partial(unmade_report, *named, week.as_of, week.settings.report))


@dataclass
class Pages:
    """The PDFs of one build: what is there already, where new ones go, who hears of each."""

    keep: Callable[[str, bytes], None]  # by the name of the PDF
    is_there: Callable[[str, str], bool]  # whether a PDF shows what has this digest
    done: Callable[[int], None] = lambda _: None  # so many pages more are there
    begins: Callable[[], None] = lambda: None  # called as the first page is made
    has_begun: bool = False
    lock: Lock = field(default_factory=Lock)

    def begin(self) -> None:
        """Tell that pages are made from here on; once."""
        with self.lock:
            if not self.has_begun:
                self.has_begun = True
                self.begins()


@dataclass
class Press:
    """The PDFs of some squads on their way to paper: page models are handed in one by one.

    A page that is there already, as it would be made now, is not printed again.
    """

    executor: Executor
    pages: Pages
    page_size: str
    as_of: date
    tools: str  # digest of what draws the pages
    unmade: Unmade
    digests: dict[str, str] = field(default_factory=dict)  # of all that each PDF shows, by name
    printing: dict[Future[Any], tuple[str, Instead]] = field(default_factory=dict)
    foreign: set[str] = field(default_factory=set)  # PDFs with letters that our typefaces lack
    boxes: dict[str, str] = field(default_factory=dict)  # letters without a typeface, by PDF

    def take(self, sheets: Iterable[tuple[str, Sheet]], names: Mapping[str, str]) -> None:
        """Have these sheets printed, in the order given, while the caller goes on.

        `names` says where each belongs. Waits while very many are waiting already.
        """
        self.pages.begin()
        for key, sheet in sheets:
            if STOPS:  # in a thread nobody else says so
                raise KeyboardInterrupt
            self._begin(names[key], sheet)
            if len(self.printing) > MOST_PRINTING:
                self._put_down(wait(self.printing, return_when=FIRST_COMPLETED).done)

    def _begin(self, name: str, sheet: Sheet) -> None:
        made = attempt(self._made, sheet.make)
        if isinstance(made, Failure):
            self._print_instead(name, sheet.instead, made)
            return
        self.digests[name], page = made
        if self.pages.is_there(name, self.digests[name]):
            self.pages.done(1)
        else:
            job = self.executor.submit(attempt, render, page, self.page_size, self.as_of)
            self.printing[job] = name, sheet.instead

    def _made(self, make: Callable[[], Page]) -> tuple[str, bytes]:
        """Digest of all that a page shows, and the page as it travels to where it is printed."""
        page = make()
        shown = [repr(page), self.page_size, self.as_of.isoformat(), self.tools]
        return digest(shown), pickle.dumps(page)

    def _print_instead(self, name: str, instead: Instead, failure: Failure) -> None:
        """Have the page printed that says there is none; where that fails, the build does.

        It leaves no digest, so that the next build tries again.
        """
        self.unmade.keep(name, name, failure)
        self.digests.pop(name, None)
        page = pickle.dumps(instead(traceback_file(name)))
        job = self.executor.submit(render, page, self.page_size, self.as_of)
        self.printing[job] = name, instead

    def finish(self) -> None:
        """Wait until everything is printed."""
        while self.printing:
            self._put_down(wait(self.printing, return_when=FIRST_COMPLETED).done)

    def _put_down(self, jobs: Iterable[Future[Any]]) -> None:
        for job in jobs:
            name, instead = self.printing.pop(job)
            printed: Printed | Failure = job.result()
            if isinstance(printed, Failure):
                self._print_instead(name, instead, printed)
                continue
            self.pages.keep(name, printed.pdf)
            if printed.foreign:
                self.foreign.add(name)
            if printed.boxes:
                self.boxes[name] = " ".join(sorted(printed.boxes))
            self.pages.done(1)


def _pack(left: Left, squad: str, *given: Any) -> SquadPack:
    """The page model of a pack; the cards it has no room for are left to the reference."""
    pack, left[squad] = squad_pack(squad, *given)
    return pack


def _reference(
    left: Left, squad: str, blocks: Mapping[str, Block], week: Week, unmade: Unmade
) -> SquadReference:
    """The page model of a reference, with the numbers of its charts as they are shown."""
    page = squad_reference(squad, blocks, week, left.get(squad, ()), unmade)
    return replace(
        page,
        panels=tuple(
            (title, tuple(replace(p, rows=tuple(map(as_shown, p.rows))) for p in panels))
            for title, panels in page.panels
        ),
    )


def _report(own: AthleteWeek, block: Block, week: Week) -> AthletePage:
    """The page model of a report, with the numbers of its charts as they are shown."""
    page = athlete_page(own, block, week)
    return replace(
        page,
        balance=tuple(map(as_shown, page.balance)),
        trends=tuple(map(trend_as_shown, page.trends)),
    )
