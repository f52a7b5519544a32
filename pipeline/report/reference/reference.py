"""The reference of one squad: every point in full, then all that stands behind it."""

from collections.abc import Mapping

import polars as pl

from pipeline.plan.block import Block
from pipeline.report.pack.pages import PackCard
from pipeline.report.reference.agenda_sections import agenda_sections
from pipeline.report.reference.pages import SquadReference
from pipeline.report.reference.panels import panels_of
from pipeline.report.reference.season import season_of
from pipeline.report.sections.accepted import accepted_table
from pipeline.report.sections.appendix import (
    agreement_of_tests,
    coverage_table,
    intake_table,
    refused_table,
    reliability_dots,
    reliability_of_tests,
    sources_used,
    testing_table,
)
from pipeline.report.sections.decisions_made import history_table
from pipeline.report.sections.training_page import training_page
from pipeline.report.text import words
from pipeline.report.text.people import names_of
from pipeline.report.text.phrases import language, say
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade

SHOWN_REFUSED = 15


def squad_reference(
    squad: str,
    blocks: Mapping[str, Block],
    week: Week,
    cards: tuple[PackCard, ...] = (),
    unmade: Unmade = LET_THROUGH,
) -> SquadReference:
    """The page model of one squad's reference; `cards` are those its pack has no room for."""
    spoken = language(week.settings.report.language)
    spoken.speak()
    names = names_of(squad, week)
    athletes = week.athletes.filter(pl.col("squad") == squad).sort("athlete_id")
    found = week.findings.filter(pl.col("squad") == squad)
    flags = week.flags.filter(pl.col("squad") == squad)
    refused, refused_more = refused_table(week, SHOWN_REFUSED)
    return SquadReference(
        language=spoken,
        header=week.settings.report.header,
        squad=squad,
        as_of=words.day(week.as_of),
        subtitle=say("reference.under", athletes=say("count.athlete", count=athletes.height)),
        how_sure=say("agenda.how_sure", **words.scale_values(week.settings.review)),
        sections=tuple(agenda_sections(flags, found, athletes, names, blocks, week, unmade)),
        accepted=accepted_table(squad, names, week),
        cards=cards,
        panels=tuple(panels_of(athletes, found, names, week)),
        season=season_of(squad, week),
        training=training_page(squad, blocks, week),
        decided=history_table(names, week),
        dots=reliability_dots(squad, week),
        reliability=reliability_of_tests(squad, week),
        agreement=agreement_of_tests(squad, week),
        coverage=coverage_table(squad, week),
        testing=testing_table(squad, week),
        intake=intake_table(week),
        refused=refused,
        refused_more=refused_more,
        sources=sources_used(found, week),
    )
