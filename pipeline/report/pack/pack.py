"""The meeting pack of one squad, and the cards for which it has no fit_on_pages."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta

import polars as pl

from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.estimate.multiplicity import expected_noise
from pipeline.plan.block import Block
from pipeline.report.pack import fit_on_pages
from pipeline.report.pack.cards import card_of, is_worth_talking_about
from pipeline.report.pack.levels import WEEKS
from pipeline.report.pack.pages import PackCard, SquadPack
from pipeline.report.pack.since import changes, odd_tests, since_lines
from pipeline.report.pack.squad_page import glance, strips, work_rows
from pipeline.report.pack.test_day_section import day_title, tests_table
from pipeline.report.pack.today import athletes_on_list, today_lines
from pipeline.report.sections.accepted import accepted_line
from pipeline.report.sections.unread import SHOWN, unread_lines
from pipeline.report.text import words
from pipeline.report.text.people import names_of
from pipeline.report.text.phrases import language, say
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from schemas.vocabulary import Reason

SHOWN_DOUBTS, SHOWN_SINCE = 4, 8


def squad_pack(
    squad: str,
    blocks: Mapping[str, Block],
    week: Week,
    flags_before: pl.DataFrame | None,
    unmade: Unmade = LET_THROUGH,
    due: pl.DataFrame | None = None,
) -> tuple[SquadPack, tuple[PackCard, ...]]:
    """The page model of one squad, and the cards that stand in the reference instead.

    `flags_before` is the list of the last meeting, `due` the tests of the next test day
    (`mart_next_tests`), if known.
    """
    spoken = language(week.settings.report.language)
    spoken.speak()
    names = names_of(squad, week)
    week = _of(squad, names, week)
    athletes, found, flags = week.athletes, week.findings, week.flags
    held = week.doubts.filter(pl.col("is_held") & pl.col("squads").list.contains(squad))
    doubts = [
        say("pack.doubt", file=file, doubt=words.with_days(message, week.as_of))
        for file, message in held.select("file", "message").iter_rows()
    ]
    shown = doubts[:SHOWN_DOUBTS]
    unread, unread_more = unread_lines(names, week, SHOWN - len(shown))
    of_list = athletes_on_list(flags, blocks, week, unmade)
    since = list(since_lines(names, week))
    accepted = accepted_line(squad, names, week)
    work, work_more = work_rows(squad, names, week)
    pack = SquadPack(
        language=spoken,
        header=week.settings.report.header,
        squad=squad,
        as_of=words.day(week.as_of),
        subtitle=_subtitle(athletes, found, week),
        summary=_summary(flags),
        unread=unread,
        how_sure=say("today.note", **words.scale_values(week.settings.review)),
        unread_more=unread_more,
        doubts=tuple(shown),
        doubts_more=_more_files(len(doubts) - len(shown)),
        today=tuple(today_lines(of_list, names, week)),
        today_more=0,
        since=tuple(since[:SHOWN_SINCE]),
        since_more=max(0, len(since) - SHOWN_SINCE),
        notes=(
            *changes(flags, flags_before, names, week),
            *odd_tests(names, week),
            *filter(None, [accepted]),
        ),
        cards=(),
        cards_elsewhere="",
        strips=tuple(strips(found, names, week)),
        glance=glance(names, found, week),
        work=tuple(work),
        work_note=_work_note(work_more, week),
        test_day=day_title(due, squad),
        tests=tests_table(due, names, week),
        tests_none=say("test_day.unmade" if due is None else "test_day.none"),
        most_pages=fit_on_pages.most_pages(athletes.height),
    )
    cards = tuple(
        card_of(one, names[one.who], blocks[one.who], week)
        for one in of_list
        if is_worth_talking_about(one)
    )
    return fit_on_pages.fitted(pack, cards, week.settings.report.page_size)


def _of(squad: str, names: Mapping[str, str], week: Week) -> Week:
    """The week of one squad alone: a card looks through the rows of its squad, not of a club."""
    people = list(names)
    begin = week.as_of - timedelta(weeks=WEEKS)
    own = {
        name: getattr(week, name).filter(pl.col("athlete_id").is_in(people))
        for name in ("side_values", "film", "noted", "own_levels", "decided", "outcomes", "work")
    }
    estimates = replace(
        week.estimates,
        days=week.estimates.days.filter(pl.col("squad") == squad),
        sides=week.estimates.sides.filter(pl.col("athlete_id").is_in(people)),
    )
    of_squad = {
        name: getattr(week, name).filter(pl.col("squad") == squad)
        for name in ("athletes", "findings", "flags", "accepted")
    }
    sets = week.sets.filter((pl.col("squad") == squad) & (pl.col("trained_on") > begin))
    return replace(week, estimates=estimates, sets=sets, **own, **of_squad)


def _subtitle(athletes: pl.DataFrame, found: pl.DataFrame, week: Week) -> str:
    tests = found.filter(pl.col("measure_group") != TRAINING_RECORD)
    recent = tests.filter(pl.col("last_tested_on") > pl.lit(week.as_of).dt.offset_by("-7d"))
    number = say("count.athlete", count=athletes.height)
    tested = recent["athlete_id"].n_unique()
    if athletes.height == tested:
        return say("pack.all_tested", count=tested)
    return say("pack.tested", athletes=number, tested=tested or say("pack.none"))


def _summary(flags: pl.DataFrame) -> str:
    """How long the list is, and how much of it is expected to be chance."""
    clear = flags.filter(pl.col("reason").is_in([Reason.CONFIRMED, Reason.WIDENING]))
    people = say("count.athlete", count=flags["athlete_id"].n_unique())
    if clear.is_empty():
        return say("pack.summary.none", athletes=people)
    noise = words.of_which_noise(expected_noise(clear["chance_over_line"].to_list()))
    return say("pack.summary.some", athletes=people, count=clear.height, noise=noise)


def _more_files(number: int) -> str:
    return say("unread.more_files", files=say("count.file", count=number)) if number else ""


def _work_note(more: int, week: Week) -> str:
    note = say("training.work.note", weeks=week.settings.review.training_weeks)
    note = say("sides.note", note=note)
    return f"{note} {say('sides.more', count=more)}" if more else note
