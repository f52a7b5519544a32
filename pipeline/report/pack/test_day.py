"""The next test day: which tests, and who."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.plan.block import Block
from pipeline.report import words
from pipeline.report.names import name_of
from pipeline.report.pages import Table
from pipeline.report.phrases import say, titles
from pipeline.review.week import Week
from schemas.vocabulary import Decision, Plan, Status, Turn

AHEAD = timedelta(days=14)
NAMED, SHOWN = 8, 12


def tests_table(
    flags: pl.DataFrame, names: Mapping[str, str], blocks: Mapping[str, Block], week: Week
) -> Table:
    """Tests that the list asks for and blocks whose test is near, a test a row.

    Nobody who waits for medical staff is asked to test.
    """
    asked: dict[str, dict[str, date | None]] = {}
    medical = {who for who in names if blocks[who].plan in (Plan.MEDICAL, Plan.RETURN)}
    for flag in flags.iter_rows(named=True):
        who, measure = flag["athlete_id"], flag["measure"]
        if who not in medical and measure in week.catalogue.measures and _asks(flag, week):
            others = (flag["cause_note"] or "").split(",") if flag["reason"] == "overdue" else []
            for one in [measure, *(name for name in others if name in week.catalogue.measures)]:
                asked.setdefault(one, {}).setdefault(who, flag["due_on"])
    for who in names:
        block = blocks[who]
        is_near = block.retest_on is not None and block.retest_on <= week.as_of + AHEAD
        if is_near and who not in medical and block.measure in week.catalogue.measures:
            asked.setdefault(str(block.measure), {}).setdefault(who, block.retest_on)
    rows = []
    for measure in sorted(asked, key=lambda one: (-len(asked[one]), one))[:SHOWN]:
        if week.catalogue.measures[measure].is_record:
            continue  # the log tells; there is no test of it
        people = [_with_day(names[who], day, week) for who, day in asked[measure].items()]
        rows.append((name_of(measure, week), str(len(people)), words.some(people, NAMED)))
    return Table(titles("test_day.head"), tuple(rows), (1,))


def _asks(flag: Mapping[str, Any], week: Week) -> bool:
    """Whether a point of the list asks for a test now."""
    if flag["turn"] == Turn.REFER or flag["decision"] in (Decision.WAIT, Decision.ACCEPT):
        return False
    if flag["status"] in (Status.RUNNING, Status.WAITING):
        due = flag["due_on"]
        return due is not None and due <= week.as_of + AHEAD
    return flag["reason"] in ("retest", "overdue") or flag["status"] == Status.LATE


def _with_day(name: str, day: date | None, week: Week) -> str:
    if day is None or day < week.as_of:
        return name
    return say("test_day.by", name=name, day=words.short_day(day, week.as_of))
