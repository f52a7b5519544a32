"""One athlete's report: what is normal, what was found, what to do."""

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

import polars as pl

from pipeline.catalogue import Doses, Measure
from pipeline.plan.block import Block
from pipeline.programme.who import Who
from pipeline.report.athlete.card import next_steps, training_card
from pipeline.report.athlete.opening import opening_of, zeros
from pipeline.report.charts.rows import BalanceRow
from pipeline.report.page_models import AthletePage, SideLine
from pipeline.report.sections import balance
from pipeline.report.sections.trends import trend_notes, trends_of
from pipeline.report.sections.work_done import own_level_line, work_lines
from pipeline.report.text import words
from pipeline.report.text.film import film_lines
from pipeline.report.text.first_week import surer
from pipeline.report.text.phrases import language, say
from pipeline.review.differences.sureness import spoken
from pipeline.review.flags.one_side_only import one_sided_tests
from pipeline.review.week import Week
from schemas.plan_words import Plan
from schemas.vocabulary import Side, Sureness

SHOWN_ROWS, SHOWN_SIDES = 10, 6
SHOWN_LEVELS = 2
SHOWN_FINDINGS, TOLD_BESIDE_A_CARD = 4, 2
ROWS_BESIDE_A_CARD, SIDES_BESIDE_A_CARD = 6, 4  # the card has the second page to itself
# Two pages, never three.
SHOWN_TRENDS = 4


class AthleteWeek(NamedTuple):
    """The rows of a week that are one athlete's own."""

    athlete: Mapping[str, Any]
    found: pl.DataFrame
    days: pl.DataFrame  # of both sides
    side_values: pl.DataFrame
    flags: pl.DataFrame
    film: pl.DataFrame


def athlete_page(own: AthleteWeek, block: Block, week: Week) -> AthletePage:
    """The page model of one athlete."""
    athlete, found, days, side_values, flags, film = own
    spoken = language(week.settings.report.language)
    spoken.speak()
    measures = week.catalogue.measures
    ranked = _ranked(found)
    spoken_of = ranked.filter(~pl.col("is_accepted"))
    dated = days.sort("measure", "tested_on").partition_by("measure", as_dict=True)
    history = {str(key[0]): part for key, part in dated.items()}
    shown = ROWS_BESIDE_A_CARD if block.steps else SHOWN_ROWS
    sides = SIDES_BESIDE_A_CARD if block.steps else SHOWN_SIDES
    told = TOLD_BESIDE_A_CARD if block.steps else SHOWN_FINDINGS
    rows = _balance_rows(ranked.head(shown), history, measures, week.settings.review.retest_chance)
    shown_trends = 0 if block.steps else SHOWN_TRENDS
    trends = trends_of(ranked.head(shown_trends), history, measures, week.as_of)
    contact = week.settings.report.medical_contact or say("medical_contact")
    is_medical = block.plan in (
        Plan.MEDICAL,
        Plan.RETURN,
    )  # staff speak first, and figures stay away
    return AthletePage(
        language=spoken,
        header=week.settings.report.header,
        athlete_id=athlete["athlete_id"],
        name=athlete["name"],
        squad=athlete["squad"],
        as_of=words.day(week.as_of),
        opening=opening_of(ranked, flags, block, week, contact),
        balance=tuple(rows),
        how_sure=say("athlete.findings.scale", **words.scale_values(week.settings.review)),
        findings=() if is_medical else tuple(_findings(ranked, flags, week)[:told]),
        trends=tuple(trends),
        trend_notes=()
        if is_medical
        else tuple(trend_notes(spoken_of, trends, measures, week.as_of)),
        sides=tuple(_side_lines(ranked.head(sides), side_values, measures, week.as_of)),
        card=training_card(
            block,
            measures,
            contact,
            week.settings.review.retest_weeks,
            Who(athlete["birth_date"], week.as_of),
        ),
        work=tuple(_work(athlete["athlete_id"], block, week)),
        film=tuple(film_lines(film, week.as_of, with_notes=not is_medical)),
        next_steps=(
            *next_steps(block, flags, measures, contact),
            *(() if is_medical else _one_sided(side_values, flags, measures)),
            *(() if is_medical else filter(None, [surer(ranked, athlete["squad"], week)])),
        ),
        contact=contact,
    )


def _ranked(found: pl.DataFrame) -> pl.DataFrame:
    """The surest first.

    Chances too small to be spoken of count in whole tenths, so that a row keeps its place from week
    to week where nothing has happened.
    """
    chance = pl.col("chance_over_line")
    place = (
        pl.when(pl.col("sureness") != Sureness.NOT_SHOWN)
        .then(chance.round(2))
        .otherwise(chance.round(1))
    )
    return found.sort(place, "measure", descending=[True, False])


def _balance_rows(
    ranked: pl.DataFrame,
    history: Mapping[str, pl.DataFrame],
    measures: Mapping[str, Measure],
    retest_chance: float,
) -> list[BalanceRow]:
    rows = [
        balance.balance_row(
            measures[row["measure"]].short,
            row,
            measures[row["measure"]],
            history[row["measure"]]["d"].to_list(),
            retest_chance,
        )
        for row in ranked.iter_rows(named=True)
    ]
    units = list(dict.fromkeys(row.unit for row in rows))
    return sorted(rows, key=lambda row: units.index(row.unit))


def _one_sided(
    side_values: pl.DataFrame, flags: pl.DataFrame, measures: Mapping[str, Measure]
) -> list[str]:
    lines = []
    for row in one_sided_tests(side_values, flags).iter_rows(named=True):
        texts = {
            "side": words.side_name(row["side"]),
            "other": words.side_name(words.other(row["side"])),
        }
        lines.append(say("athlete.next.one_sided", measure=measures[row["measure"]].short, **texts))
    return lines


def _findings(ranked: pl.DataFrame, flags: pl.DataFrame, week: Week) -> list[str]:
    measures, retest_chance = week.catalogue.measures, week.settings.review.retest_chance
    lines = [say("athlete.findings.zero", zero=zero) for zero in zeros(flags, week)]
    shown = ranked.filter(~pl.col("is_accepted") & (pl.col("chance_over_line") >= retest_chance))
    for row in shown.iter_rows(named=True):
        measure = measures[row["measure"]]
        chance = spoken(row["chance_over_line"], row["recent_disagree"])
        line = say(
            "athlete.findings.line",
            difference=balance.sentence(row, measure),
            line=words.amount(row["review_line"], row["unit"]),
            chance=words.in_hundred(chance),
            word=words.sure_word(row["sureness"]),
        )
        if row["recent_disagree"]:
            line = " ".join([line, say("athlete.findings.disagree")])
        lines.append(line)
    return lines


def _side_lines(
    ranked: pl.DataFrame, side_values: pl.DataFrame, measures: Mapping[str, Measure], as_of: date
) -> list[SideLine]:
    history: dict[str, list[Mapping[str, Any]]] = {}
    for row in side_values.sort("tested_on").iter_rows(named=True):
        history.setdefault(row["measure"], []).append(row)
    lines = []
    for name in ranked["measure"]:
        measure, rows = measures[name], history[name]
        largest = max(row["mean_value"] for row in rows)
        texts = {}
        for side in (Side.LEFT, Side.RIGHT):
            means = [row["mean_value"] for row in rows if row["side"] == side]
            first, last = (
                words.level(mean, measure.unit, largest) for mean in (means[0], means[-1])
            )
            texts[side] = last if len(means) == 1 else f"{first} → {last}"
        begun, latest = (words.short_day(row["tested_on"], as_of) for row in (rows[0], rows[-1]))
        days = latest if begun == latest else f"{begun} → {latest}"
        unit = words.unit_name(measure.unit)
        lines.append(SideLine(measure.short, texts[Side.LEFT], texts[Side.RIGHT], unit, days))
    return lines


def _work(who: str, block: Block, week: Week) -> list[str]:
    mine = pl.col("athlete_id") == who
    measures = week.catalogue.measures
    levels = [
        own_level_line(row, block.lower_side, measures[row["measure"]])
        for row in week.own_levels.filter(mine).head(SHOWN_LEVELS).iter_rows(named=True)
        if block.plan != Plan.MEDICAL
    ]
    return levels + work_lines(
        week.habits.filter(mine),
        list(week.outcomes.filter(mine).iter_rows(named=True)),
        list(week.log_loads.filter(mine & pl.col("is_by_design")).iter_rows(named=True)),
        block,
        week.catalogue.measures,
        Doses(week.catalogue.rules.plan, week.settings.plan),
        week.as_of,
    )
