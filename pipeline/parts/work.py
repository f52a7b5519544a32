"""One part of the squads: estimates, review, plans, pages.

The same on this machine and on a worker of a cluster. A part needs nothing of any other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice

import polars as pl

from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks, on_their_days
from pipeline.plan.rows import TEST_ROW, Coming, next_set_rows, next_test_rows, plan_rows
from pipeline.report.outputs.tables import flag_table
from pipeline.report.outputs.write_pages import (
    Left,
    PdfNames,
    Press,
    athlete_pages,
    sheets_of_tests,
    sheets_of_training,
    squad_packs,
    squad_references,
)
from pipeline.review.squads import flagged, review
from pipeline.review.week import Week
from pipeline.settings import Settings
from pipeline.unmade import Failure, Unmade, attempt, tests_missing
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import Source, squads_of
from pipeline.warehouse.stock import OF_ATHLETES, OF_EXPORTS, stock

# Reports of athletes there are to print while the packs, which take longest, are prepared.
AHEAD = 12


@dataclass(frozen=True)
class Task:
    """What all parts of a build have in common."""

    as_of: date
    settings: Settings
    names: PdfNames


def work(
    source: Source, squads: Sequence[str], task: Task, unmade: Unmade, press: Press | None
) -> dict[str, pl.DataFrame]:
    """Everything a build finds out about some squads, as tables; pages are given to the press.

    `source` is the stocked warehouse, or what was taken out of it for these squads. What cannot be
    made is kept in `unmade`.
    """
    week = review(source, squads, task.as_of, task.settings)
    plans = blocks(week, unmade)
    coming = comes_next(source, week, plans, task.names, unmade)
    plans = on_their_days(plans, coming.tests)
    if press is not None:
        hand_in(press, source, week, plans, coming, task.names)
    return found(week, plans, coming, unmade)


def hand_in(
    press: Press,
    source: Source,
    week: Week,
    plans: Mapping[str, Block],
    coming: Coming,
    names: PdfNames,
) -> None:
    """Give all pages of a week to the press: the squads' after the first athletes' reports."""
    athletes = athlete_pages(week, plans)
    press.take(islice(athletes, AHEAD), names.athletes)
    before = attempt(flags_before, source, week)
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
    source: Source, week: Week, plans: Mapping[str, Block], names: PdfNames, unmade: Unmade
) -> Coming:
    """What is tested on the next test days and trained in the coming week."""
    squads = squads_of(week.athletes)
    given = source.fetch("stg_trial_units", squad=squads)
    units = {(squad, measure): unit for squad, measure, unit in given.iter_rows()}
    tests = attempt(next_test_rows, week, plans, units)
    if isinstance(tests, Failure):
        for squad in squads:
            unmade.keep(names.tests[squad], tests_missing(squad), tests)
        return Coming(None, next_set_rows(week, plans, unmade))
    return Coming(tests, next_set_rows(week, plans, unmade))


def flags_before(source: Source, week: Week) -> pl.DataFrame:
    """The list as it stood at the last meeting, made anew from the data up to that day.

    Nothing is remembered between builds, so a lost reports folder loses no history.
    """
    day = week.as_of - timedelta(days=week.settings.review.meeting_days)
    ids = week.athletes["athlete_id"].to_list()
    raw = {name: source.fetch(name, athlete_id=ids) for name in OF_ATHLETES}
    raw |= {name: source.fetch(name) for name in OF_EXPORTS}
    with Warehouse() as then:
        stock(then, raw, day, week.settings)
        return flagged(then, squads_of(week.athletes), day, week.settings).flags


def found(
    week: Week, plans: Mapping[str, Block], coming: Coming, unmade: Unmade
) -> dict[str, pl.DataFrame]:
    """What was found, by the name of its table."""
    return {
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
    }
