"""One build from top to bottom: exports in, reports out. Read this file first."""

from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from pathlib import Path
from typing import Protocol

import polars as pl

from pipeline.catalogue import Doses, full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.estimate import Estimates, estimate
from pipeline.intake import Intake, read_exports
from pipeline.intake.parts import in_parts, squads_of
from pipeline.intake.privacy import WHOSE_FLAG, with_codes
from pipeline.last_build import LastBuild, tools_digest
from pipeline.report.files import building, keep_filled_in, left_over, publish, record
from pipeline.report.render import prepare
from pipeline.report.tables import flag_table, write_tables
from pipeline.report.workers import printers
from pipeline.report.write_pages import PdfNames, Press, athlete_pages, pdf_names, squad_packs
from pipeline.review.block import Block
from pipeline.review.flags import flags, with_referrals
from pipeline.review.habits import work_habits
from pipeline.review.notes import noted_signs
from pipeline.review.outcome import outcomes
from pipeline.review.shown import only_shown
from pipeline.review.training import lower_sides, work_by_side
from pipeline.review.verdicts import findings
from pipeline.review.week import Week, block_steps, blocks
from pipeline.settings import Settings
from pipeline.summary import Summary
from pipeline.warehouse import Warehouse
from pipeline.warehouse.reference import reference_frames

# Reports of athletes a worker has to print while the packs, which take longest, are prepared.
AHEAD = 6


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
) -> Summary:
    """Read the exports, estimate, review and write the reports folder.

    `inputs` is the digest of what is built from, taken before; PDFs that would come out as they
    are stay. Raises SquadsidesError for whatever the user can mend.
    """
    full_catalogue().rules.check_plan(settings.plan)
    with (
        building(reports) as new,
        nullcontext() if skip_pdf else printers(workers, cluster) as pool,
    ):
        last = LastBuild.read(reports)
        ready = pool and pool.submit(prepare)
        progress.step("Reading the exports")
        intake = read_exports(exports, settings)
        if ready and ready.done():
            ready.result()  # what printing lacks is told before the estimates are made
        for squad in sorted(settings.review_lines.keys() - set(squads_of(intake.roster))):
            progress.remark(
                f"The settings hold review lines for {squad}, a squad that nobody in the roster is "
                "in, so nothing is held against them."
            )
        if pseudonyms:
            intake = with_codes(intake)
        day = as_of or newest_day(intake)
        names = pdf_names(intake.roster)
        press = None
        if pool is not None:
            press = Press(
                pool, new, settings.report.page_size, day, tools_digest(), reports, last,
                progress.advance,
            )  # fmt: skip
        progress.step("Estimating")
        with Warehouse(new / "warehouse.duckdb") as warehouse:
            stock(warehouse, intake, day, settings)
            for number, part in enumerate(in_parts(intake)):
                week = review(warehouse, part, day, settings)
                plans = blocks(week)
                if press is not None:
                    if number == 0:
                        progress.step("Writing the reports", sum(map(len, names)))
                    hand_in(press, part, week, plans, names, AHEAD * workers)
                keep(warehouse, week, plans)
            every_flag = warehouse.fetch("mart_flags")
            write_tables(new, intake, every_flag, warehouse.fetch("mart_findings"), day)
        shown = dict(last.pages) if last else {}
        stale: list[str] = []
        if press is not None:
            press.finish()
            shown = press.digests
            stale = left_over(reports, last, shown)
            if press.boxes:  # a typeface that is set up later must bring these pages out anew
                progress.remark(_no_typeface(press.boxes))
                shown = {name: key for name, key in shown.items() if name not in press.boxes}
                inputs = ""
        summary = _summary(intake, every_flag, day)
        record(new, last, inputs, summary, shown, has_pdfs=pool is not None)
        if kept := keep_filled_in(reports, last):
            progress.remark(
                f"decisions.xlsx had been filled in inside {reports}. It was kept there as {kept}; "
                "put it into the exports folder, so that it counts."
            )
        publish(new, reports, stale)
    return summary


def hand_in(
    press: Press,
    intake: Intake,
    week: Week,
    plans: Mapping[str, Block],
    names: PdfNames,
    first: int,
) -> None:
    """Give all pages of a week to the press: the packs after the `first` athletes' reports."""
    athletes = athlete_pages(week, plans)
    press.take(islice(athletes, first), names.athletes)
    press.take(squad_packs(week, plans, flags_before(intake, week)), names.squads)
    press.take(athletes, names.athletes)


def flags_before(intake: Intake, week: Week) -> pl.DataFrame:
    """The list as it stood at the last meeting, made anew from the data up to that day.

    Nothing is remembered between builds, so a lost reports folder loses no history.
    """
    day = week.as_of - timedelta(days=week.settings.review.meeting_days)
    with Warehouse() as warehouse:
        stock(warehouse, intake, day, week.settings)
        return flagged(warehouse, intake, day, week.settings).flags


@dataclass(frozen=True)
class Flagged:
    """What was read, what was found in it and who is on the list, up to a day."""

    athletes: pl.DataFrame
    trials: pl.DataFrame
    sessions: pl.DataFrame
    sets: pl.DataFrame
    film: pl.DataFrame
    decisions: pl.DataFrame
    coverage: pl.DataFrame
    estimates: Estimates
    findings: pl.DataFrame
    flags: pl.DataFrame


def stock(warehouse: Warehouse, intake: Intake, as_of: date, settings: Settings) -> None:
    """Fill the warehouse with all but what is found later, from the rows up to the as-of date."""
    raw = raw_frames(intake, as_of)
    for name, frame in {**raw, **reference_frames(full_catalogue(), settings.plan)}.items():
        warehouse.load(name, frame)
    warehouse.build()


def flagged(warehouse: Warehouse, intake: Intake, as_of: date, settings: Settings) -> Flagged:
    """From a stocked warehouse to the list of flags, for the squads of an intake."""
    book = full_catalogue()
    squads = squads_of(intake.roster)
    athletes = warehouse.fetch("stg_athletes", squads).sort("athlete_id")
    trials = warehouse.fetch("stg_trials", squads)
    sessions = warehouse.fetch("mart_day_asymmetry", squads)
    sets = warehouse.fetch("stg_sets", squads).sort("athlete_id", "trained_on", "source_line")
    film = warehouse.fetch("stg_film", squads).sort("athlete_id", "filmed_on")
    decisions = warehouse.fetch("stg_decisions").filter(
        WHOSE_FLAG.is_in(athletes["athlete_id"].to_list())
    )
    tested = warehouse.fetch("mart_test_coverage", squads).sort("squad", "athlete_id", "measure")
    coverage = only_shown(tested, settings)
    estimates = estimate(trials_to_estimate(trials), athletes, book.measures, as_of, settings)
    found = findings(estimates, sessions, book.measures, settings)
    signs = noted_signs(trials, sets, film, book.rules)
    every = flags(
        estimates, found, trials, sets, coverage, athletes, decisions, signs, book, as_of, settings
    )
    listed = only_shown(every, settings)
    return Flagged(
        athletes=athletes,
        trials=trials,
        sessions=sessions,
        sets=sets,
        film=film,
        decisions=decisions,
        coverage=coverage,
        estimates=estimates,
        findings=only_shown(with_referrals(found, listed), settings),
        flags=listed,
    )


def review(warehouse: Warehouse, intake: Intake, as_of: date, settings: Settings) -> Week:
    """Everything known at a day of an intake's squads, as the reports read it.

    The warehouse is stocked up to that day; `keep` adds to it what was found.
    """
    book = full_catalogue()
    seen = flagged(warehouse, intake, as_of, settings)
    squads = squads_of(intake.roster)
    side_values = warehouse.fetch("mart_side_values", squads).sort("athlete_id", "tested_on")
    log_loads = warehouse.fetch("mart_log_loads", squads).sort("athlete_id", "exercise")
    work = work_by_side(seen.sets, as_of, settings.review.training_weeks)
    lower = lower_sides(seen.findings, work, settings.review)
    doses = Doses(book.rules.plan, settings.plan)
    return Week(
        as_of=as_of,
        settings=settings,
        catalogue=book,
        athletes=seen.athletes,
        findings=seen.findings,
        estimates=seen.estimates,
        flags=seen.flags,
        side_values=only_shown(side_values, settings),
        sessions=seen.sessions.sort("athlete_id", "measure", "tested_on"),
        sets=seen.sets,
        film=seen.film,
        coverage=seen.coverage,
        work=work,
        habits=work_habits(seen.sets, seen.film, lower, book, doses),
        outcomes=outcomes(
            seen.decisions, seen.estimates, seen.sets, seen.athletes, book, as_of, settings
        ),
        log_loads=log_loads,
        files=intake.files,
        refused=intake.refused,
        doubts=doubts_by_squad(intake.doubts, seen.trials),
    )


def keep(warehouse: Warehouse, week: Week, plans: Mapping[str, Block]) -> None:
    """Add what was found to the warehouse of the build."""
    for name, frame in {
        "mart_findings": week.findings,
        "mart_flags": flag_table(week, plans),
        "mart_session_estimates": week.estimates.days,
        "mart_measure_errors": week.estimates.errors,
        "mart_side_levels": week.estimates.sides,
        "mart_reliability": week.estimates.reliability,
        "mart_work_by_side": week.work,
        "mart_work_habits": week.habits,
        "mart_block_outcomes": week.outcomes,
        "mart_block_steps": block_steps(plans),
    }.items():
        warehouse.load(name, frame)


def doubts_by_squad(doubts: pl.DataFrame, trials: pl.DataFrame) -> pl.DataFrame:
    """The doubts, each with the squads whose athletes are in its file (`squads`)."""
    squads = (
        trials.select(pl.col("source_file").cast(pl.String).alias("file"), "squad")
        .unique()
        .sort("file", "squad")
        .group_by("file")
        .agg(pl.col("squad").alias("squads"))
    )
    return doubts.join(squads, on="file", how="left", maintain_order="left").with_columns(
        pl.col("squads").fill_null([])
    )


def trials_to_estimate(trials: pl.DataFrame) -> pl.DataFrame:
    """The trials that enter the estimate: scored, sided, and of no doubtful file."""
    return (
        trials.filter(~pl.col("held") & pl.col("score").is_not_null() & (pl.col("side") != "both"))
        .select("squad", "athlete_id", "measure", "tested_on", "side", "trial", "score", "shapes")
        .sort("squad", "measure", "athlete_id", "tested_on", "side", "trial")
    )


def raw_frames(intake: Intake, as_of: date) -> dict[str, pl.DataFrame]:
    """The accepted rows up to the as-of date, by table name."""
    return {
        "raw_roster": intake.roster,
        "raw_trials": intake.trials.filter(pl.col("tested_on") <= as_of),
        "raw_sets": intake.sets.filter(pl.col("trained_on") <= as_of),
        "raw_film": intake.film.filter(pl.col("filmed_on") <= as_of),
        "raw_decisions": intake.decisions,
        "raw_files": intake.files,
        "raw_refused": intake.refused,
        "raw_doubts": intake.doubts,
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
        f"No typeface on this machine has {letters}, so they are printed as boxes in "
        f"{', '.join(sorted(boxes))}. On Debian or Ubuntu `apt-get install fonts-noto-cjk "
        "fonts-noto-color-emoji` brings most; the next build makes these pages again."
    )


def _summary(intake: Intake, flagged: pl.DataFrame, as_of: date) -> Summary:
    return Summary(
        file_count=intake.files["file"].n_unique(),
        rows_read=int(intake.files["rows_read"].sum()),
        rows_refused=intake.refused.height,
        doubtful_files=tuple(
            intake.doubts.filter(pl.col("is_held"))["file"].unique(maintain_order=True)
        ),
        unread_files=tuple(
            intake.files.group_by("file", maintain_order=True)
            .agg((pl.col("kind") == "").all().alias("is_unread"))
            .filter("is_unread")["file"]
        ),
        flag_count=flagged.height,
        referred_count=flagged.filter(pl.col("reason") == "refer")["athlete_id"].n_unique(),
        athlete_count=intake.roster.height,
        squad_count=len(squads_of(intake.roster)),
        as_of=as_of,
        newest_day=newest_day(intake),
    )
