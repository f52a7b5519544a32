"""Athletes made up for plans: a log of so many weeks, a brief of a test, and what it becomes."""

from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Doses, full_catalogue
from pipeline.programme.draft import Brief
from pipeline.programme.log import Log, read_logs
from pipeline.programme.making import programme
from pipeline.programme.step import Programme
from pipeline.programme.who import Who
from pipeline.settings import Settings

AS_OF = date(2026, 11, 20)  # a Friday
BOOK = full_catalogue()
RULES = Doses(BOOK.rules.plan)
ADULT = Who(date(1998, 5, 4), AS_OF)
SCHEMA = {
    "athlete_id": pl.String, "trained_on": pl.Date, "week_on": pl.Date, "exercise": pl.String,
    "side": pl.String, "reps": pl.Float64, "load_kg": pl.Float64, "rir": pl.Float64,
    "pain": pl.Float64,
}  # fmt: skip


def sets_of(
    exercise: str,
    weekdays: tuple[int, ...],
    left: int = 3,
    right: int = 3,
    both: int = 0,
    reps: float = 8.0,
    load: float | None = 20.0,
    weeks: int = 12,
    **more: Any,
) -> list[dict[str, Any]]:
    """So many sets of each side on these weekdays of each week before the as-of date."""
    rows = []
    for back in range(weeks):
        for weekday in weekdays:
            day = AS_OF - timedelta(days=7 * back + (AS_OF.weekday() - weekday) % 7)
            for side, count in (("left", left), ("right", right), ("both", both)):
                rows += [
                    {
                        "athlete_id": "A1",
                        "trained_on": day,
                        "week_on": day - timedelta(days=day.weekday()),
                        "exercise": exercise,
                        "side": side,
                        "reps": reps,
                        "load_kg": load,
                        **more,
                    }
                ] * count
    return rows


def pairs_of(exercise: str, weekdays: tuple[int, ...], sets: int = 4, **more: Any) -> Any:
    """The same of a lift with both sides."""
    return sets_of(exercise, weekdays, 0, 0, sets, **{"reps": 6.0, "load": 80.0, **more})


def log_of(*parts: list[dict[str, Any]]) -> Log:
    rows = [row for part in parts for row in part]
    frame = pl.DataFrame(rows, schema=SCHEMA)
    return read_logs(frame, AS_OF, BOOK, RULES).get("A1", Log())


def plan_of(
    measure: str, log: Log, lower: str = "left", who: Who = ADULT, tested: float | None = None,
    **more: Any,
) -> tuple[Brief, Programme]:  # fmt: skip
    test = BOOK.measures[measure]
    brief = Brief(
        measure=test,
        group=BOOK.coaching.group_of(test, BOOK.exercises),
        lower=lower,
        log=log,
        who=who,
        book=BOOK,
        rules=RULES,
        weeks=6,
        even_share=Settings().review.training_share,
        tested=tested,
        **more,
    )
    return brief, programme(brief, AS_OF)
