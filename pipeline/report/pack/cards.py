"""Half a page for one athlete worth talking about: own values, linked tests, work, words, plan."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.plan.block import Block
from pipeline.programme.who import Who
from pipeline.report.athlete.card_days import listed_days
from pipeline.report.charts.rows import BalanceRow, as_shown
from pipeline.report.pack.levels import levels_of
from pipeline.report.pack.pages import PackCard
from pipeline.report.pack.today import Listed
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.report.text.film import film_lines
from pipeline.report.text.people import role_of
from pipeline.report.text.phrases import say, say_of
from pipeline.report.text.said_sets import SILENT
from pipeline.review.week import Week
from schemas.plan_words import LogState, Plan, PlanReason, Stage, StepPart
from schemas.vocabulary import Decision, Formula, Side, Turn

Row = Mapping[str, Any]
LINKED = 4
STORIES = 2  # told of one athlete
SAID, SAID_LETTERS, PLAN_LETTERS = 3, 95, 260
WEEKS = 4
TOLD = (
    StepPart.JUMPS,
    StepPart.ONE_SIDE,
    StepPart.ISOLATION,
    StepPart.RANGE,
)  # parts of a session that are named
FIRST = (Turn.REFER, Turn.UNCLEAR, Turn.CLEARED)  # come before what a plan says


def is_worth_talking_about(one: Listed) -> bool:
    """Whether an athlete has a card: not where a test is only due or a day only awaited."""
    return one.flags[0]["athlete_turn"] not in SILENT


def card_of(one: Listed, name: str, block: Block, week: Week) -> PackCard:
    """The card of one athlete."""
    found = week.findings.filter(pl.col("athlete_id") == one.who)
    measure = _about(one, block, found, week)
    return PackCard(
        name=name,
        about=_who(one.athlete, week),
        levels=levels_of(one.who, measure, week) if measure is not None else None,
        linked=tuple(_linked(one.who, measure, found, week)),
        said=tuple(dict.fromkeys(_said(one, week)))[:SAID] or (say("cards.said.nothing"),),
        story=tuple(_stories(one.who, block, week)),
        earlier=tuple(_earlier(one.who, measure, block, week)),
        plan=words.cut(_plan(block, week), PLAN_LETTERS),
        question=_question(one.flags[0], block),
    )


def _about(one: Listed, block: Block, found: pl.DataFrame, week: Week) -> Measure | None:
    """The test the card shows: that of the first point that has values, else the surest."""
    tested = set(week.side_values.filter(pl.col("athlete_id") == one.who)["measure"])
    wanted = [flag["measure"] for flag in one.flags]
    wanted += [block.measure, *found.sort("chance_over_line", descending=True)["measure"]]
    for name in wanted:
        if name in tested and name in week.catalogue.measures:
            return week.catalogue.measures[name]
    return None


def _who(athlete: Row, week: Week) -> str:
    parts = [role_of(athlete)]
    age = Who(athlete["birth_date"], week.as_of).age
    if age is not None:
        parts.append(say("cards.age", age=int(age)))
    if athlete["known_difference"]:
        known = words.cut(athlete["known_difference"])
        parts.append(say("agenda.detail.known", known=known))
    return " · ".join(parts)


def _linked(
    who: str, measure: Measure | None, found: pl.DataFrame, week: Week
) -> Iterator[BalanceRow]:
    """Tests of the same limb, the one that is shown first, then the surest; rows of a unit stand
    together."""
    if measure is None:
        return
    own = found.filter(
        (pl.col("region") == measure.region) & (pl.col("formula") != Formula.WITHIN_LIMB_RATIO)
    ).sort(pl.col("measure") != measure.id, pl.col("chance_over_line").round(2), "measure",
           descending=[False, True, False])  # fmt: skip
    days = week.estimates.days.filter(pl.col("athlete_id") == who).drop_nulls("d").sort("tested_on")
    rows = []
    for row in own.head(LINKED).iter_rows(named=True):
        one = week.catalogue.measures[row["measure"]]
        d = days.filter(pl.col("measure") == one.id)["d"].to_list()
        rows.append(
            as_shown(
                balance.balance_row(one.short, row, one, d, week.settings.review.retest_chance)
            )
        )
    units = list(dict.fromkeys(row.unit for row in rows))
    yield from sorted(rows, key=lambda row: units.index(row.unit))


def _stories(who: str, block: Block, week: Week) -> Iterator[str]:
    """What several tests say together, or where they differ: that of the plan first."""
    told = sorted(
        week.stories.get(who, ()),
        key=lambda one: (not one.holds(block.measure), one.is_one),
    )
    for one in told[:STORIES]:
        name, limb = say_of("story.name", one.quality), say_of("card.limb", one.limb)
        about = {
            "name": name,
            "side": words.side_name(one.lower_side),
            "tests": _tests(one.measures, week),
        }
        if one.is_one:
            text = say("story.one", limb=limb, **about)
            even = say("story.even", tests=_tests(one.even, week)) if one.even else ""
            yield " ".join(filter(None, [text, even]))
        else:
            other = words.side_name(words.other(one.lower_side))
            others = _tests(one.others, week)
            text = say("story.differ", other=other, others=others, **about)
            yield " ".join([text, say_of("story.apart", one.quality)])


def _tests(measures: Sequence[str], week: Week) -> str:
    return words.some([week.catalogue.measures[name].short for name in measures], LINKED)


def _said(one: Listed, week: Week) -> Iterator[str]:
    """What was said and seen in the last weeks: pain, notes, film; notes beside decisions."""
    since = week.as_of - timedelta(weeks=WEEKS)
    own = week.noted.filter((pl.col("athlete_id") == one.who) & (pl.col("day") > since)).sort(
        "day", "pain", "note", descending=[True, True, False], nulls_last=True
    )
    yield from _pains(own, week)
    for flag in one.flags:  # the limits of a return stand in its plan
        note, decision = flag["decision_note"], flag["decision"]
        if note and decision not in (None, Decision.CLEARED):
            yield say("cards.said.decided", decision=decision, note=words.cut(note, 60))
    film = week.film.filter((pl.col("athlete_id") == one.who) & (pl.col("filmed_on") > since))
    for line in film_lines(film, week.as_of, with_notes=False):
        yield words.cut(line, SAID_LETTERS)
    for day, note in own.filter(~(pl.col("pain") > 0).fill_null(False)).select(
        "day", "note"
    ).iter_rows():  # fmt: skip
        told = words.short_day(day, week.as_of)
        yield say("cards.said.note", day=told, note=words.cut(note, 70))


def _pains(own: pl.DataFrame, week: Week) -> Iterator[str]:
    """Pain, day by day: the most of each, with the note beside it."""
    worst = own.filter(pl.col("pain") > 0).unique("day", keep="first", maintain_order=True)
    for row in worst.iter_rows(named=True):
        day = words.short_day(row["day"], week.as_of)
        pain = words.pain(row["pain"])
        if row["side"] in (Side.LEFT, Side.RIGHT):
            side = words.side_name(row["side"])
            text = say("cards.said.pain_side", day=day, pain=pain, side=side)
        else:
            text = say("cards.said.pain", day=day, pain=pain)
        note = row["note"]
        yield say("cards.said.with", text=text, note=words.cut(note, 50)) if note else text


def _earlier(who: str, measure: Measure | None, block: Block, week: Week) -> Iterator[str]:
    """Each side beside its own earlier level, the test that is shown first."""
    own = week.own_levels.filter(pl.col("athlete_id") == who)
    if measure is not None:
        own = own.sort(pl.col("measure") != measure.id, "measure")
    for row in own.head(1).iter_rows(named=True):
        first = block.lower_side if block.lower_side in (Side.LEFT, Side.RIGHT) else "left"
        second = words.other(first)
        yield say(
            "cards.earlier",
            day=words.day(row["known_since"]),
            days=say("count.day", count=row["day_count"]),
            side=words.side_name(first),
            share=round(row[f"{first}_share"]),
            other=words.side_name(second),
            other_share=round(row[f"{second}_share"]),
        )
        if row["both_behind"]:
            yield say("cards.earlier_behind")


def _plan(block: Block, week: Week) -> str:
    """The next weeks in two lines."""
    if block.programme is None or block.plan == Plan.RETURN:
        if block.plan == Plan.RETURN:
            text = say("cards.plan.return", step=block.choice.step)
            if not block.choice.limits:
                return text
            note = words.cut(block.choice.limits, SAID_LETTERS)
            return " ".join([text, say("cards.plan.limits", note=note)])
        if block.choice.why == PlanReason.UNMADE:
            return say("agenda.suggestion.unmade")
        until = block.choice.until or block.retest_on
        if block.plan in (Plan.WAIT, Plan.RETEST) and until is not None and until >= week.as_of:
            day = words.short_day(until, week.as_of)
            return " ".join(
                [say_of("cards.no_block", block.plan), say("cards.plan.until", day=day)]
            )
        return say_of("cards.no_block", block.plan)
    gym = [one for one in block.sessions if not one.is_home] or list(block.sessions)
    days = listed_days(gym)
    told = [step for step in block.steps if step.part in TOLD]
    names = list(dict.fromkeys(step.name for step in told or block.steps))
    parts = [
        say("cards.plan.week", week=block.week, weeks=block.weeks)
        if block.choice.stage in (Stage.RUNNING, Stage.CLOSING, Stage.WIDENING)
        else say("cards.plan.weeks", weeks=say("count.week", count=block.weeks))
    ]
    sessions = say("count.session", count=len(gym))
    parts.append(
        say("cards.plan.on_days", sessions=sessions, days=days)
        if days
        else say("cards.plan.sessions", sessions=sessions)
    )
    side = words.side_name(str(block.lower_side))
    if names:
        parts.append(say("cards.plan.what", exercises=words.some(names, 4), side=side))
    if block.programme.has_extra:
        parts.append(say("cards.plan.extra", side=side))
    if block.retest_on is not None:
        day = words.short_day(block.retest_on, week.as_of)
        parts.append(say("cards.plan.test", day=day))
    return " ".join(parts)


def _question(flag: Row, block: Block) -> str:
    """What the meeting decides about an athlete: by the first point, and by what the plan says."""
    turn = flag["athlete_turn"]
    if turn == Turn.REFER and flag["is_in_force"]:
        if flag["decision"] == Decision.SEEN:
            return say("cards.question.seen")
        return say("cards.question.with_medical")
    if turn in FIRST:
        return say_of("cards.decide", turn)
    if block.plan == Plan.MEDICAL:
        return say("cards.question.limits")
    if block.choice.why == PlanReason.AVAILABILITY:
        return say("cards.question.availability")
    if block.choice.why == PlanReason.UNDER_AGE:
        return say("cards.question.under_age")
    if block.plan in (Plan.DONE, Plan.STOP):
        is_counted = (block.choice.outcome or {}).get("log_state") == LogState.COUNTED
        return say("cards.question.ends" if is_counted else "cards.question.ends_unlogged")
    if block.plan == Plan.KEEP:
        return say("cards.question.keep")
    return say_of("cards.decide", turn)
