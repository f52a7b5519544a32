"""One build from top to bottom: exports in, reports out. Read this file first."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Protocol

import polars as pl

from pipeline.catalogue import Doses, full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.estimate import estimate
from pipeline.intake import Intake, read_exports
from pipeline.report.files import publish
from pipeline.report.render import check_native_libraries, render_all
from pipeline.report.tables import write_tables
from pipeline.report.write_pages import page_jobs
from pipeline.review.flags import flags, with_referrals
from pipeline.review.habits import work_habits
from pipeline.review.notes import noted_signs
from pipeline.review.outcome import outcomes
from pipeline.review.training import lower_sides, work_by_side
from pipeline.review.verdicts import findings
from pipeline.review.week import Week, block_steps, blocks
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.reference import reference_frames


class Progress(Protocol):
    """How a build tells what it is doing."""

    def step(self, text: str, total: int = 1) -> None:
        """A new step begins, of `total` parts."""

    def advance(self) -> None:
        """One part of the step is done."""


@dataclass(frozen=True)
class Summary:
    """What the last lines of a build say."""

    file_count: int
    rows_read: int
    rows_refused: int
    doubtful_files: tuple[str, ...]
    flag_count: int
    referred_count: int
    athlete_count: int
    squad_count: int
    as_of: date
    reports: Path


def build(
    exports: Path,
    reports: Path,
    settings: Settings,
    progress: Progress,
    as_of: date | None = None,
    workers: int = 2,
    skip_pdf: bool = False,
) -> Summary:
    """Read the exports, estimate, review and write the reports folder.

    Raises SquadsidesError for whatever the user can mend.
    """
    if not skip_pdf:
        check_native_libraries()
    full_catalogue().rules.check_plan(settings.plan)
    progress.step("Reading the exports")
    intake = read_exports(exports, settings)
    day = as_of or newest_day(intake)
    with _unfinished(reports) as new:
        progress.step("Estimating")
        week = review(intake, day, settings, new / "warehouse.duckdb")
        week = replace(week, flags_before=flags_before(intake, week))
        plans = blocks(week)
        write_tables(new, week, plans)
        if not skip_pdf:
            jobs = page_jobs(new, week, plans)
            progress.step("Writing the reports", len(jobs))
            render_all(jobs, day, settings.report.page_size, workers, progress.advance)
        publish(new, reports, replaces_pdfs=not skip_pdf)
    return _summary(intake, week, reports)


def flags_before(intake: Intake, week: Week) -> pl.DataFrame:
    """The list as it stood at the last meeting, made anew from the data up to that day.

    Nothing is remembered between builds, so a lost reports folder loses no history.
    """
    day = week.as_of - timedelta(days=week.settings.review.meeting_days)
    return review(intake, day, week.settings, None).flags


def review(intake: Intake, as_of: date, settings: Settings, warehouse_path: Path | None) -> Week:
    """From accepted rows to findings and flags, all of it kept in the warehouse."""
    book = full_catalogue()
    with Warehouse(warehouse_path) as warehouse:
        for name, frame in {
            **raw_frames(intake, as_of),
            **reference_frames(book, settings.plan),
        }.items():
            warehouse.load(name, frame)
        warehouse.build()
        athletes = warehouse.fetch("stg_athletes").sort("athlete_id")
        trials = warehouse.fetch("stg_trials")
        sessions = warehouse.fetch("mart_day_asymmetry")
        sets = warehouse.fetch("stg_sets").sort("athlete_id", "trained_on", "source_line")
        film = warehouse.fetch("stg_film").sort("athlete_id", "filmed_on")
        decisions = warehouse.fetch("stg_decisions")
        coverage = warehouse.fetch("mart_test_coverage").sort("squad", "athlete_id", "measure")
        estimates = estimate(trials_to_estimate(trials), athletes, book.measures, as_of, settings)
        found = findings(estimates, sessions, book.measures, settings)
        flagged = flags(
            estimates,
            found,
            trials,
            sets,
            coverage,
            athletes,
            decisions,
            noted_signs(trials, sets, film, book.rules),
            book,
            as_of,
            settings,
        )
        work = work_by_side(sets, as_of, settings.review.training_weeks)
        doses = Doses(book.rules.plan, settings.plan)
        week = Week(
            as_of=as_of,
            settings=settings,
            catalogue=book,
            athletes=athletes,
            findings=with_referrals(found, flagged),
            estimates=estimates,
            flags=flagged,
            flags_before=flagged.clear(),
            side_values=warehouse.fetch("mart_side_values").sort("athlete_id", "tested_on"),
            sessions=sessions.sort("athlete_id", "measure", "tested_on"),
            sets=sets,
            film=film,
            coverage=coverage,
            work=work,
            habits=work_habits(sets, film, lower_sides(found, work, settings.review), book, doses),
            outcomes=outcomes(decisions, estimates, sets, athletes, book, as_of, settings),
            log_loads=warehouse.fetch("mart_log_loads").sort("athlete_id", "exercise"),
            files=intake.files,
            refused=intake.refused,
            doubts=intake.doubts,
        )
        for name, frame in {
            "mart_findings": week.findings,
            "mart_flags": flagged,
            "mart_session_estimates": estimates.days,
            "mart_measure_errors": estimates.errors,
            "mart_side_levels": estimates.sides,
            "mart_reliability": estimates.reliability,
            "mart_work_by_side": week.work,
            "mart_work_habits": week.habits,
            "mart_block_outcomes": week.outcomes,
            "mart_block_steps": block_steps(blocks(week)),
        }.items():
            warehouse.load(name, frame)
    return week


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


@contextmanager
def _unfinished(reports: Path) -> Iterator[Path]:
    """A folder beside the finished reports, gone afterwards whatever happens."""
    new = reports / ".unfinished"
    try:
        shutil.rmtree(new, ignore_errors=True)
        (new / "athletes").mkdir(parents=True)
    except OSError as broken:
        raise SquadsidesError(
            f"The reports folder {reports} cannot be written: {broken.strerror}."
        ) from None
    try:
        yield new
    finally:
        shutil.rmtree(new, ignore_errors=True)


def _summary(intake: Intake, week: Week, reports: Path) -> Summary:
    return Summary(
        file_count=intake.files["file"].n_unique(),
        rows_read=int(intake.files["rows_read"].sum()),
        rows_refused=intake.refused.height,
        doubtful_files=tuple(
            intake.doubts.filter(pl.col("is_held"))["file"].unique(maintain_order=True)
        ),
        flag_count=week.flags.height,
        referred_count=week.flags.filter(pl.col("reason") == "refer")["athlete_id"].n_unique(),
        athlete_count=week.athletes.height,
        squad_count=week.athletes["squad"].n_unique(),
        as_of=week.as_of,
        reports=reports,
    )
