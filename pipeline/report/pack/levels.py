"""Each side's own values of one test, as a card shows them, and the work of each side."""

from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report.charts.rows import Levels
from pipeline.report.text import words
from pipeline.report.text.phrases import say
from pipeline.review.week import Week
from schemas.catalogue_words import Better
from schemas.vocabulary import Side, WorkedSide

SHOWN_DAYS, WEEKS = 12, 4
SIDES = (Side.LEFT, Side.RIGHT)


def levels_of(who: str, measure: Measure, week: Week) -> Levels | None:
    """The values of both sides; None where one side was never tested."""
    own = week.side_values.filter(
        (pl.col("athlete_id") == who) & (pl.col("measure") == measure.id)
    ).sort("tested_on")
    shown = own["tested_on"].unique().sort().tail(SHOWN_DAYS)
    own = own.filter(pl.col("tested_on").is_in(shown.implode()))
    values = {
        side: tuple(
            own.filter(pl.col("side") == side).select("tested_on", "mean_value").iter_rows()
        )
        for side in SIDES
    }
    if not all(values.values()):
        return None
    largest = max(value for part in values.values() for _, value in part)
    smallest = min(value for part in values.values() for _, value in part)
    earlier = _earlier(who, measure, week)
    if earlier is not None:
        largest, smallest = max(largest, *earlier), min(smallest, *earlier)
    unit = words.unit_name(measure.unit)

    def level(value: float) -> str:
        return words.level(value, measure.unit, largest)

    latest = [
        say("cards.levels.latest", side=words.side_name(side), value=level(values[side][-1][1]))
        for side in SIDES
    ]
    days = tuple(words.short_day(day, week.as_of) for day in (shown[0], shown[-1]))
    told = {
        side: say("cards.levels.course", side=words.side_name(side),
                  first=level(values[side][0][1]), last=level(values[side][-1][1]))
        for side in SIDES
    }  # fmt: skip
    weeks = _weeks(who, measure, week)
    described = [say("cards.levels.described", measure=measure.short, unit=unit,
                     first=days[0], last=days[1], **told)]  # fmt: skip
    if weeks:
        amounts = words.listed(
            [say("cards.levels.week", day=day, left=f"{left:.0f}", right=f"{right:.0f}")
             for day, left, right in weeks]
        )  # fmt: skip
        described.append(say("cards.levels.weeks", weeks=amounts))
    return Levels(
        title=say("cards.levels.title", measure=measure.short, unit=unit),
        described=" ".join(described),
        left=_fit(values[Side.LEFT]),
        right=_fit(values[Side.RIGHT]),
        said=(latest[0], latest[1]),
        ends=(level(largest), level(smallest)),
        days=(days[0], days[1]),
        earlier=earlier,
        earlier_said=say("cards.levels.earlier") if earlier is not None else "",
        weeks=weeks,
    )


def _fit(values: tuple[tuple[date, float], ...]) -> tuple[tuple[date, float], ...]:
    return tuple((day, float(f"{value:.4g}")) for day, value in values)


def _earlier(who: str, measure: Measure, week: Week) -> tuple[float, float] | None:
    """What each side did before the date in the roster, in the measure's unit."""
    own = week.own_levels.filter((pl.col("athlete_id") == who) & (pl.col("measure") == measure.id))
    if own.is_empty():
        return None
    values = []
    for side in SIDES:
        latest = week.side_values.filter(
            (pl.col("athlete_id") == who) & (pl.col("measure") == measure.id)
            & (pl.col("side") == side) & (pl.col("pain").fill_null(0) == 0)
        ).sort("tested_on")["mean_value"][-1]  # fmt: skip
        share = own[f"{side}_share"][0] / 100
        was = latest * share if measure.better == Better.LOWER else latest / share
        values.append(float(f"{was:.4g}"))
    return values[0], values[1]


def _weeks(who: str, measure: Measure, week: Week) -> tuple[tuple[str, float, float], ...]:
    """Repetitions of each side in one-sided work of that part of the body, week by week.

    Blank where nothing was logged in those weeks: that says nothing about what was done.
    """
    begin = week.as_of - timedelta(days=7 * WEEKS - 1)
    own = week.sets.filter(
        (pl.col("athlete_id") == who) & (pl.col("part") == measure.region)
        & (pl.col("side") != WorkedSide.BOTH) & pl.col("trained_on").is_between(begin, week.as_of)
    )  # fmt: skip
    if own.is_empty():
        return ()
    weeks = []
    for number in range(WEEKS):
        first = begin + timedelta(days=7 * number)
        part = own.filter(pl.col("trained_on").is_between(first, first + timedelta(days=6)))
        left, right = (float(part.filter(pl.col("side") == side)["reps"].sum()) for side in SIDES)
        weeks.append((words.short_day(first, week.as_of), left, right))
    return tuple(weeks)
