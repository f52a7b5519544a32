"""The numbers of one finding: sessions, error and prior, verdict."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.review.differences.sureness import spoken
from schemas.vocabulary import Formula

RULES = {
    Formula.PCT_OF_BEST: (
        "d = ln(right/left); shown as 100·(1 − e^−|d|), percent of the better side"
    ),
    Formula.BILATERAL_INDEX: (
        "d = ln(right/left); shown as 100·tanh(d/2), percent of both sides together"
    ),
    Formula.ABS_DIFF: "d = right − left, in the measure's own unit",
    Formula.WITHIN_LIMB_RATIO: "d = right ratio − left ratio",
}


def figure_lines(
    finding: Mapping[str, Any], days: pl.DataFrame, errors: Mapping[str, Any], measure: Measure
) -> list[str]:
    """Every number behind a row of `mart_findings`; `errors` is its squad's and measure's row."""
    return [
        *_session_lines(days),
        *_error_lines(errors, finding),
        *_verdict_lines(finding, measure),
    ]


def _session_lines(days: pl.DataFrame) -> list[str]:
    lines = [
        "Sessions: d = mean score right − mean score left, its standard error, and what was "
        "known that day:"
    ]
    for row in days.filter(pl.col("d").is_not_null()).sort("tested_on").iter_rows(named=True):
        odd = "  check this test: far outside the forecast" if row["is_odd"] else ""
        lines.append(
            f"  {row['tested_on']}  d {row['d']:+.4f} ± {row['se']:.4f}  estimate "
            f"{row['estimate']:+.4f} ({row['low']:+.4f} to {row['high']:+.4f})  chance over the "
            f"line {row['chance_over_line']:.3f}{odd}"
        )
    return [*lines, ""]


def _error_lines(error: Mapping[str, Any], finding: Mapping[str, Any]) -> list[str]:
    return [
        "Error and prior of this measure in this squad:",
        f"  within-day error of one trial      {error['within_sd']:.4f} "
        f"({error['within_df']:.0f} degrees of freedom)",
        f"  day-to-day error of d              {error['day_sd']:.4f}",
        f"  drift of d in a week, were it one  {error['drift_sd_week']:.4f}",
        f"  how often people start to change   {error['pace']:.2f} of what is usual",
        f"  usual spread between athletes      {error['spread_sd']:.4f}",
        f"  expected d of this athlete         {finding['lead_d']:+.4f}",
        f"  typical error of one session       {finding['typical_error_d']:.4f}",
        f"  change beyond error (95 %)         {finding['mdc95_d']:.4f} = 1.96·√2·typical error",
        "",
    ]


def _verdict_lines(finding: Mapping[str, Any], measure: Measure) -> list[str]:
    unit = finding["unit"]
    closing, since = finding["chance_closing"], finding["reference_on"]
    disagree = finding["recent_disagree"]
    return [
        f"Formula: {RULES[measure.formula]}; positive = right side better",
        f"  latest session alone   {finding['observed']:+.2f} {unit} "
        f"(d {finding['observed_d']:+.4f})",
        f"  estimate today         {finding['estimate']:+.2f} {unit} "
        f"(d {finding['estimate_d']:+.4f}), 90 % interval {finding['low90']:+.2f} to "
        f"{finding['high90']:+.2f}",
        f"  review line            {finding['review_line']:.2f} {unit} (d {finding['line_d']:.4f})",
        f"  chance over the line   {finding['chance_over_line']:.3f}",
        "  chance of closing      "
        + ("one session" if closing is None else f"{closing:.3f}, since {since}"),
        f"  p of the latest session {finding['p_value']:.4f} against no difference beyond the "
        f"lead; {finding['p_adjusted']:.4f} over all findings of the squad (Benjamini-Hochberg)",
        f"  days with this side    {finding['same_side_days']} of {finding['session_count']}",
        f"Verdict: {finding['verdict']}. {balance.sentence(finding, measure)} "
        f"{words.sureness(finding['sureness'], spoken(finding['chance_over_line'], disagree))}",
        *(["The last tests and the estimate do not agree."] if disagree else []),
    ]
