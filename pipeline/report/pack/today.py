"""Today: one line per athlete, where it stands since when, what, and what is suggested."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import polars as pl

from pipeline.plan.block import Block
from pipeline.report.pack.pages import TodayLine
from pipeline.report.sections.attempted_points import points
from pipeline.report.sections.meeting_points import Point
from pipeline.report.text import decided, words
from pipeline.report.text.names import name_of
from pipeline.report.text.people import role_of
from pipeline.report.text.phrases import say, say_of
from pipeline.review.week import Week
from pipeline.unmade import Unmade
from schemas.vocabulary import Reason, Status, Turn

Row = Mapping[str, Any]
ALSO = 3  # other points of one athlete that are named
MEDICAL = 2  # points for medical staff that are told by their sentence


@dataclass(frozen=True)
class Listed:
    """All points of one athlete, in meeting order; the first says where the athlete stands."""

    athlete: Row
    flags: Sequence[Row]
    said: Sequence[Point]

    @property
    def who(self) -> str:
        """The athlete's id."""
        return str(self.athlete["athlete_id"])


def athletes_on_list(
    flags: pl.DataFrame, blocks: Mapping[str, Block], week: Week, unmade: Unmade
) -> list[Listed]:
    """The athletes of a list, by each one's first flag; `flags` are in meeting order."""
    people = week.athletes.join(flags, on="athlete_id", how="semi")
    athletes = {row["athlete_id"]: row for row in people.iter_rows(named=True)}
    rows = list(flags.iter_rows(named=True))
    said = points(flags, blocks, week, unmade)
    return [
        Listed(athletes[who], [flag for flag, _ in own], [point for _, point in own])
        for who, part in groupby(
            zip(rows, said, strict=True), lambda pair: str(pair[0]["athlete_id"])
        )
        for own in [list(part)]
    ]


def today_lines(
    athletes: Sequence[Listed], names: Mapping[str, str], week: Week
) -> Iterator[TodayLine]:
    """One line of the meeting for each athlete."""
    for number, one in enumerate(athletes, start=1):
        flag = one.flags[0]
        told = _told(one)
        yield TodayLine(
            number=number,
            name=names[one.who],
            role=role_of(one.athlete),
            standing=_standing(flag),
            since=words.capital(" · ".join(_since(flag, week))),
            is_medical=flag["turn"] == Turn.REFER,
            what=" ".join(_what(one, told)),
            also=_also(one, told, week),
            suggestion=" ".join(dict.fromkeys(point.suggestion for point in one.said[:told])),
        )


def _told(one: Listed) -> int:
    """How many points are told by their sentence: the first, of medical ones two."""
    medical = sum(flag["turn"] == Turn.REFER for flag in one.flags)
    return min(max(1, medical), MEDICAL)


def _what(one: Listed, told: int) -> Iterator[str]:
    for point in one.said[:told]:
        yield point.sentence
        if point.sure_word:
            yield say("today.sure", word=words.capital(point.sure_word))


def _standing(flag: Row) -> str:
    if flag["turn"] == Turn.REFER:
        return say("today.standing.with_medical")
    return say_of("today.standing", flag["status"])


def _since(flag: Row, week: Week) -> list[str]:
    """Since when it is listed, and what was decided."""
    parts = [words.since(flag["first_flagged_on"], flag["weeks_open"], week.as_of)]
    if flag["decision"] is None:
        return parts
    day = words.short_day(flag["decided_on"], week.as_of)
    told = {"decision": flag["decision"], "day": day}
    if flag["owner"]:
        owner = words.cut(flag["owner"], 24)
        parts.append(say("agenda.detail.decided_owner", owner=owner, **told))
    else:
        parts.append(say("agenda.detail.decided", **told))
    if flag["due_on"] is not None:
        until = words.short_day(flag["due_on"], week.as_of)
        parts.append(say("agenda.detail.until", day=until))
    if flag["status"] == Status.RUNNING:
        parts += decided.progress(flag, week)[:1]
    return parts


def _also(one: Listed, told: int, week: Week) -> str:
    """What else is listed for the same athlete, by name."""
    said = [subject_name(flag, week) for flag in one.flags[:told]]
    others = dict.fromkeys(subject_name(flag, week) for flag in one.flags[told:])
    names = [name for name in others if name not in said]
    return say("today.also", names=words.some(names, ALSO)) if names else ""


def subject_name(flag: Row, week: Week) -> str:
    """What a flag is about, by its name."""
    if flag["reason"] == Reason.TRAINING:
        return words.one_sided_work(flag["part"])
    name = name_of(flag["subject"], week)
    return say("pack.changes.overdue", topic=name) if flag["reason"] == Reason.OVERDUE else name
