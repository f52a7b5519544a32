"""Where an athlete stands with a difference that a block is about, and when extra work ends."""

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Measure
from schemas.plan_words import BlockVerdict, Stage
from schemas.vocabulary import MeasureGroup, Movement

Row = Mapping[str, Any]
RANGE = MeasureGroup.RANGE_OF_MOTION  # group of measures


def stage_of(row: Row, outcome: Row | None, doses: Doses) -> Stage:
    """Where the athlete stands with this difference; "stop" ends the extra work.

    A block that is over says how the difference compares with its own beginning. It may have turned
    round since, so what has moved lately has a word in it.
    """
    if outcome is None:
        is_closing = (row["chance_closing"] or 0) >= doses("helped", "chance")
        return Stage.CLOSING if is_closing else Stage.NEW
    if _is_little(outcome, doses):
        return Stage.CATCH_UP
    verdict, moved = outcome["verdict"], row["moved"]
    if verdict == BlockVerdict.SMALLER and moved != Movement.LARGER:  # less sure is no success
        return Stage.CLOSING
    longest = min(doses("stop", "weeks_without_change"))
    is_long = outcome["weeks_in"] >= longest
    is_larger = verdict == BlockVerdict.LARGER and moved != Movement.SMALLER
    if is_long and (is_larger or (verdict == BlockVerdict.NO_CHANGE and moved != Movement.SMALLER)):
        return Stage.STOP
    return Stage.WIDENING if is_larger else Stage.RUNNING


def latest_outcome(row: Row, outcomes: Sequence[Row]) -> Row | None:
    """The latest block for the same measure and side."""
    what = row["measure"], row["lower_side"]
    same = [one for one in outcomes if (one["measure"], one["lower_side"]) == what]
    return max(same, key=lambda one: one["started_on"], default=None)


def ended_with(
    measure: str, lower: str, ended: Sequence[Row], measures: Mapping[str, Measure]
) -> Row | None:
    """Which block that ends without change was about this difference or trained it as well."""
    alike = [
        one
        for one in ended
        if one["lower_side"] == lower and _are_alike(measures[one["measure"]], measures[measure])
    ]
    return min(alike, key=lambda one: one["measure"] != measure, default=None)


def _are_alike(one: Measure, other: Measure) -> bool:
    """Whether the same work trains two measures: the same movements, for strength or for range."""
    is_same_kind = (one.group == RANGE) == (other.group == RANGE)
    shares_movements = not set(one.patterns).isdisjoint(other.patterns)
    return one.id == other.id or (is_same_kind and shares_movements)


def without_change(rows: Sequence[Row], outcomes: Sequence[Row], doses: Doses) -> tuple[Row, ...]:
    """The blocks about these differences whose extra work ends, since nothing has changed."""
    latest = ((row, latest_outcome(row, outcomes)) for row in rows)
    return tuple(
        one for row, one in latest if one is not None and stage_of(row, one, doses) == "stop"
    )


def _is_little(outcome: Row, doses: Doses) -> bool:
    if outcome["adherence"] is None:  # not logged is not the same as not done
        return False
    is_late = outcome["logged_weeks"] >= doses("done", "judged_after_weeks")
    return bool(is_late and outcome["adherence"] < doses("done", "low_share"))


def hardly_done(
    measure: Measure,
    lower: str,
    outcomes: Sequence[Row],
    catalogue: Catalogue,
    doses: Doses,
) -> bool:
    """Whether the log shows hardly any of a block for a related measure of the same side."""
    return any(
        one["lower_side"] == lower
        and _are_alike(catalogue.measures[one["measure"]], measure)
        and _is_little(one, doses)
        for one in outcomes
        if one["measure"] != measure.id
    )
