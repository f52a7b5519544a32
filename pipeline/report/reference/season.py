"""The season so far: the list month by month, what blocks did, how the tests held."""

from collections.abc import Iterator
from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report.charts.rows import SidesRow
from pipeline.report.page_models import Table
from pipeline.report.reference.pages import Season
from pipeline.report.text import words
from pipeline.report.text.phrases import say, titles
from pipeline.review.differences.movement import JUDGED
from pipeline.review.week import Week, compared_days
from pipeline.scales import slope
from schemas.plan_words import BlockVerdict

SHOWN_MONTHS = 12
LEAST_FREEDOM = 12  # degrees of freedom of each half, below which its error is left out
LEAST_TESTED = 6  # athletes tested twice, below which a test is not judged
SURE = 0.05  # chance of a ratio of errors that large where nothing has changed


def season_of(squad: str, week: Week) -> Season:
    """How the list and the tests of a squad went."""
    return Season(
        months=tuple(_months(squad, week)),
        blocks=_blocks(squad, week),
        errors=_errors(squad, week),
        idle=tuple(_idle(squad, week)),
    )


def _months(squad: str, week: Week) -> Iterator[SidesRow]:
    """Differences that came over the chance that lists them, and that fell below it, by month.

    As known on each day, so that a month does not change when later tests arrive.
    """
    point = ["athlete_id", "measure"]
    is_over = pl.col("chance_over_line") >= week.settings.review.retest_chance
    days = (
        compared_days(week)
        .filter(pl.col("squad") == squad)
        .sort(*point, "tested_on")
        .with_columns(is_over.fill_null(False).alias("is_over"))
        .with_columns(pl.col("is_over").shift(1, fill_value=False).over(point).alias("was_over"))
        .filter(pl.col("is_over") != pl.col("was_over"))
        .with_columns(pl.col("tested_on").dt.truncate("1mo").alias("month"))
    )
    if days.is_empty():
        return
    counted = days.group_by("month").agg(
        pl.col("is_over").sum().alias("opened"), pl.col("was_over").sum().alias("closed")
    )
    first: Any = days["month"].min()
    months = pl.DataFrame(
        {"month": pl.date_range(first, week.as_of.replace(day=1), "1mo", eager=True)}
    )
    told = months.join(counted, on="month", how="left").fill_null(0).sort("month")
    told = told.with_columns((pl.col("opened") - pl.col("closed")).cum_sum().alias("listed"))
    for month, opened, closed, listed in told.tail(SHOWN_MONTHS).iter_rows():
        yield SidesRow(
            _month(month, week.as_of),
            say("season.month", opened=opened, closed=closed, listed=listed),
            is_flagged=False,
            left=float(closed),
            right=float(opened),
        )


def _month(first: date, as_of: date) -> str:
    name = words.month(first.month)
    return name if first.year == as_of.year else f"{name} {first.year}"


def _blocks(squad: str, week: Week) -> str:
    own = week.outcomes.filter(pl.col("squad") == squad)
    judged = own.filter(pl.col("verdict").is_in(JUDGED))
    if judged.is_empty():
        return say("season.no_blocks")
    counts = {verdict: judged.filter(verdict=verdict).height
              for verdict in JUDGED}  # fmt: skip
    return say(
        "season.blocks",
        blocks=say("count.block", count=judged.height),
        smaller=counts[BlockVerdict.SMALLER] or say("pack.none"),
        same=counts[BlockVerdict.NO_CHANGE] or say("pack.none"),
        larger=counts[BlockVerdict.LARGER] or say("pack.none"),
    )


def _errors(squad: str, week: Week) -> Table:
    """Error of one trial in the first and in the second half of the season, where both can tell."""
    own = week.side_values.filter(
        (pl.col("squad") == squad)
        & (pl.col("trial_count") > 1)
        & pl.col("score_variance").is_not_null()
    )
    rows = []
    for key, part in own.sort("measure", "tested_on").partition_by(
        "measure", as_dict=True, maintain_order=True
    ).items():  # fmt: skip
        measure = week.catalogue.measures[str(key[0])]
        first: Any = part["tested_on"].min()
        last: Any = part["tested_on"].max()
        middle = first + (last - first) / 2
        early, late = (
            _pooled(half)
            for half in (part.filter(pl.col("tested_on") <= middle),
                         part.filter(pl.col("tested_on") > middle))
        )  # fmt: skip
        if early is None or late is None:
            continue
        rows.append(
            (measure.short, _error(early[0], measure), _error(late[0], measure), _told(early, late))
        )
    return Table(titles("season.errors.head"), tuple(rows), (1, 2))


def _pooled(part: pl.DataFrame) -> tuple[float, int] | None:
    """Variance of a trial within a day and side, and its degrees of freedom."""
    free = part["trial_count"] - 1
    freedom = int(free.sum())
    if freedom < LEAST_FREEDOM:
        return None
    return float((part["score_variance"] * free).sum()) / freedom, freedom


def _error(variance: float, measure: Measure) -> str:
    size = slope(measure.formula) * variance**0.5
    return words.amount(size, measure.difference_unit)


def _told(early: tuple[float, int], late: tuple[float, int]) -> str:
    """Whether the error has changed, by the ratio of both variances (F test, two-sided)."""
    from scipy.special import fdtrc

    if not early[0] or not late[0]:
        return say("season.errors.same")
    (large, of), (small, by) = (late, early) if late[0] > early[0] else (early, late)
    if 2 * fdtrc(of, by, large / small) >= SURE:
        return say("season.errors.same")
    return say("season.errors.larger" if late[0] > early[0] else "season.errors.smaller")


def _idle(squad: str, week: Week) -> Iterator[str]:
    """Tests that cannot see a difference as large as their line, even with more trials."""
    lines = week.findings.filter(pl.col("squad") == squad).group_by("measure").agg(
        pl.col("review_line").first()
    )  # fmt: skip
    own = week.estimates.reliability.filter(
        (pl.col("squad") == squad) & (pl.col("retested_count") >= LEAST_TESTED)
    ).join(lines, on="measure")
    for row in own.sort("measure").iter_rows(named=True):
        measure = week.catalogue.measures[row["measure"]]
        blur = slope(measure.formula) * row["mdc95_more_trials"] / 2**0.5
        if blur > row["review_line"]:
            yield say(
                "season.idle.test",
                measure=measure.short,
                blur=words.amount(blur, measure.difference_unit),
                line=words.amount(row["review_line"], measure.difference_unit),
            )
