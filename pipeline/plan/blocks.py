"""The next block of every athlete of a week."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from typing import Any

import polars as pl

from pipeline.catalogue import Doses
from pipeline.plan.block import Block, Case, next_block
from pipeline.plan.choice import Choice, asks_for_staff
from pipeline.plan.test_days import next_test_day
from pipeline.programme.log import Log, read_logs
from pipeline.programme.who import Who
from pipeline.review.differences.stories import found_then, stories
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from pipeline.warehouse.parts import squads_of
from schemas.plan_words import Plan, PlanReason

PAIN_DAYS = 7  # so long an exercise that hurt is left out and nothing is added


def blocks(week: Week, unmade: Unmade = LET_THROUGH) -> dict[str, Block]:
    """The next block of every athlete of the roster, by athlete id."""
    rules = Doses(week.catalogue.rules.plan, week.settings.plan)
    logs = read_logs(week.sets, week.as_of, week.catalogue, rules)
    then = logs_then(week, rules)
    pains = dict(week.pains.iter_rows())
    outcomes = _rows_by_athlete(week.outcomes)
    loads = _rows_by_athlete(week.log_loads.filter("is_by_design"))
    work = _rows_by_athlete(week.work)
    found = _rows_by_athlete(week.findings)
    behind = _rows_by_athlete(week.own_levels.filter("both_behind"))
    flagged = _rows_by_athlete(pl.concat([week.flags, week.accepted]))
    closed = _rows_by_athlete(week.closed)
    hurt = _hurt(week)
    seen_then = found_then(week.estimates.days, _running(week), week.settings.review)
    made = {}
    for athlete in week.athletes.iter_rows(named=True):
        who = athlete["athlete_id"]
        case = Case(
            athlete,
            found.get(who, []),
            flagged.get(who, []),
            outcomes.get(who, []),
            equal_loads=loads.get(who, []),
            work=work.get(who, []),
            closed=closed.get(who, []),
            log=logs.get(who, Log()),
            log_then=then.get(who),
            who=Who(
                athlete["birth_date"],
                week.as_of,
                max(pains.get(who, 0.0), _pain_decided(flagged.get(who, []), week)),
                is_growing=(athlete["grew_cm"] or 0.0) >= rules("growing", "cm"),
                hurt=frozenset(hurt.get(who, [])),
            ),
            both_behind=frozenset(row["measure"] for row in behind.get(who, [])),
            stories=week.stories.get(who, ()),
            stories_then=stories(seen_then[who], week.catalogue, rules)
            if who in seen_then
            else None,
        )
        made[who] = unmade.attempt(
            who,
            f"the next block of {who}",
            partial(next_block, case, week.catalogue, week.as_of, week.settings),
            partial(_unmade_block, case),
        )
    return _spread(made, week)


def _spread(made: dict[str, Block], week: Week) -> dict[str, Block]:
    """The same with tests shared out over the days of their week, so that not all come at once.

    Each athlete's test stays on a training day of one's own; of those the one on which fewest of
    the squad are tested, the earliest of equal ones. A retest that no meeting gave a
    day comes on the squad's next test day: the sheet of that day names it.
    """
    taken: Counter[tuple[str, date]] = Counter()
    next_days = {squad: next_test_day(squad, week) for squad in squads_of(week.athletes)}
    squads = dict(week.athletes.select("athlete_id", "squad").iter_rows())
    for who in sorted(made):
        block = made[who]
        if block.retest_on is None:
            continue
        squad = squads[who]
        days = [day for day in block.test_days if day > week.as_of] or [block.retest_on]
        if block.plan == Plan.STOP:  # an ordinary test day of the squad
            later = (next_days[squad] - block.retest_on).days % 7
            day = block.retest_on + timedelta(days=later)
            days = [week.catalogue.test_day.near(day, week.as_of)]
        if block.plan == Plan.RETEST and block.choice.until is None:
            days = [min(block.retest_on, next_days[squad])]
        _, chosen = min((taken[squad, day], day) for day in days)
        taken[squad, chosen] += 1
        made[who] = replace(block, retest_on=chosen)
    return made


def on_their_days(made: Mapping[str, Block], tests: pl.DataFrame | None) -> dict[str, Block]:
    """The same with each retest that no meeting gave a day on the day of the sheet of tests, which
    may be the second of two. `tests` is `mart_next_tests`, None where it could not be made."""
    if tests is None:
        return dict(made)
    days = {
        (who, about): day
        for who, about, day in tests.select("athlete_id", "about", "tested_on").iter_rows()
    }
    return {
        who: replace(block, retest_on=days.get((who, block.measure), block.retest_on))
        if block.plan == Plan.RETEST and block.choice.until is None
        else block
        for who, block in made.items()
    }


def logs_then(week: Week, rules: Doses) -> dict[str, Log]:
    """The log of whoever is in a block, as it was on the day on which that block began."""
    return {
        row["athlete_id"]: read_logs(
            week.sets.filter(pl.col("athlete_id") == row["athlete_id"]),
            row["started_on"],
            week.catalogue,
            rules,
        ).get(row["athlete_id"], Log())
        for row in _running(week).iter_rows(named=True)
    }


def _running(week: Week) -> pl.DataFrame:
    """The blocks that run, one of each athlete: the one that began last."""
    running = week.outcomes.filter(pl.col("ends_on") > week.as_of).sort("started_on")
    return running.unique("athlete_id", keep="last", maintain_order=True)


def _hurt(week: Week) -> dict[str, list[str]]:
    """By athlete the exercises whose newest pain noted this week asks to leave them out."""
    since = week.as_of - timedelta(days=PAIN_DAYS)
    noted = week.sets.filter(
        pl.col("pain").is_not_null()
        & (pl.col("trained_on") > since)
        & (pl.col("trained_on") <= week.as_of)
    )
    newest = noted.filter(
        pl.col("trained_on") == pl.col("trained_on").max().over("athlete_id", "exercise")
    )
    painful = newest.filter(pl.col("pain") >= week.catalogue.rules.pain_note)
    rows = painful.select("athlete_id", "exercise").unique().sort("athlete_id", "exercise")
    hurt: dict[str, list[str]] = {}
    for who, exercise in rows.iter_rows():
        hurt.setdefault(who, []).append(exercise)
    return hurt


def _pain_decided(flags: Sequence[Mapping[str, Any]], week: Week) -> float:
    """The most pain that a meeting of this week wrote beside a decision that started something."""
    since = week.as_of - timedelta(days=PAIN_DAYS)
    notes = [
        flag["decision_note"] for flag in flags
        if flag["is_in_force"] and flag["decision_note"] and flag["decided_on"] > since
    ]  # fmt: skip
    return max((week.catalogue.rules.noted_pain(note) or 0.0 for note in notes), default=0.0)


def _unmade_block(case: Case) -> Block:
    """In place of a block that could not be made; who waits for medical staff still does."""
    is_medical = asks_for_staff(case)
    choice = Choice(Plan.MEDICAL) if is_medical else Choice(Plan.WAIT, why=PlanReason.UNMADE)
    return Block(case.athlete["athlete_id"], choice, 0)


def _rows_by_athlete(frame: pl.DataFrame) -> dict[str, list[dict[str, Any]]]:
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in frame.iter_rows(named=True):
        rows.setdefault(row["athlete_id"], []).append(row)
    return rows
