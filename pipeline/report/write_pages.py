"""Which PDFs a build writes, and the page model of each."""

from collections.abc import Mapping
from pathlib import Path

from pipeline.report.athlete_page import athlete_page
from pipeline.report.files import safe_name
from pipeline.report.render import Job
from pipeline.report.squad_pack import squad_pack
from pipeline.review.block import Block
from pipeline.review.week import Week, by_athlete


def page_jobs(folder: Path, week: Week, blocks: Mapping[str, Block]) -> list[Job]:
    """One pack per squad and one report per athlete; the packs, which take longest, first."""
    squads = week.athletes["squad"].unique().sort()
    packs: list[Job] = [
        (squad_pack(squad, blocks, week), folder / f"squad_{safe_name(squad)}.pdf")
        for squad in squads
    ]
    found = by_athlete(week.findings)
    days = by_athlete(week.estimates.days)
    side_values = by_athlete(week.side_values)
    flags = by_athlete(week.flags)
    film = by_athlete(week.film)
    reports: list[Job] = []
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
        reports.append((page, folder / "athletes" / f"{safe_name(who)}.pdf"))
    return packs + reports
