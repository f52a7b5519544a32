"""Why there is no figure."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.commands.explain.rows import Rows
from pipeline.warehouse import Warehouse
from schemas.vocabulary import Side, WorkedSide


def why_no_figure(rows: Rows, measure: Measure) -> list[str]:
    """One sentence on what was read of an athlete and measure."""
    return [f"There is no figure: {_reason(rows, measure)}."]


def _reason(rows: Rows, measure: Measure) -> str:
    trials = rows.trials
    if trials.is_empty():
        return "no side was tested" if rows.untested.height else "no row of it could be read"
    free = trials.filter(~pl.col("held"))
    if free.is_empty():
        return f"{_all(trials.height)} held out of the estimates, for the reason given above"
    scored = free.filter(pl.col("score").is_not_null())
    if scored.is_empty():
        return "a zero has no logarithm, so there is nothing to compare"
    sides = set(scored["side"]) & {Side.LEFT, Side.RIGHT}
    if not sides:
        return "it is measured on both sides together"
    if len(sides) == 1:
        return f"only the {sides.pop()} side was tested"
    days = (
        scored.filter(pl.col("side") != WorkedSide.BOTH)
        .group_by("tested_on")
        .agg(pl.n_unique("side"))
    )
    if days["side"].max() == 1:
        return "left and right were never tested on the same day"
    return f"{measure.id} is not among the tests that the settings show ([report] measures)"


def nothing_at_all(warehouse: Warehouse, who: Mapping[str, Any], measure: Measure) -> str:
    """What to say where an athlete has nothing in a measure: what there is instead."""
    own = who["athlete_id"]
    tested = warehouse.fetch("stg_trials", athlete_id=[own])["measure"].unique().sort().to_list()
    said = f"{own} has no {measure.short} in these reports."
    if tested:
        return f"{said} Measures tested: {', '.join(tested)}."
    sets = warehouse.fetch("stg_sets", athlete_id=[own])
    if sets.is_empty():
        return f"{said} No test and no training of {own} was read."
    days = sets["trained_on"].sort()
    return (
        f"{said} Only the training log tells of {own}, from {days[0]} to {days[-1]}; no sets of "
        "both sides in it can be compared, and no test was read."
    )


def _all(count: int) -> str:
    return "its only trial is" if count == 1 else f"all {count} trials are"
