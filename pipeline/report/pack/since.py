"""Since the last meeting: what was decided and came of it, what is new, gone or accepted."""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any

import polars as pl

from pipeline.report.pack.pages import SinceLine
from pipeline.report.sections import balance
from pipeline.report.sections.decisions_made import topic
from pipeline.report.sections.training_page import done_of_planned, own_change, verdict
from pipeline.report.text import words
from pipeline.report.text.names import name_of
from pipeline.report.text.phrases import say, say_of
from pipeline.review.week import Week
from schemas.vocabulary import Decision, Reason

SHOWN_ODD = 5
NAMED, TOPICS, LETTERS = 6, 3, 46


def since_lines(names: Mapping[str, str], week: Week) -> Iterator[SinceLine]:
    """Decisions that stand, and those that ended since the last meeting, the newest first."""
    since = week.as_of - timedelta(days=week.settings.review.meeting_days)
    own = week.decided.filter(
        pl.col("athlete_id").is_in(list(names))
        & (pl.col("ended_on").is_null() | (pl.col("ended_on") > since))
    ).sort("decided_on", "athlete_id", "flag_id", "place", descending=[True, False, False, True])
    # Silent ones are told in one line below; a list that says the same again is one decision.
    spoken = own.filter(pl.col("decision") != Decision.ACCEPT).unique(
        "flag_id", keep="first", maintain_order=True
    )
    outcomes = {row["flag_id"]: row for row in week.outcomes.iter_rows(named=True)}
    for row in spoken.iter_rows(named=True):
        what = say(
            "since.decided",
            name=names[row["athlete_id"]],
            decision=str(row["decision"]),
            topic=words.cut(topic(row, week), LETTERS),
        )
        when = words.short_day(row["decided_on"], week.as_of)
        if row["owner"]:
            owner = words.cut(row["owner"], LETTERS)
            when = say("since.by", day=when, owner=owner)
        outcome = outcomes.get(row["flag_id"]) if row["decision"] == Decision.TRAIN else None
        yield SinceLine(what, when, *(_came(outcome, week) if outcome else _became(row, week)))


def _came(outcome: Mapping[str, Any], week: Week) -> tuple[str, str, str]:
    """What was done, how each side went, and whether it helped."""
    measure = week.catalogue.measures[outcome["measure"]]
    lower = outcome["lower_side"]
    sides = "–"
    if outcome["lower_change"] is not None:
        sides = say(
            "since.sides",
            side=words.side_name(lower),
            moved=own_change(outcome["lower_change"], measure),
            other=words.side_name(words.other(lower)),
            other_moved=own_change(outcome["other_change"], measure),
        )
    helped = words.capital(verdict(outcome))
    if outcome["latest_d"] is not None:
        was, now, expected = (
            balance.size(outcome[name], measure)
            for name in ("observed_then_d", "latest_d", "expected_d")
        )
        helped = say("since.helped", was=was, now=now, expected=expected, verdict=helped)
    return done_of_planned(outcome), sides, helped


def _became(row: Mapping[str, Any], week: Week) -> tuple[str, str, str]:
    became = say_of("decided.became", row["became"])
    if row["ended_on"]:
        day = words.short_day(row["ended_on"], week.as_of)
        became = say("decided.on", became=became, day=day)
    return "–", "–", words.capital(became)


def changes(
    flags: pl.DataFrame, before: pl.DataFrame | None, names: Mapping[str, str], week: Week
) -> list[str]:
    """What came onto the list and what left it since the last meeting, by name."""
    if before is None:
        return [say("pack.changes.unmade")]
    # A test that stays on the list under another reason has neither come nor gone.
    point = ["athlete_id", "subject", "part"]
    came = flags.join(before, on=point, how="anti", nulls_equal=True)
    left = before.join(flags, on=point, how="anti", nulls_equal=True)
    lines = []
    for is_new, rows in ((True, came), (False, left)):
        topics: dict[str, list[str]] = {}
        for athlete, subject, reason in rows.select("athlete_id", "subject", "reason").iter_rows():
            topic = name_of(subject, week)
            if reason == Reason.TRAINING:
                topic = say("pack.changes.training")
            elif reason == Reason.OVERDUE:
                topic = say("pack.changes.overdue", topic=topic)
            if topic not in topics.setdefault(athlete, []):
                topics[athlete].append(topic)
        named = [
            say("pack.changes.name", name=names[athlete], topics=words.some(own, TOPICS))
            for athlete, own in topics.items()
            if athlete in names
        ]
        if named:
            said = words.some(named, NAMED)
            lines.append(say("pack.changes.new" if is_new else "pack.changes.off", names=said))
    return lines or [say("pack.changes.nothing")]


def odd_tests(names: Mapping[str, str], week: Week) -> list[str]:
    """Tests since the last meeting that fell far outside what the ones before let expect.

    Those that wait for medical staff are on the list already.
    """
    referred = week.flags.filter(pl.col("reason") == Reason.REFER).select("athlete_id", "measure")
    since = week.as_of - timedelta(days=week.settings.review.meeting_days)
    odd = week.estimates.days.filter(
        pl.col("is_odd") & (pl.col("tested_on") > since) & pl.col("athlete_id").is_in(list(names))
    ).join(referred, on=["athlete_id", "measure"], how="anti")
    named = [
        say("pack.changes.name", name=names[who], topics=name_of(measure, week))
        for who, measure in odd.sort("athlete_id", "measure")
        .select("athlete_id", "measure")
        .unique(maintain_order=True)
        .iter_rows()
    ]
    return [say("pack.changes.odd", names=words.some(named, SHOWN_ODD))] if named else []
