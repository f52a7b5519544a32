"""One build from top to bottom: exports in, reports out. Read this file first."""

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from datetime import date, timedelta
from itertools import islice
from pathlib import Path
from typing import Protocol

import polars as pl

from pipeline.catalogue import full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.intake import Intake, read_exports
from pipeline.intake.privacy.codes import code_key, with_codes
from pipeline.intake.privacy.forgotten import NOBODY, Forgotten
from pipeline.last_build import LastBuild, Made, tools_digest
from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks
from pipeline.plan.next_rows import TEST_ROW, Coming, next_set_rows, next_test_rows
from pipeline.plan.rows import plan_rows
from pipeline.report.outputs.filling_sheets import workbooks_of, write_sheets
from pipeline.report.outputs.reports_folder import (
    building,
    keep_filled_in,
    left_over,
    publish,
    record,
    temporary_folder,
)
from pipeline.report.outputs.tables import flag_table, write_tables
from pipeline.report.outputs.write_pages import (
    Left,
    PdfNames,
    Press,
    athlete_pages,
    pdf_names,
    sheets_of_tests,
    sheets_of_training,
    squad_packs,
    squad_references,
)
from pipeline.report.pdf.cluster import cluster_printers
from pipeline.report.pdf.render import prepare
from pipeline.report.pdf.workers import printers
from pipeline.report.sections.unread import unread_rows
from pipeline.review.squads import flagged, review
from pipeline.review.week import Week
from pipeline.settings import Settings
from pipeline.summary import Summary
from pipeline.unmade import Failure, Unmade, attempt, tests_missing
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import in_parts, squads_of
from pipeline.warehouse.reference import reference_frames
from schemas.vocabulary import Turn

# Reports of athletes a worker has to print while the packs, which take longest, are prepared.
AHEAD = 6
PARTS_AT_ONCE = 2  # more of them would take more memory
# Tables of what was read: of athletes, with the column of the day; and of the exports themselves.
OF_ATHLETES = {
    "raw_roster": None,
    "raw_trials": "tested_on",
    "raw_sets": "trained_on",
    "raw_film": "filmed_on",
}
OF_EXPORTS = ("raw_decisions", "raw_files", "raw_refused", "raw_doubts")


class Progress(Protocol):
    """How a build tells what it is doing."""

    def step(self, text: str, total: int = 1) -> None:
        """A new step begins, of `total` parts."""

    def advance(self) -> None:
        """One part of the step is done."""

    def remark(self, text: str) -> None:
        """Something the person at the keyboard should know."""


def build(
    exports: Path,
    reports: Path,
    settings: Settings,
    progress: Progress,
    as_of: date | None = None,
    workers: int = 2,
    skip_pdf: bool = False,
    inputs: str = "",
    cluster: str | None = None,
    pseudonyms: bool = False,
    forgotten: Forgotten = NOBODY,
    when_complete: Callable[[], None] = lambda: None,
) -> Summary:
    """Read the exports, estimate, review and write the reports folder.

    `inputs` is the digest of what is built from, taken before; PDFs that would come out as they
    are stay. People of `forgotten` are left out besides those whom the exports folder lists.
    `when_complete` is called once all is made, before it takes the place of the last build; raises
    it, nothing is replaced. What fails for one page, athlete or flag costs that alone: the summary
    names it (`pipeline.unmade`). Raises SquadsidesError for whatever the user can mend.
    """
    with (
        building(reports) as new,
        printing(new, progress, workers, cluster, skip_pdf=skip_pdf) as pool,
    ):
        last = LastBuild.read(reports)
        ready = pool and pool.submit(prepare)
        progress.step("Reading the exports")
        intake = read_exports(exports, settings, as_of, forgotten)
        if ready and ready.done():
            ready.result()  # what printing lacks is told before the estimates are made
        for told in settings.unanswered(intake.file_names, squads_of(intake.roster)):
            progress.remark(told)
        if pseudonyms:
            intake, settings = with_codes(intake, settings, code_key(exports))
        newest = newest_day(intake)
        day = as_of or newest
        names = pdf_names(intake.roster)
        unmade = Unmade(names.athletes)
        press = None
        if pool is not None:
            press = Press(
                pool, new, settings.report.page_size, day, tools_digest(), reports, last,
                unmade, progress.advance,
            )  # fmt: skip
        progress.step("Estimating")
        with (
            Warehouse(new / "warehouse.duckdb") as warehouse,
            ThreadPoolExecutor(PARTS_AT_ONCE) as threads,
        ):
            stock(warehouse, raw_frames(intake), day, settings)
            del intake  # all that follows is read from the warehouse
            reviewed = weeks(threads, warehouse, day, settings, unmade)
            for number, (week, plans) in enumerate(reviewed):
                coming = comes_next(warehouse, week, plans, names, unmade)
                if press is not None:
                    if number == 0:
                        progress.step("Writing the reports", sum(map(len, names)))
                    hand_in(press, warehouse, week, plans, coming, names, AHEAD * workers)
                keep(warehouse, week, plans, coming, unmade)
            write_tables(new, warehouse, day)
            write_sheets(new, names, warehouse, day, unmade)
            summary = _summary(warehouse, day, newest, settings)
        shown = dict(last.pages) if last else {}
        if press is not None:
            press.finish()
            shown = press.digests
            if press.boxes:
                progress.remark(_no_typeface(press.boxes))
            if press.foreign:  # what the machine has may have changed when the next build comes
                shown = {name: key for name, key in shown.items() if name not in press.foreign}
                inputs = ""
        unmade.write(new)
        summary = summary._replace(
            unmade=unmade.told(),
            packs=tuple(names.squads.values()) if press is not None else (),
            test_sheets=workbooks_of(names.tests),
        )
        if summary.unmade:  # the next build tries again, whatever has changed
            inputs = ""
        stale = left_over(reports, new, last, shown if press else None)
        made = Made(has_pdfs=press is not None, has_codes=pseudonyms)
        record(new, last, inputs, summary, shown, stale, made)
        for name, kept in keep_filled_in(reports, last):
            progress.remark(
                f"{name} had been filled in inside {reports}. It was kept there as {kept}; "
                "put it into the exports folder, so that it counts."
            )
        when_complete()
        publish(new, reports, stale)
    return summary


def printing(
    new: Path, progress: Progress, workers: int, cluster: str | None, *, skip_pdf: bool
) -> AbstractContextManager[Executor | None]:
    """Where pages are printed: by nobody, by a cluster, or by processes of this machine."""
    if skip_pdf:
        return nullcontext()
    if cluster:
        return cluster_printers(cluster, progress.remark)
    return printers(workers, temporary_folder(new))


Reviewed = tuple[Week, dict[str, Block]]


def weeks(
    threads: Executor, warehouse: Warehouse, as_of: date, settings: Settings, unmade: Unmade
) -> Iterator[Reviewed]:
    """The week of each part of the squads and its blocks; the next is worked on meanwhile."""

    def reviewed(squads: Sequence[str]) -> Reviewed:
        week = review(warehouse, squads, as_of, settings)
        return week, blocks(week, unmade)

    begun: deque[Future[Reviewed]] = deque()
    for squads in in_parts(warehouse):
        begun.append(threads.submit(reviewed, squads))
        if len(begun) == PARTS_AT_ONCE:
            yield begun.popleft().result()
    while begun:
        yield begun.popleft().result()


def hand_in(
    press: Press,
    warehouse: Warehouse,
    week: Week,
    plans: Mapping[str, Block],
    coming: Coming,
    names: PdfNames,
    first: int,
) -> None:
    """Give all pages of a week to the press: the squads' after the `first` athletes' reports."""
    athletes = athlete_pages(week, plans)
    press.take(islice(athletes, first), names.athletes)
    before = attempt(flags_before, warehouse, week)
    if isinstance(before, Failure):
        for squad in squads_of(week.athletes):
            press.unmade.keep(names.squads[squad], f"{squad}: what is new since last time", before)
    known = None if isinstance(before, Failure) else before
    left: Left = {}
    press.take(squad_packs(week, plans, known, left, press.unmade, coming.tests), names.squads)
    press.take(squad_references(week, plans, left, press.unmade), names.references)
    press.take(athletes, names.athletes)
    press.take(sheets_of_tests(week, coming), names.tests)
    press.take(sheets_of_training(week, coming), names.training)


def comes_next(
    warehouse: Warehouse,
    week: Week,
    plans: Mapping[str, Block],
    names: PdfNames,
    unmade: Unmade,
) -> Coming:
    """What is tested on the next test days and trained in the coming week."""
    squads = squads_of(week.athletes)
    given = warehouse.fetch("stg_trial_units", squad=squads)
    units = {(squad, measure): unit for squad, measure, unit in given.iter_rows()}
    tests = attempt(next_test_rows, week, plans, units)
    if isinstance(tests, Failure):
        for squad in squads:
            unmade.keep(names.tests[squad], tests_missing(squad), tests)
        return Coming(None, next_set_rows(week, plans, unmade))
    return Coming(tests, next_set_rows(week, plans, unmade))


def flags_before(warehouse: Warehouse, week: Week) -> pl.DataFrame:
    """The list as it stood at the last meeting, made anew from the data up to that day.

    Nothing is remembered between builds, so a lost reports folder loses no history.
    """
    day = week.as_of - timedelta(days=week.settings.review.meeting_days)
    ids = week.athletes["athlete_id"].to_list()
    raw = {name: warehouse.fetch(name, athlete_id=ids) for name in OF_ATHLETES}
    raw |= {name: warehouse.fetch(name) for name in OF_EXPORTS}
    with Warehouse() as then:
        stock(then, raw, day, week.settings)
        return flagged(then, squads_of(week.athletes), day, week.settings).flags


def stock(
    warehouse: Warehouse, raw: Mapping[str, pl.DataFrame], as_of: date, settings: Settings
) -> None:
    """Fill the warehouse with all but what is found later, from the rows up to the as-of date."""
    for name, frame in raw.items():
        warehouse.load(name, _up_to(as_of, frame, OF_ATHLETES.get(name)))
    for name, frame in reference_frames(full_catalogue(), settings.plan).items():
        warehouse.load(name, frame)
    warehouse.build()


def _up_to(as_of: date, frame: pl.DataFrame, dated: str | None) -> pl.DataFrame:
    """The rows of no later day; `frame` itself where that is all, as a copy takes its memory."""
    if dated is None or (frame[dated] <= as_of).all():
        return frame
    return frame.filter(pl.col(dated) <= as_of)


def keep(
    warehouse: Warehouse,
    week: Week,
    plans: Mapping[str, Block],
    coming: Coming,
    unmade: Unmade,
) -> None:
    """Add what was found to the warehouse of the build."""
    for name, frame in {
        "mart_findings": week.findings,
        "mart_flags": flag_table(week, plans, unmade),
        "mart_decision_history": week.decided,
        "mart_decision_questions": week.asked,
        "mart_session_estimates": week.estimates.days,
        "mart_measure_errors": week.estimates.errors,
        "mart_side_levels": week.estimates.sides,
        "mart_reliability": week.estimates.reliability,
        "mart_work_by_side": week.work,
        "mart_work_habits": week.habits,
        "mart_block_outcomes": week.outcomes,
        "mart_next_tests": pl.DataFrame(schema=TEST_ROW) if coming.tests is None else coming.tests,
        "mart_next_sets": coming.sets,
        "mart_plans": plan_rows(
            plans, dict(week.athletes.select("athlete_id", "squad").iter_rows())
        ),
        **week.kinds,
    }.items():
        warehouse.load(name, frame)


def raw_frames(intake: Intake) -> dict[str, pl.DataFrame]:
    """What was read, by table name."""
    return {
        name: getattr(intake, name.removeprefix("raw_")) for name in (*OF_ATHLETES, *OF_EXPORTS)
    }


def newest_day(intake: Intake) -> date:
    """The newest test, training or film date; the as-of date is never today's."""
    days = [
        frame[column].max()
        for frame, column in (
            (intake.trials, "tested_on"),
            (intake.sets, "trained_on"),
            (intake.film, "filmed_on"),
        )
    ]
    known = [day for day in days if isinstance(day, date)]
    if not known:
        raise SquadsidesError(
            "The exports hold no test, no training and no film review that could be read, so there "
            "is nothing to report. `python -m pipeline check` shows why."
        )
    return max(known)


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
