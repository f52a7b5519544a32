"""What would make it surer where there is one test day, or none: trials, a day, a first test."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report.text import words
from pipeline.report.text.phrases import say
from pipeline.review.week import Week
from pipeline.scales import slope
from schemas.vocabulary import Verdict

ONE_DAY = pl.col("verdict") == Verdict.ONE_SESSION


def surer(found: pl.DataFrame, squad: str, week: Week) -> str:
    """Of the test that looks largest after its only day, what trials and a day would bring.

    Empty where some test has had a second day. `found` holds one athlete's findings, the surest
    first.
    """
    own = found.filter(ONE_DAY & ~pl.col("is_accepted"))
    if own.is_empty() or own.height < found.height:
        return ""
    row = own.row(0, named=True)
    kept = week.estimates.reliability.filter(
        (pl.col("squad") == squad) & (pl.col("measure") == row["measure"])
    )
    if kept.is_empty():
        return ""
    measure = week.catalogue.measures[row["measure"]]
    told = errors(kept.row(0, named=True), measure)
    if told["now"] == told["better"]:  # what more trials would bring is less than is shown
        return say("athlete.next.surer_by_day", measure=measure.short)
    return say("athlete.next.surer", measure=measure.short, **told)


def errors(kept: Mapping[str, Any], measure: Measure) -> dict[str, str]:
    """The typical error of a day as it is, and with two more trials a side: `now` and `better`.

    `kept` is a row of the reliabilities.
    """
    unit, by = measure.difference_unit, slope(measure.formula)
    return {
        "now": words.amount(by * kept["typical_error"], unit),
        "better": words.amount(by * kept["typical_error_more_trials"], unit),
    }
