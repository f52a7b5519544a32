"""Every point of the list in full: the sentence, how sure, since when, and what next."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.plan.block import Block
from pipeline.report.reference.pages import AgendaItem, AgendaSection
from pipeline.report.sections.attempted_points import points
from pipeline.report.text.people import role_of
from pipeline.report.text.phrases import say_of
from pipeline.review.week import Week
from pipeline.unmade import Unmade
from schemas.vocabulary import Turn


def agenda_sections(
    flags: pl.DataFrame,
    found: pl.DataFrame,
    athletes: pl.DataFrame,
    names: Mapping[str, str],
    blocks: Mapping[str, Block],
    week: Week,
    unmade: Unmade,
) -> list[AgendaSection]:
    """The flags of a squad, in meeting order, under the turn of their athlete."""
    people = {row["athlete_id"]: row for row in athletes.iter_rows(named=True)}
    findings = {(row["athlete_id"], row["measure"]): row for row in found.iter_rows(named=True)}
    items: dict[str, list[AgendaItem]] = {str(turn): [] for turn in Turn}
    said_of_all = points(flags, blocks, week, unmade)
    for number, (flag, said) in enumerate(
        zip(flags.iter_rows(named=True), said_of_all, strict=True), start=1
    ):
        athlete = people[flag["athlete_id"]]
        items[flag["athlete_turn"]].append(
            AgendaItem(
                number=number,
                flag_id=flag["flag_id"],
                name=names[flag["athlete_id"]],
                role=role_of(athlete),
                sentence=said.sentence,
                sureness=said.sureness,
                detail=said.detail,
                suggestion=said.suggestion,
                link=_link(flag, findings),
            )
        )
    return [
        AgendaSection(
            say_of("agenda.section", turn),
            say_of("agenda.section_note", turn),
            tuple(items[turn]),
        )
        for turn in Turn
        if items[turn]
    ]


def _link(flag: Mapping[str, Any], findings: Mapping[tuple[str, str], Any]) -> str:
    has_panel = (flag["athlete_id"], flag["measure"]) in findings
    return f"measure-{flag['measure']}" if has_panel else ""
