"""One athlete's report: what is normal, what was found, what to do."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Doses, Measure
from pipeline.estimate.scales import shown
from pipeline.report import balance, words
from pipeline.report.card import film_lines, next_steps, training_card
from pipeline.report.charts import BalanceRow, Trend, TrendPoint
from pipeline.report.pages import AthletePage, SideLine
from pipeline.report.work_done import work_lines
from pipeline.review.block import Block
from pipeline.review.week import Week

NORMAL = "Everyone’s sides differ a little."
SHOWN_ROWS, SHOWN_SIDES = 10, 6
# Two pages, never three: beside a training card there is room for one row of trends.
SHOWN_TRENDS, SHOWN_TRENDS_BESIDE_A_CARD = 4, 2


def athlete_page(
    athlete: Mapping[str, Any],
    found: pl.DataFrame,
    days: pl.DataFrame,
    side_values: pl.DataFrame,
    flags: pl.DataFrame,
    film: pl.DataFrame,
    block: Block,
    week: Week,
) -> AthletePage:
    """The page model of one athlete; every frame holds that athlete's rows only."""
    measures = week.catalogue.measures
    ranked = found.sort("chance_over_line", "measure", descending=[True, False])
    dated = days.sort("measure", "tested_on").partition_by("measure", as_dict=True)
    history = {str(key[0]): part for key, part in dated.items()}
    rows = _balance_rows(ranked, history, measures, week.settings.review.retest_chance)
    shown_trends = SHOWN_TRENDS_BESIDE_A_CARD if block.steps else SHOWN_TRENDS
    trends = _trends(ranked.head(shown_trends), history, measures)
    contact = week.settings.report.medical_contact
    return AthletePage(
        athlete_id=athlete["athlete_id"],
        name=athlete["name"],
        squad=athlete["squad"],
        as_of=words.day(week.as_of),
        opening=_opening(ranked, flags, block, measures, contact),
        balance=tuple(rows),
        balance_alt=balance.described(rows),
        findings=()
        if block.kind == "medical"
        else tuple(_findings(ranked, measures, week.settings.review.retest_chance)),
        trends=tuple(trends),
        trends_alt=_trends_alt(trends),
        trend_notes=()
        if block.kind == "medical"
        else tuple(_trend_notes(ranked, trends, measures)),
        sides=tuple(_side_lines(ranked, side_values, measures)),
        card=training_card(block, measures, contact, week.settings.review.retest_weeks),
        work=tuple(_work(athlete["athlete_id"], block, week)),
        film=tuple(film_lines(film)),
        next_steps=tuple(next_steps(block, flags, measures, contact)),
        contact=contact,
    )


def _balance_rows(
    ranked: pl.DataFrame,
    history: Mapping[str, pl.DataFrame],
    measures: Mapping[str, Measure],
    retest_chance: float,
) -> list[BalanceRow]:
    kept = ranked.head(SHOWN_ROWS)
    rows = [
        balance.balance_row(
            measures[row["measure"]].short,
            row,
            measures[row["measure"]],
            history[row["measure"]]["d"].to_list(),
            retest_chance,
        )
        for row in kept.iter_rows(named=True)
    ]
    units = list(dict.fromkeys(row.unit for row in rows))
    return sorted(rows, key=lambda row: units.index(row.unit))


def _opening(
    ranked: pl.DataFrame,
    flags: pl.DataFrame,
    block: Block,
    measures: Mapping[str, Measure],
    contact: str,
) -> str:
    if not flags.filter(pl.col("reason") == "refer").is_empty():
        return (
            f"{NORMAL} One thing in your last tests is for {contact} to look at before your next "
            "hard session or test. This report does not interpret it. Please speak with them first."
        )
    if ranked.is_empty():
        return (
            f"{NORMAL} There is no left and right test of yours in these files yet, so there is "
            "nothing to say about your sides and nothing to change."
        )
    clear = ranked.filter((pl.col("verdict") == "confirmed") & (pl.col("lower_side") != "even"))
    open_ones = ranked.filter(pl.col("verdict").is_in(["retest", "one_session"])).filter(
        (pl.col("chance_over_line") >= 0.40) & (pl.col("lower_side") != "even")
    )
    parts = [NORMAL]
    if clear.is_empty() and open_ones.is_empty():
        parts.append("Yours are within what is usual in these tests. Nothing to change.")
        return " ".join(parts)
    others = ranked.height - clear.height - open_ones.height
    if others > 0:
        parts.append("Most of yours are within what is usual in these tests."
                     if others > ranked.height / 2 else "")  # fmt: skip
    if not clear.is_empty():
        row = clear.row(0, named=True)
        more = clear.height - 1
        verb = "shows" if more == 1 else "show"
        also = f" {words.count(more, 'other test')} {verb} a difference too." if more else ""
        parts.append(f"One stands out: {_plain(row, measures)}. {_movement(row)}{also}")
    elif not open_ones.is_empty():
        row = open_ones.row(0, named=True)
        parts.append(
            f"In one test it is not settled yet: {_plain(row, measures)}, which may be chance. "
            "A retest will tell."
        )
    if block.kind in ("train", "mobility"):
        parts.append("The plan is on the next page.")
    if block.kind == "maintain":
        parts.append("It goes with something we already know about, so we keep it as it is.")
    return " ".join(part for part in parts if part)


def _plain(row: Mapping[str, Any], measures: Mapping[str, Measure]) -> str:
    measure = measures[row["measure"]]
    word = words.comparison(measure.better, measure.group, row["unit"])
    size = words.amount(abs(row["estimate"]), row["unit"])
    return f"{_in_test(measure)} your {row['lower_side']} side was {word} by {size}"


def _in_test(measure: Measure) -> str:
    kind = "training record" if measure.is_record else "test"
    return f"in the {kind} “{measure.short}”"


def _movement(row: Mapping[str, Any]) -> str:
    chance = row["chance_closing"]
    if chance is None:
        return "It was measured on one day."
    if chance >= 0.80:
        return f"It is getting smaller ({words.in_hundred(chance)})."
    if chance <= 0.20:
        return (
            f"It moved from {words.amount(abs(row['first_estimate']), row['unit'])} to "
            f"{words.amount(abs(row['estimate']), row['unit'])}; the chance that this is noise is "
            f"{words.in_hundred(chance)}."
        )
    return "It has not clearly changed since your first test."


def _findings(
    ranked: pl.DataFrame, measures: Mapping[str, Measure], retest_chance: float
) -> list[str]:
    lines = []
    for row in ranked.filter(pl.col("chance_over_line") >= retest_chance).iter_rows(named=True):
        measure = measures[row["measure"]]
        line = words.amount(row["review_line"], row["unit"])
        chance = row["chance_over_line"]
        lines.append(
            f"{balance.sentence(row, measure)} The chance that this is truly more than {line} is "
            f"{words.in_hundred(chance)}: {words.chance_word(chance)}."
        )
    return lines[:4]


def _trends(
    ranked: pl.DataFrame, history: Mapping[str, pl.DataFrame], measures: Mapping[str, Measure]
) -> list[Trend]:
    repeated = ranked.filter(pl.col("session_count") >= 2)
    return [
        _trend(measures[row["measure"]], row, history[row["measure"]])
        for row in repeated.iter_rows(named=True)
    ]


def _trend(measure: Measure, row: Mapping[str, Any], days: pl.DataFrame) -> Trend:
    columns = {
        name: shown(days[name].to_numpy(), measure.formula)
        for name in ("d", "smooth", "smooth_low", "smooth_high")
    }
    points = tuple(
        TrendPoint(on, *(float(columns[name][n]) for name in columns))
        for n, on in enumerate(days["tested_on"])
    )
    unit = words.UNIT_NAMES.get(row["unit"], row["unit"]) or "ratio"
    line = row["review_line"] if row["lead"] == 0 else None
    return Trend(measure.short, unit, points, line)


def _trends_alt(trends: list[Trend]) -> str:
    parts = [
        f"{trend.title}: from {_pointed(trend, 0)} on {words.short_day(trend.points[0].on)} to "
        f"{_pointed(trend, -1)} on {words.short_day(trend.points[-1].on)}, "
        f"{len(trend.points)} test days"
        for trend in trends
    ]
    return "Differences over time. " + "; ".join(parts) + "."


def _pointed(trend: Trend, place: int) -> str:
    value = trend.points[place].smooth
    side = "right" if value >= 0 else "left"
    return f"{side} higher by {words.amount(abs(value), trend.unit)}"


def _trend_notes(
    ranked: pl.DataFrame, trends: list[Trend], measures: Mapping[str, Measure]
) -> list[str]:
    shorts = {trend.title for trend in trends}
    notes = []
    for row in ranked.head(SHOWN_TRENDS).iter_rows(named=True):
        measure = measures[row["measure"]]
        if measure.short in shorts and row["chance_closing"] is not None:
            notes.append(f"{measure.short}: {words.closing(row['chance_closing'])}")
    changed = [note for note in notes if not note.endswith(words.closing(0.5))]
    return changed or (["No clear change in these tests so far."] if notes else [])


def _side_lines(
    ranked: pl.DataFrame, side_values: pl.DataFrame, measures: Mapping[str, Measure]
) -> list[SideLine]:
    lines = []
    for row in ranked.head(SHOWN_SIDES).iter_rows(named=True):
        measure = measures[row["measure"]]
        values = side_values.filter(pl.col("measure") == measure.id).sort("tested_on")
        texts = {}
        for side in ("left", "right"):
            means = values.filter(pl.col("side") == side)["mean_value"].to_list()
            first, last = words.level(means[0], measure.unit), words.level(means[-1], measure.unit)
            texts[side] = last if len(means) == 1 else f"{first} → {last}"
        lines.append(
            SideLine(measure.short, texts["left"], texts["right"],
                     words.UNIT_NAMES.get(measure.unit, measure.unit) or "ratio")
        )  # fmt: skip
    return lines


def _work(who: str, block: Block, week: Week) -> list[str]:
    mine = pl.col("athlete_id") == who
    return work_lines(
        week.habits.filter(mine),
        list(week.outcomes.filter(mine).iter_rows(named=True)),
        list(week.log_loads.filter(mine & pl.col("is_by_design")).iter_rows(named=True)),
        block,
        week.catalogue.measures,
        Doses(week.catalogue.rules.plan, week.settings.plan),
        week.as_of,
    )
