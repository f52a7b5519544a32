"""How much of a block was done, as far as the log tells.

What is not logged is not known: only the weeks count in which anything of the athlete was logged,
and where there are none, nothing is said of what was done.
"""

from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue, Doses
from pipeline.programme.draft import Brief
from pipeline.programme.log import Log, read_logs
from pipeline.programme.making import programme
from pipeline.programme.step import Programme
from pipeline.programme.who import Who
from pipeline.review.training.begun_blocks import Start
from pipeline.settings import Settings
from schemas.plan_words import LogState, StepPart
from schemas.vocabulary import WorkedSide

DONE_PARTS = (
    StepPart.JUMPS,
    StepPart.ONE_SIDE,
    StepPart.ISOLATION,
)  # work of a plan that a log holds


def adherence(
    start: Start,
    lower: str,
    sets: pl.DataFrame,
    who: Who,
    book: Catalogue,
    settings: Settings,
    as_of: date,
) -> dict[str, Any]:
    """Planned and done sessions and extras of the lower side, up to now or the block's end.

    `sets` holds the athlete's rows of `stg_sets`. A session is done with any exercise of the plan
    by the lower side, an extra with more repetitions of it than by the other. `log_state` says
    whether the log can tell; where it cannot, what was done is null. The share done is that of the
    sessions: equal work with the lower side first is most of a plan.
    """
    until = min(start.ends_on, as_of)
    since = sets.filter((pl.col("trained_on") > start.started_on) & (pl.col("trained_on") <= until))
    plan = suggested(start, lower, sets, who, book, settings)
    exercises = _of_plan(plan, book)
    per_week = sum(
        any(step.exercise in exercises for step in session.steps) for session in plan.sessions
    )
    told: dict[str, Any] = {
        "weeks_in": (as_of - start.started_on).days / 7,
        "log_state": LogState.NOT_FOR_A_LOG,
    }
    if per_week == 0 or book.coaching.group_of(start.measure, book.exercises).mobility:
        return told
    days = (until - start.started_on).days
    logged = _logged_weeks(since, start.started_on, until)
    if not logged:
        return told | {
            "log_state": LogState.NO_LOG,
            "planned_sessions": per_week * days / 7,
            "planned_extras": sum(
                _extras(plan, week) for week in range(min(plan.weeks, -(-days // 7)))
            ),
        }
    weeks = sum(logged.values())
    worked = _more_of_the_lower(since, exercises, lower)
    extras = sum(share * _extras(plan, week) for week, share in logged.items())
    sessions = per_week * weeks
    done, more = worked.height, worked.filter(pl.col("more_reps") > 0).height
    return told | {
        "log_state": LogState.COUNTED,
        "logged_weeks": weeks,
        "planned_sessions": sessions,
        "done_sessions": done,
        "planned_extras": extras,
        "done_extras": more,
        "adherence": min(1.0, done / sessions),
        "extra_sets_per_week": float(worked["more_sets"].sum()) / max(weeks, 1.0),
    }


def _of_plan(plan: Programme, book: Catalogue) -> set[str]:
    """Exercises of a plan that a log names, those of later weeks, too."""
    steps = [step for step in plan.steps if step.part in DONE_PARTS]
    later = {step.later[1] for step in steps if step.later is not None}
    return ({step.exercise for step in steps} | later) & book.exercises.keys()


def _extras(plan: Programme, week: int) -> int:
    """Sessions with an extra in a week, counted from 0."""
    return sum(
        step.part == StepPart.EXTRA and step.weeks[min(week, plan.weeks - 1)] is not None
        for step in plan.steps
    )


def _logged_weeks(since: pl.DataFrame, started_on: date, until: date) -> dict[int, float]:
    """Weeks of the block with anything in the log and how long each was: the last may be short."""
    day = (pl.col("trained_on") - pl.lit(started_on)).dt.total_days()
    weeks = since.select(((day - 1) // 7).unique().sort()).to_series().to_list()
    days = (until - started_on).days
    return {int(week): min(7, days - 7 * week) / 7 for week in weeks}


def _more_of_the_lower(since: pl.DataFrame, exercises: set[str], lower: str) -> pl.DataFrame:
    """One row per day on which the lower side did exercises of the plan: what it did more."""
    is_lower = pl.col("side") == lower
    sign = 2 * is_lower.cast(pl.Int64) - 1
    return (
        since.filter(
            (pl.col("side") != WorkedSide.BOTH) & pl.col("exercise").is_in(sorted(exercises))
        )
        .group_by("trained_on", "exercise")
        .agg(
            sign.sum().alias("more_sets"),
            (sign * pl.col("reps")).sum().alias("more_reps"),
            is_lower.any().alias("is_done"),
        )
        .filter("is_done")
        .group_by("trained_on")
        .agg(pl.col("more_sets").clip(0).sum(), pl.col("more_reps").clip(0).sum())
        .sort("trained_on")
    )


def suggested(
    start: Start, lower: str, sets: pl.DataFrame, who: Who, book: Catalogue, settings: Settings
) -> Programme:
    """The plan as the data up to its beginning suggest it; `sets` holds one athlete's rows."""
    doses = Doses(book.rules.plan, settings.plan)
    logs = read_logs(sets, start.started_on, book, doses)
    brief = Brief(
        measure=start.measure,
        group=book.coaching.group_of(start.measure, book.exercises),
        lower=lower,
        log=logs.get(start.athlete_id, Log()),
        who=who,
        book=book,
        rules=doses,
        weeks=int(doses("length", "weeks")),
        even_share=settings.review.training_share,
    )
    return programme(brief, start.started_on)
