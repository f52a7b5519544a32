"""Which PDFs a build writes, the page model of each, and which of them have changed."""

import math
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Executor, as_completed
from dataclasses import replace
from datetime import date
from pathlib import Path

from pipeline.last_build import LastBuild, digest
from pipeline.report.athlete_page import athlete_page
from pipeline.report.charts import BalanceRow, Trend, TrendPoint
from pipeline.report.files import file_names
from pipeline.report.pages import AthletePage, SquadPack
from pipeline.report.render import render
from pipeline.report.squad_pack import squad_pack
from pipeline.review.block import Block
from pipeline.review.week import Week, by_athlete

Page = AthletePage | SquadPack
ATHLETES = "athletes"


def pages(week: Week, blocks: Mapping[str, Block]) -> dict[str, Page]:
    """The page model of each PDF by its name in the reports folder; the packs, the longest, first.

    Marks of charts are rounded to what an eye can tell, so that a page changes only when it shows
    something else.
    """
    found = by_athlete(week.findings)
    days = by_athlete(week.estimates.days)
    side_values = by_athlete(week.side_values)
    flags = by_athlete(week.flags)
    film = by_athlete(week.film)
    made: dict[str, Page] = {}
    for squad, name in file_names(week.athletes["squad"].unique().sort()).items():
        made[f"squad_{name}.pdf"] = _rounded_pack(squad_pack(squad, blocks, week))
    names = file_names(week.athletes["athlete_id"])
    for athlete in week.athletes.iter_rows(named=True):
        who = athlete["athlete_id"]
        page = athlete_page(
            athlete,
            found.get(who, week.findings.clear()),
            days.get(who, week.estimates.days.clear()),
            side_values.get(who, week.side_values.clear()),
            flags.get(who, week.flags.clear()),
            film.get(who, week.film.clear()),
            blocks[who],
            week,
        )
        made[f"{ATHLETES}/{names[who]}.pdf"] = replace(
            page,
            balance=tuple(map(_rounded_row, page.balance)),
            trends=tuple(map(_rounded_trend, page.trends)),
        )
    return made


def page_digests(
    made: Mapping[str, Page], page_size: str, as_of: date, tools: str
) -> dict[str, str]:
    """Digest of all that each PDF shows and of what draws it, by name."""
    return {
        name: digest([repr(page), page_size, as_of.isoformat(), tools])
        for name, page in made.items()
    }


def changed(digests: Mapping[str, str], reports: Path, last: LastBuild | None) -> list[str]:
    """Names of the PDFs that are not in the reports folder as they would be made now."""
    if last is None:
        return list(digests)
    return [
        name
        for name, key in digests.items()
        if last.pages.get(name) != key or not last.is_untouched(reports, name)
    ]


def print_pages(
    made: Mapping[str, Page],
    folder: Path,
    page_size: str,
    as_of: date,
    executor: Executor,
    done: Callable[[], None],
) -> dict[str, str]:
    """Write the PDFs into the folder; `done` is called after each.

    Returns the letters for which the machine has no typeface, by the name of the PDF.
    """
    names = {executor.submit(render, page, page_size, as_of): name for name, page in made.items()}
    boxes: dict[str, str] = {}
    for future in as_completed(names):
        printed, name = future.result(), names[future]
        (folder / name).write_bytes(printed.pdf)
        if printed.boxes:
            boxes[name] = " ".join(sorted(printed.boxes))
        done()
    return boxes


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
