"""How one figure came about, from the lines of the files to the verdict."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.catalogue import Measure, full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.report import balance, words
from pipeline.warehouse import Warehouse

RULES = {
    "pct_of_best": "d = ln(right/left); shown as 100·(1 − e^−|d|), percent of the better side",
    "bilateral_index": "d = ln(right/left); shown as 100·tanh(d/2), percent of both sides together",
    "abs_diff": "d = right − left, in the measure's own unit",
    "within_limb_ratio": "d = right ratio − left ratio",
}


def print_explanation(reports: Path, athlete_id: str, measure_id: str) -> None:
    """Print every number behind one athlete's finding in one measure.

    Raises SquadsidesError where the reports, the athlete or the measure are not there.
    """
    file = reports / "warehouse.duckdb"
    if not file.is_file():
        raise SquadsidesError(f"{reports} holds no warehouse.duckdb; build the reports first.")
    with Warehouse(file, read_only=True) as warehouse:
        tables = {
            name: warehouse.fetch(name)
            for name in (
                "stg_athletes", "stg_trials", "mart_findings", "mart_session_estimates",
                "mart_measure_errors",
            )
        }  # fmt: skip
    measure = _measure(measure_id)
    mine = {
        name: table.filter((pl.col("athlete_id") == athlete_id) & (pl.col("measure") == measure.id))
        for name, table in tables.items()
        if "measure" in table.columns and "athlete_id" in table.columns
    }
    if tables["stg_athletes"].filter(pl.col("athlete_id") == athlete_id).is_empty():
        raise SquadsidesError(f"{athlete_id} is not in the roster of these reports.")
    if mine["mart_findings"].is_empty():
        raise SquadsidesError(
            f"{athlete_id} has no {measure.short} on both sides in these reports. Measures tested: "
            + ", ".join(
                tables["mart_findings"].filter(pl.col("athlete_id") == athlete_id)["measure"].sort()
            )
            + "."
        )
    finding = mine["mart_findings"].row(0, named=True)
    errors = tables["mart_measure_errors"].filter(
        (pl.col("squad") == finding["squad"]) & (pl.col("measure") == measure.id)
    )
    lines = [
        f"{measure.name} ({measure.id}), {athlete_id}, {finding['squad']}",
        f"Side: {measure.side_means}. Keep in mind: {measure.caution}",
        "",
    ]
    lines += _trial_lines(mine["stg_trials"], measure)
    lines += _session_lines(mine["mart_session_estimates"])
    lines += _error_lines(errors.row(0, named=True), finding)
    lines += _verdict_lines(finding, measure)
    print("\n".join(lines).replace(words.NBSP, " "))


def _measure(text: str) -> Measure:
    book = full_catalogue()
    found = book.find_measure(text)
    if found is None:
        nearest = ", ".join(book.nearest_measures(text, 3))
        raise SquadsidesError(f"{text} is not a measure; nearest: {nearest}.")
    return book.measures[found]


def _trial_lines(trials: pl.DataFrame, measure: Measure) -> list[str]:
    lines = [f"Trials ({measure.unit}), and the score of each on the scale of the estimate:"]
    for row in trials.sort("tested_on", "side", "trial").iter_rows(named=True):
        sheet = f" [{row['source_sheet']}]" if row["source_sheet"] else ""
        place = f"{row['source_file']}{sheet}, line {row['source_line']}"
        marks = [
            text
            for holds, text in (
                (row["is_derived"], "computed from its parts"),
                (row["held"], "held out: whole-file doubt"),
                (row["value"] is None, "no value: only its pain and note count"),
                (row["value"] == 0 and row["score"] is None, "no score: zero has no logarithm"),
                (row["score"] is not None and not row["shapes"], "scored, but shapes nothing"),
                ((row["pain"] or 0) > 0, f"pain {row['pain'] or 0:g}"),
            )
            if holds
        ]
        score = "" if row["score"] is None else f"{row['score']:+.5f}"
        value = "" if row["value"] is None else f"{row['value']:.4g}"
        note = f"  ({'; '.join(marks)})" if marks else ""
        lines.append(
            f"  {row['tested_on']}  {row['side']:<5} {row['trial']}  {value:>10}  "
            f"{score:>10}  {place}{note}"
        )
    return [*lines, ""]


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
        f"  true drift of d in a week          {error['drift_sd_week']:.4f}",
        f"  usual spread between athletes      {error['spread_sd']:.4f}",
        f"  expected d of this athlete         {finding['lead_d']:+.4f}",
        f"  typical error of one session       {finding['typical_error_d']:.4f}",
        f"  change beyond error (95 %)         {finding['mdc95_d']:.4f} = 1.96·√2·typical error",
        "",
    ]


def _verdict_lines(finding: Mapping[str, Any], measure: Measure) -> list[str]:
    unit = finding["unit"]
    closing, since = finding["chance_closing"], finding["reference_on"]
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
        f"{words.sureness(finding['chance_over_line'])}",
    ]
