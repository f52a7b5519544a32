"""How much of a block was done, as far as the log tells.

What is not logged is not known: only the weeks count in which anything of the athlete was logged,
and where there are none, nothing is said of what was done.
"""

from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.review.begun import Start
from pipeline.review.exercises import MOBILITY_GROUPS
from pipeline.review.session import Session, fits, training_session
from pipeline.review.usual import usual_work


def adherence(
    start: Start, lower: str, sets: pl.DataFrame, book: Catalogue, doses: Doses, as_of: date
) -> dict[str, Any]:
    """Planned and done sessions with extra work of the lower side, up to now or the block's end.

    `sets` holds the athlete's rows of `stg_sets`. `log_state` says whether they can tell; where
    they cannot, `done_sessions` and what is worked out from it are null.
    """
    until = min(start.ends_on, as_of)
    since = sets.filter((pl.col("trained_on") > start.started_on) & (pl.col("trained_on") <= until))
    plan = suggested(start.measure, lower, sets, start.started_on, book, doses)
    fresh = [step.per_week for step in plan.steps if step.is_new]
    share = sum(reps > 0 for reps in plan.extra) / len(plan.extra)
    per_week = fresh[0] if fresh else plan.extra_per_week * share
    told: dict[str, Any] = {
        "weeks_in": (as_of - start.started_on).days / 7,
        "log_state": "not_for_a_log",
    }
    if per_week == 0 or start.measure.group in MOBILITY_GROUPS:
        return told
    weeks = _logged_weeks(since, start.started_on, until)
    if weeks == 0:
        days = (until - start.started_on).days
        return told | {"log_state": "no_log", "planned_sessions": per_week * days / 7}
    worked = _more_of_the_lower(since, start.measure, lower, book)
    # What was planned is the new exercise itself, else the sets the lower side does more.
    done = worked.height if fresh else worked.filter(pl.col("more") > 0).height
    return told | {
        "log_state": "counted",
        "logged_weeks": weeks,
        "planned_sessions": per_week * weeks,
        "done_sessions": done,
        "adherence": min(1.0, done / (per_week * weeks)),
        "extra_sets_per_week": float(worked["more"].sum()) / max(weeks, 1.0),
    }


def _logged_weeks(since: pl.DataFrame, started_on: date, until: date) -> float:
    """Weeks of the block with anything in the log, the last one as long as it has lasted."""
    day = (pl.col("trained_on") - pl.lit(started_on)).dt.total_days()
    weeks = since.select(((day - 1) // 7).unique()).to_series().to_list()
    days = (until - started_on).days
    return sum(min(7, days - 7 * week) for week in weeks) / 7


def _more_of_the_lower(
    since: pl.DataFrame, measure: Measure, lower: str, book: Catalogue
) -> pl.DataFrame:
    """One row per day with one-sided work that trains the measure: sets the lower side did more."""
    fitting = [e.id for e in book.exercises.values() if fits(measure, e) is not None]
    is_lower = (pl.col("side") == lower).cast(pl.Int64)
    return (
        since.filter((pl.col("side") != "both") & pl.col("exercise").is_in(fitting))
        .group_by("trained_on", "exercise")
        .agg((2 * is_lower - 1).sum().alias("more"))
        .group_by("trained_on")
        .agg(pl.col("more").clip(0).sum())
    )


def suggested(
    measure: Measure, lower: str, sets: pl.DataFrame, on: date, book: Catalogue, doses: Doses
) -> Session:
    """The session as the data up to a day suggest it; `sets` holds one athlete's rows."""
    usual = usual_work(sets, on).iter_rows(named=True)
    return training_session(measure, lower, list(usual), book, doses)
