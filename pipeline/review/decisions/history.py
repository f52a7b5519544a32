"""Who decided what when, and what came of it: every decision of every meeting."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import polars as pl

from pipeline.review.decisions.standing import Run, Standing
from pipeline.review.decisions.states import Days
from schemas.vocabulary import Asked, Became, Decision

HISTORY: dict[str, Any] = {
    "flag_id": pl.String,
    "athlete_id": pl.String,
    "topic": pl.String,  # measure, exercise, sign or part of the body
    "family": pl.String,
    "place": pl.Int64,  # among the decisions about this flag, from 1
    "decision": pl.String,
    "said": pl.String,
    "owner": pl.String,
    "decided_on": pl.Date,
    "review_on": pl.Date,
    "note": pl.String,
    "listed_on": pl.Date,  # the latest list that says so
    "became": pl.String,  # `Became`
    "ended_on": pl.Date,
}
ASKED: dict[str, Any] = {
    "flag_id": pl.String,
    "athlete_id": pl.String,
    "topic": pl.String,
    "family": pl.String,
    "asked": pl.String,  # of `Asked`
    "said": pl.String,
    "note": pl.String,
    "decision": pl.String,
    "review_said": pl.String,
    "source_file": pl.String,
    "source_sheet": pl.String,
    "source_line": pl.Int64,
}
CLOSED: dict[str, Any] = {
    "flag_id": pl.String,
    "athlete_id": pl.String,
    "measure": pl.String,
    "decided_on": pl.Date,
}


def history(
    told: Mapping[str, Standing],
    listed: pl.DataFrame,
    tested: Days,
) -> pl.DataFrame:
    """One row per decision, columns of `HISTORY`; `listed` are all flags of the week."""
    running = {one for one, is_on in listed.select("flag_id", "is_in_force").iter_rows() if is_on}
    rows = []
    for flag_id in sorted(told):
        one = told[flag_id]
        days = tested.get(one.athlete_id, {}).get(one.topic)
        for place, run in enumerate(one.runs, start=1):
            became, ended = _became(one, run, place, flag_id in running, days)
            rows.append(
                {
                    **{name: run.row[name] for name in ("said", "owner", "review_on", "note")},
                    "flag_id": flag_id,
                    "athlete_id": one.athlete_id,
                    "topic": one.topic,
                    "family": one.family,
                    "place": place,
                    "decision": run.decision,
                    "decided_on": run.began_on,
                    "listed_on": run.row["listed_on"],
                    "became": became,
                    "ended_on": ended,
                }
            )
    return pl.DataFrame(rows, schema=HISTORY)


def _became(
    told: Standing, run: Run, place: int, is_running: bool, tested: Sequence[date] | None
) -> tuple[Became, date | None]:
    first_test = next((day for day in tested or () if day > run.began_on), None)
    if run.decision == Decision.RETEST and first_test is not None:
        following = told.runs[place].began_on if place < len(told.runs) else None
        if following is None or first_test <= following:
            return Became.TESTED, first_test
    if place < len(told.runs):
        return Became.DECIDED_ANEW, told.runs[place].began_on
    if run is not told.force:
        return Became.NOT_STARTED, None
    return (Became.STANDS, None) if is_running else (Became.ENDED, None)


def questions(told: Mapping[str, Standing]) -> pl.DataFrame:
    """One row per thing that page 1 asks, columns of `ASKED`."""
    rows = []
    for flag_id in sorted(told):
        one = told[flag_id]
        rows += [
            {
                **{name: question.row[name] for name in
                   ("said", "note", "decision", "review_said", "source_file", "source_sheet",
                    "source_line")},
                "flag_id": flag_id,
                "athlete_id": one.athlete_id,
                "topic": one.topic,
                "family": one.family,
                "asked": question.asked,
            }
            for question in one.questions
        ]  # fmt: skip
    order = pl.col("asked").replace_strict(
        {str(one): place for place, one in enumerate(ORDER)}, return_dtype=pl.Int64
    )
    return pl.DataFrame(rows, schema=ASKED).sort(order, "flag_id", maintain_order=True)


# The most pressing first.
ORDER = (
    Asked.NOTE_DIFFERS, Asked.ON_REFER, Asked.WHO_CLEARED, Asked.UNREAD, Asked.NOTE_ALONE,
    Asked.DAY,
)  # fmt: skip


def closed(told: Mapping[str, Standing], listed: pl.DataFrame) -> pl.DataFrame:
    """One row per flag that was decided as done and that nothing has raised since."""
    raised = set(listed.filter("is_raised")["flag_id"])  # others are listed for a question alone
    rows = [
        (flag_id, one.athlete_id, one.topic, one.force.began_on)
        for flag_id, one in sorted(told.items())
        if one.force is not None and one.force.decision == Decision.DONE and flag_id not in raised
    ]
    return pl.DataFrame(rows, CLOSED, orient="row")
