"""The meeting pack of one squad: the agenda first, then what stands behind it."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.plan.block import Block
from pipeline.report import balance, words
from pipeline.report.agenda import name_of
from pipeline.report.appendix import (
    agreement_table,
    coverage_table,
    intake_table,
    refused_table,
    reliability_table,
    sources_used,
    testing_table,
)
from pipeline.report.decisions_made import history_table
from pipeline.report.pages import (
    AgendaItem,
    AgendaSection,
    Glance,
    Headline,
    MeasurePanel,
    SquadPack,
)
from pipeline.report.people import names_of
from pipeline.report.phrases import language, say
from pipeline.report.points import points
from pipeline.report.training_page import training_page
from pipeline.report.unread import unread_lines
from pipeline.review.week import Week, compared_days
from pipeline.unmade import LET_THROUGH, Unmade
from schemas.vocabulary import Turn

GROUPS = [
    "strength", "grip", "power_jump", "hop", "change_of_direction", "balance", "range_of_motion",
    "muscular_endurance", "size", "structure", TRAINING_RECORD,
]  # fmt: skip
SHOWN_REFUSED, SHOWN_ODD = 15, 5


def squad_pack(
    squad: str,
    blocks: Mapping[str, Block],
    week: Week,
    flags_before: pl.DataFrame | None,
    unmade: Unmade = LET_THROUGH,
) -> SquadPack:
    """The page model of one squad; `flags_before` is the list of the last meeting, if known."""
    spoken = language(week.settings.report.language)
    spoken.speak()
    names = names_of(squad, week)
    athletes = week.athletes.filter(pl.col("squad") == squad).sort("athlete_id")
    doubts = week.doubts.filter(pl.col("is_held") & pl.col("squads").list.contains(squad))
    found = week.findings.filter(pl.col("squad") == squad)
    flags = week.flags.filter(pl.col("squad") == squad)
    refused, refused_more = refused_table(week, SHOWN_REFUSED)
    unread, unread_more = unread_lines(names, week)
    return SquadPack(
        language=spoken,
        header=week.settings.report.header,
        squad=squad,
        as_of=words.day(week.as_of),
        subtitle=_subtitle(athletes, found, week),
        headlines=tuple(_headlines(flags, found, doubts["file"].n_unique())),
        changes=(*_changes(flags, flags_before, names, week), *_odd_tests(names, week)),
        doubts=tuple(
            say("pack.doubt", file=file, doubt=words.with_days(message, week.as_of))
            for file, message in doubts.select("file", "message").iter_rows()
        ),
        unread=unread,
        unread_more=unread_more,
        sections=tuple(_sections(flags, found, athletes, names, blocks, week, unmade)),
        glance=_glance(names, found, week),
        panels=tuple(_panels(athletes, found, names, week)),
        training=training_page(squad, blocks, week),
        decided=history_table(names, week),
        reliability=reliability_table(squad, week),
        agreement=agreement_table(squad, week),
        coverage=coverage_table(squad, week),
        testing=testing_table(squad, week),
        intake=intake_table(week),
        refused=refused,
        refused_more=refused_more,
        sources=sources_used(found, week),
        contact=week.settings.report.medical_contact or say("medical_contact"),
    )


def _subtitle(athletes: pl.DataFrame, found: pl.DataFrame, week: Week) -> str:
    tests = found.filter(pl.col("measure_group") != TRAINING_RECORD)
    recent = tests.filter(pl.col("last_tested_on") > pl.lit(week.as_of).dt.offset_by("-7d"))
    number = words.count(athletes.height, "athlete")
    tested = recent["athlete_id"].n_unique()
    if athletes.height == tested:
        return say("pack.all_tested", count=tested)
    return say("pack.tested", athletes=number, tested=tested or say("pack.none"))


def _headlines(flags: pl.DataFrame, found: pl.DataFrame, held: int) -> list[Headline]:
    clear = flags.filter(pl.col("reason").is_in(["confirmed", "widening"]))
    noise = words.expected_noise(clear["chance_over_line"].to_list())
    closing = found.filter((pl.col("moved") == "smaller") & pl.col("was_over_line"))
    widening = flags.filter(pl.col("reason") == "widening")
    moved = [
        say("pack.headline.closing", number=closing.height),
        say("pack.headline.widening", number=widening.height)
        if widening.height
        else say("pack.headline.none_widening"),
    ]
    if widening.height:  # what asks for something is said first
        moved = [
            say("pack.headline.widening_first", number=widening.height),
            say("pack.headline.closing_beside", number=closing.height),
        ]
    return [
        Headline(
            str(clear.height),
            say("pack.headline.differences", count=clear.height, noise=noise)
            if clear.height
            else say("pack.headline.no_difference"),
        ),
        Headline(*moved),
        Headline(
            words.capital(say("pack.headline.held", files=words.count(held, "file"))),
            say("pack.headline.held_out" if held else "pack.headline.none_held"),
        ),
    ]


def _sections(
    flags: pl.DataFrame,
    found: pl.DataFrame,
    athletes: pl.DataFrame,
    names: Mapping[str, str],
    blocks: Mapping[str, Block],
    week: Week,
    unmade: Unmade,
) -> list[AgendaSection]:
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
                role=_role(athlete),
                sentence=said.sentence,
                sureness=said.sureness,
                detail=said.detail,
                suggestion=said.suggestion,
                link=_link(flag, findings),
            )
        )
    return [
        AgendaSection(
            say(f"agenda.section.{turn}"),
            say(f"agenda.section_note.{turn}"),
            tuple(items[turn]),
        )
        for turn in Turn
        if items[turn]
    ]


def _link(flag: Mapping[str, Any], findings: Mapping[tuple[str, str], Any]) -> str:
    has_panel = (flag["athlete_id"], flag["measure"]) in findings
    return f"measure-{flag['measure']}" if has_panel else ""


def _changes(
    flags: pl.DataFrame, before: pl.DataFrame | None, names: Mapping[str, str], week: Week
) -> list[str]:
    """What came onto the list and what left it since the last meeting, by name."""
    if before is None:
        return [say("pack.changes.unmade")]
    # A test that stays on the list under another reason has neither come nor gone.
    point = ["athlete_id", "measure", "part"]
    came = flags.join(before, on=point, how="anti", nulls_equal=True)
    left = before.join(flags, on=point, how="anti", nulls_equal=True)
    lines = []
    for is_new, rows in ((True, came), (False, left)):
        topics: dict[str, list[str]] = {}
        for athlete, measure, reason in rows.select("athlete_id", "measure", "reason").iter_rows():
            topic = name_of(measure, week)
            if reason == "training":
                topic = say("pack.changes.training")
            elif reason == "overdue":
                topic = say("pack.changes.overdue", topic=topic)
            if topic not in topics.setdefault(athlete, []):
                topics[athlete].append(topic)
        named = [
            say("pack.changes.name", name=names[athlete], topics=", ".join(own))
            for athlete, own in topics.items()
            if athlete in names
        ]
        if named:
            said = words.listed(named)
            lines.append(say("pack.changes.new" if is_new else "pack.changes.off", names=said))
    return lines or [say("pack.changes.nothing")]


def _odd_tests(names: Mapping[str, str], week: Week) -> list[str]:
    """Tests since the last meeting that fell far outside what the ones before let expect.

    Those that wait for medical staff are on the list already.
    """
    referred = week.flags.filter(pl.col("reason") == "refer").select("athlete_id", "measure")
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
    if len(named) > SHOWN_ODD:
        named = [*named[:SHOWN_ODD], say("coverage.more", number=len(named) - SHOWN_ODD)]
    return [say("pack.changes.odd", names=words.listed(named))] if named else []


def _role(athlete: Mapping[str, Any]) -> str:
    parts = [athlete["position"] or athlete["athlete_id"]]
    if athlete["availability"] != "full":
        parts.append(say(f"pack.availability.{athlete['availability']}"))
    return ", ".join(parts)


def _glance(names: Mapping[str, str], found: pl.DataFrame, week: Week) -> Glance:
    groups = [g for g in GROUPS if g in set(found["measure_group"])]
    strongest = (
        found.sort("chance_over_line", "measure", descending=[True, False])
        .group_by("athlete_id", "measure_group", maintain_order=True)
        .first()
    )
    cells = {
        (row["athlete_id"], row["measure_group"]): _mark(row, week)
        for row in strongest.iter_rows(named=True)
    }
    rows = tuple(
        (name, tuple(cells.get((who, group), "") for group in groups))
        for who, name in names.items()
    )
    return Glance(tuple(say(f"pack.group.{group}") for group in groups), rows)


def _mark(row: Mapping[str, Any], week: Week) -> str:
    """The strongest finding of a group in three letters: how sure, and which side is lower."""
    side = "" if row["lower_side"] == "even" else say(f"pack.glance.{row['lower_side']}")
    if row["verdict"] == "confirmed":
        return f"● {side}"
    if row["chance_over_line"] >= week.settings.review.retest_chance:
        return f"◐ {side}"
    return "○"


def _panels(
    athletes: pl.DataFrame, found: pl.DataFrame, names: Mapping[str, str], week: Week
) -> list[tuple[str, tuple[MeasurePanel, ...]]]:
    days = _days_by_key(week, athletes)
    panels: dict[str, list[MeasurePanel]] = {group: [] for group in GROUPS}
    for key, rows in (
        found.sort("measure", "athlete_id")
        .partition_by("measure", as_dict=True, maintain_order=True)
        .items()
    ):
        measure = week.catalogue.measures[str(key[0])]
        panels[measure.group].append(_panel(measure, rows, names, days, week))
    return [
        (say(f"pack.group.{group}"), tuple(found_ones))
        for group, found_ones in panels.items()
        if found_ones
    ]


def _days_by_key(week: Week, athletes: pl.DataFrame) -> dict[tuple[str, str], list[float]]:
    days = compared_days(week).join(athletes.select("athlete_id"), on="athlete_id")
    grouped = days.sort("tested_on").group_by("athlete_id", "measure").agg("d")
    return {(athlete, measure): d for athlete, measure, d in grouped.iter_rows()}


def _panel(
    measure: Measure,
    rows: pl.DataFrame,
    names: Mapping[str, str],
    days: Mapping[tuple[str, str], list[float]],
    week: Week,
) -> MeasurePanel:
    lines = tuple(
        balance.balance_row(
            names[row["athlete_id"]],
            row,
            measure,
            days[row["athlete_id"], measure.id],
            week.settings.review.retest_chance,
        )
        for row in rows.iter_rows(named=True)
    )
    return MeasurePanel(
        title=measure.name,
        anchor=f"measure-{measure.id}",
        note=_panel_note(measure, rows),
        rows=lines,
        alt=balance.described(list(lines)),
    )


def _panel_note(measure: Measure, rows: pl.DataFrame) -> str:
    unit = measure.difference_unit
    if measure.formula == "abs_diff":
        name = say("pack.panel.degrees") if unit == "deg" else words.unit_name(unit)
        formula = say("pack.panel.abs_diff", unit=name)
    else:
        formula = say(f"pack.panel.{measure.formula}")
    return say(
        "pack.panel.note",
        formula=formula,
        error=words.amount(float(str(rows["typical_error"].median())), unit),
        change=words.amount(float(str(rows["mdc95"].median())), unit),
        line=words.amount(float(rows["review_line"][0]), unit),
    )
