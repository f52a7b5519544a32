"""One build from top to bottom: exports in, reports out. Read this file first."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.intake import read_exports
from pipeline.intake.privacy.forgotten import NOBODY, Forgotten, remember_to_forget
from pipeline.intake.privacy.pseudonyms import code_key, with_codes
from pipeline.last_build import EVERYTHING, LastBuild, Request
from pipeline.last_lines import Summary
from pipeline.parts.places import Progress, place, printing
from pipeline.parts.work import Task
from pipeline.report.outputs.filling_sheets import workbooks_of, write_sheets
from pipeline.report.outputs.reports_folder import (
    building,
    keep_filled_in,
    left_over,
    publish,
    record,
)
from pipeline.report.outputs.tables import write_tables
from pipeline.report.outputs.write_pages import pdf_names
from pipeline.report.pdf.render import prepare
from pipeline.report.sections.unread import unread_rows
from pipeline.settings import Settings
from pipeline.unmade import Unmade
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import squads_of
from pipeline.warehouse.stock import newest_day, raw_frames, stock
from schemas.vocabulary import Turn


def build(
    exports: Path,
    reports: Path,
    settings: Settings,
    progress: Progress,
    asked: Request = EVERYTHING,
    workers: int | str = 2,
    forgotten: Forgotten = NOBODY,
) -> Summary:
    """Read the exports, estimate, review and write the reports folder.

    PDFs that would come out as they are stay. `workers`: so many processes that print, or the
    address of the cluster whose workers do. People of `forgotten` are left out besides those whom
    the exports folder lists, and are listed there once all is made; fails that, nothing is
    replaced. What fails for one page, athlete or flag costs that alone: the summary names it
    (`pipeline.unmade`). Raises SquadsidesError for whatever the user can mend.
    """
    with building(reports) as new, printing(new, progress, workers, asked) as pool:
        last = LastBuild.read(reports)
        ready = pool and pool.submit(prepare)
        progress.step("Reading the exports")
        intake = read_exports(exports, settings, asked.as_of, forgotten)
        if ready and ready.done():
            ready.result()  # what printing lacks is told before the estimates are made
        for told in settings.unanswered(intake.file_names, squads_of(intake.roster)):
            progress.remark(told)
        if asked.has_codes:
            intake, settings = with_codes(intake, settings, code_key(exports))
        newest = newest_day(intake)
        task = Task(asked.as_of or newest, settings, pdf_names(intake.roster))
        unmade = Unmade(task.names.athletes)
        progress.step("Estimating")
        with (
            place(pool, new, reports, last, progress, sum(map(len, task.names))) as where,
            Warehouse(new / "warehouse.duckdb") as warehouse,
        ):
            stock(warehouse, raw_frames(intake), task.as_of, settings)
            del intake  # all that follows is read from the warehouse
            for tables in where.worked(warehouse, task, unmade):
                for name, frame in tables.items():
                    warehouse.load(name, frame)
            write_tables(new, warehouse, task.as_of)
            write_sheets(new, task.names, warehouse, task.as_of, unmade)
            summary = _summary(warehouse, task.as_of, newest, settings)
            printed = where.finished()
        shown = dict(last.pages) if last else {}
        if pool is not None:
            shown = printed.digests
            if printed.boxes:
                progress.remark(_no_typeface(printed.boxes))
            if printed.foreign:  # what the machine has may have changed when the next build comes
                shown = {name: key for name, key in shown.items() if name not in printed.foreign}
                asked = asked._replace(inputs="")
        unmade.write(new)
        summary = summary._replace(
            unmade=unmade.told(),
            packs=tuple(task.names.squads.values()) if pool is not None else (),
            test_sheets=workbooks_of(task.names.tests),
        )
        if summary.unmade:  # the next build tries again, whatever has changed
            asked = asked._replace(inputs="")
        stale = left_over(reports, new, last, shown if pool else None)
        record(new, last, asked, summary, shown, stale)
        for name, kept in keep_filled_in(reports, last):
            progress.remark(
                f"{name} had been filled in inside {reports}. It was kept there as {kept}; "
                "put it into the exports folder, so that it counts."
            )
        if forgotten.digests:
            remember_to_forget(exports, forgotten)
        publish(new, reports, stale)
    return summary


def _no_typeface(boxes: Mapping[str, str]) -> str:
    letters = " ".join(sorted({letter for text in boxes.values() for letter in text.split()}))
    return (
        f"No typeface of this program or of this machine has {letters}, so boxes stand in their "
        f"place in {', '.join(sorted(boxes))}. Set up a typeface that has them (on Debian or "
        "Ubuntu `apt-get install fonts-noto-core` brings many); the next build makes these pages "
        "again."
    )


def _summary(warehouse: Warehouse, as_of: date, newest: date, settings: Settings) -> Summary:
    files, doubts = warehouse.fetch("raw_files"), warehouse.fetch("raw_doubts")
    listed = warehouse.fetch("mart_flags").filter(~pl.col("is_accepted"))
    athletes = warehouse.fetch("stg_athletes")
    refused = warehouse.fetch("raw_refused")
    return Summary(
        file_count=files["file"].n_unique(),
        rows_read=int(files["rows_read"].sum()),
        rows_refused=refused.filter(~pl.col("row_kept")).height,
        cells_left_blank=refused.filter("row_kept").height,
        unread_count=unread_rows(
            refused, athletes["athlete_id"].to_list(), as_of, settings.review.refer_days
        ).height
        + warehouse.fetch("mart_decision_questions").height,
        doubtful_files=tuple(doubts.filter("is_held")["file"].unique(maintain_order=True)),
        unread_files=tuple(
            files.group_by("file", maintain_order=True)
            .agg((pl.col("kind") == "").all().alias("is_unread"))
            .filter("is_unread")["file"]
        ),
        flag_count=listed.height,
        referred_count=listed.filter(pl.col("turn") == Turn.REFER)["athlete_id"].n_unique(),
        athlete_count=athletes.height,
        squad_count=athletes["squad"].n_unique(),
        as_of=as_of,
        has_roster=bool(files.filter(pl.col("kind") == "roster")["rows_accepted"].sum()),
        newest_day=newest,
    )
