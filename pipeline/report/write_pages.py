"""Which PDFs a build writes, the page model of each, and which of them have changed."""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import NamedTuple

import polars as pl

from pipeline.last_build import LastBuild, digest
from pipeline.report.athlete_page import athlete_page
from pipeline.report.charts import BalanceRow, Trend, TrendPoint
from pipeline.report.files import file_names
from pipeline.report.pages import AthletePage, SquadPack
from pipeline.report.render import Printed, render
from pipeline.report.squad_pack import squad_pack
from pipeline.review.block import Block
from pipeline.review.week import Week, by_athlete, compared_days
from pipeline.warehouse.parts import squads_of

Page = AthletePage | SquadPack
MOST_PRINTING = 500  # pages handed in and not yet on the disk; bounds memory, keeps workers busy


class PdfNames(NamedTuple):
    """Where each report lies in the reports folder: by athlete id, and by squad."""

    athletes: dict[str, str]
    squads: dict[str, str]


def pdf_names(roster: pl.DataFrame) -> PdfNames:
    """The names of all PDFs of a build; `roster` (athlete_id, squad) is that of all squads."""
    return PdfNames(
        {who: f"athletes/{name}.pdf" for who, name in file_names(roster["athlete_id"]).items()},
        {squad: f"squad_{name}.pdf" for squad, name in file_names(squads_of(roster)).items()},
    )


def squad_packs(
    week: Week, blocks: Mapping[str, Block], flags_before: pl.DataFrame
) -> Iterator[tuple[str, SquadPack]]:
    """Name and page model of each squad's pack.

    Marks of charts are rounded to what an eye can tell, so that a page changes only when it shows
    something else. `flags_before` is the list of the last meeting.
    """
    for squad in squads_of(week.athletes):
        yield squad, _rounded_pack(squad_pack(squad, blocks, week, flags_before))


def athlete_pages(week: Week, blocks: Mapping[str, Block]) -> Iterator[tuple[str, AthletePage]]:
    """Id and page model of each athlete's report, rounded as the packs'."""
    found = by_athlete(week.findings)
    compared = compared_days(week)
    days = by_athlete(compared)
    side_values = by_athlete(week.side_values)
    flags = by_athlete(week.flags)
    film = by_athlete(week.film)
    for athlete in week.athletes.iter_rows(named=True):
        who = athlete["athlete_id"]
        page = athlete_page(
            athlete,
            found.get(who, week.findings.clear()),
            days.get(who, compared.clear()),
            side_values.get(who, week.side_values.clear()),
            flags.get(who, week.flags.clear()),
            film.get(who, week.film.clear()),
            blocks[who],
            week,
        )
        yield (
            who,
            replace(
                page,
                balance=tuple(map(_rounded_row, page.balance)),
                trends=tuple(map(_rounded_trend, page.trends)),
            ),
        )


@dataclass
class Press:
    """The PDFs of one build on their way to paper: page models are handed in one by one.

    A page that is in the reports folder already, as it would be made now, is not printed again.
    """

    executor: Executor
    folder: Path  # for what is printed
    page_size: str
    as_of: date
    tools: str  # digest of what draws the pages
    reports: Path
    last: LastBuild | None
    done: Callable[[], None]  # called for each page that is there
    digests: dict[str, str] = field(default_factory=dict)  # of all that each PDF shows, by name
    printing: dict[Future[Printed], str] = field(default_factory=dict)
    boxes: dict[str, str] = field(default_factory=dict)  # letters without a typeface, by PDF

    def take(self, pages: Iterable[tuple[str, Page]], names: Mapping[str, str]) -> None:
        """Have these pages printed, in the order given, while the caller goes on.

        `names` says where each belongs. Waits while very many are waiting already.
        """
        for key, page in pages:
            name = names[key]
            shown = [repr(page), self.page_size, self.as_of.isoformat(), self.tools]
            self.digests[name] = digest(shown)
            if self._is_there(name):
                self.done()
            else:
                job = self.executor.submit(render, page, self.page_size, self.as_of)
                self.printing[job] = name
                if len(self.printing) > MOST_PRINTING:
                    self._put_down(wait(self.printing, return_when=FIRST_COMPLETED).done)

    def _is_there(self, name: str) -> bool:
        return (
            self.last is not None
            and self.last.pages.get(name) == self.digests[name]
            and self.last.is_untouched(self.reports, name)
        )

    def finish(self) -> None:
        """Wait until everything is printed."""
        while self.printing:
            self._put_down(wait(self.printing, return_when=FIRST_COMPLETED).done)

    def _put_down(self, jobs: Iterable[Future[Printed]]) -> None:
        for job in jobs:
            name, printed = self.printing.pop(job), job.result()
            (self.folder / name).write_bytes(printed.pdf)
            if printed.boxes:
                self.boxes[name] = " ".join(sorted(printed.boxes))
            self.done()


def _rounded_pack(pack: SquadPack) -> SquadPack:
    return replace(
        pack,
        panels=tuple(
            (title, tuple(replace(p, rows=tuple(map(_rounded_row, p.rows))) for p in panels))
            for title, panels in pack.panels
        ),
    )


def _rounded_row(row: BalanceRow) -> BalanceRow:
    numbers = (row.estimate, row.low, row.high, *row.days, row.lead, row.error, row.line or 0.0)
    fit = _fitting(numbers)
    return replace(
        row,
        estimate=fit(row.estimate),
        low=fit(row.low),
        high=fit(row.high),
        days=tuple(map(fit, row.days)),
        lead=fit(row.lead),
        error=fit(row.error),
        line=None if row.line is None else fit(row.line),
    )


def _rounded_trend(trend: Trend) -> Trend:
    ends = [v for p in trend.points for v in (p.measured, p.low, p.high)]
    fit = _fitting(ends)
    return replace(
        trend,
        points=tuple(
            TrendPoint(p.on, fit(p.measured), fit(p.smooth), fit(p.low), fit(p.high))
            for p in trend.points
        ),
    )


def _fitting(numbers: Iterable[float]) -> Callable[[float], float]:
    """Rounds to the third digit of the largest: less than a dot's width on an axis that long."""
    largest = max(map(abs, numbers), default=0.0)
    places = 2 - math.floor(math.log10(largest)) if largest > 0 else 0
    return lambda number: round(number, places) + 0.0  # never -0.0
