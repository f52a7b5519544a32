"""How differences went from test day to test day: the curves, and the words beside them."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report.charts.rows import Trend, TrendPoint
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.report.text.phrases import say
from pipeline.scales import shown
from schemas.vocabulary import Movement, Sureness


def trends_of(
    ranked: pl.DataFrame,
    history: Mapping[str, pl.DataFrame],
    measures: Mapping[str, Measure],
    as_of: date,
) -> list[Trend]:
    """The curve of each finding that was measured on more than one day; `history` by measure."""
    repeated = ranked.filter(pl.col("session_count") >= 2)
    return [
        _trend(measures[row["measure"]], row, history[row["measure"]], as_of)
        for row in repeated.iter_rows(named=True)
    ]


def _trend(measure: Measure, row: Mapping[str, Any], days: pl.DataFrame, as_of: date) -> Trend:
    columns = {
        name: shown(days[name].to_numpy(), measure.formula)
        for name in ("d", "smooth", "smooth_low", "smooth_high")
    }
    points = tuple(
        TrendPoint(on, *(float(columns[name][n]) for name in columns))
        for n, on in enumerate(days["tested_on"])
    )
    unit = row["unit"]
    described = say(
        "athlete.trends.described",
        measure=measure.short,
        first=_pointed(points[0], unit, measure),
        first_day=words.short_day(points[0].on, as_of),
        latest=_pointed(points[-1], unit, measure),
        latest_day=words.short_day(points[-1].on, as_of),
        number=len(points),
    )
    line = row["review_line"] if row["lead"] == 0 else None
    return Trend(measure.short, described, unit, points, line)


def _pointed(point: TrendPoint, unit: str, measure: Measure) -> str:
    if words.is_zero(point.smooth, unit):
        return say("athlete.trends.even")
    side = words.side_name("right" if point.smooth >= 0 else "left")
    size = words.amount(abs(point.smooth), unit)
    is_size = balance.is_size(measure)
    return say(
        "athlete.trends.larger" if is_size else "athlete.trends.ahead", side=side, amount=size
    )


def trend_notes(
    ranked: pl.DataFrame, trends: list[Trend], measures: Mapping[str, Measure], as_of: date
) -> list[str]:
    """What has moved since when, and what clearly has not.

    What is within usual is not told to be widening: that would be chasing noise.
    """
    shorts = {trend.title for trend in trends}
    changed, unchanged = [], []
    for row in ranked.iter_rows(named=True):
        short, day = measures[row["measure"]].short, words.short_day(row["reference_on"], as_of)
        if short not in shorts or row["moved"] in (Movement.ONE_DAY, Movement.UNTESTED):
            continue
        if row["moved"] == Movement.UNCHANGED:
            unchanged.append(say("athlete.trends.since", measure=short, day=day))
        elif row["moved"] == Movement.SMALLER or row["sureness"] != Sureness.NOT_SHOWN:
            moved = words.moved(row["moved"], row["moved_chance"])
            changed.append(say("athlete.trends.note", measure=short, day=day, moved=moved))
    if unchanged:
        changed.append(say("athlete.trends.unchanged", measures=words.listed(unchanged)))
    return changed
