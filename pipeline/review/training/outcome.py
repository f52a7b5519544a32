"""Did it help? What was planned at a meeting, what was done, and what happened to the sides.

The start is the estimate of the day of the decision, which already lies where falling back towards
what is usual would take a picked athlete. A block is said to have helped only where the latest
tests lie closer than that with the chance the practice rules ask for.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import sqrt
from typing import Any

import numpy as np
import polars as pl

from pipeline.catalogue import Catalogue, Doses
from pipeline.estimate import Estimates
from pipeline.programme.who import Who
from pipeline.review.training.adherence import adherence
from pipeline.review.training.begun_blocks import Start, starts
from pipeline.scales import INTERVAL_SD
from pipeline.settings import Settings
from schemas.catalogue_words import Scale
from schemas.plan_words import BlockVerdict
from schemas.vocabulary import Side

OUTCOME = {
    "flag_id": pl.String,
    "squad": pl.String,
    "athlete_id": pl.String,
    "measure": pl.String,
    "region": pl.String,
    "lower_side": pl.String,
    "started_on": pl.Date,
    "ends_on": pl.Date,
    "weeks_in": pl.Float64,  # from the decision to the as-of date
    "log_state": pl.String,  # whether the log tells what was done
    "logged_weeks": pl.Float64,  # of the block, with anything in the log
    "planned_sessions": pl.Float64,  # in these weeks; without a log, so far
    "done_sessions": pl.Int64,
    "planned_extras": pl.Float64,
    "done_extras": pl.Int64,
    "adherence": pl.Float64,  # done of planned, at most 1
    "extra_sets_per_week": pl.Float64,  # in the logged weeks
    "observed_then_d": pl.Float64,
    "expected_d": pl.Float64,  # the estimate of the day: where falling back alone would lead
    "latest_d": pl.Float64,  # mean of the latest tests; null while none can tell
    "latest_se_d": pl.Float64,
    "change_in_lines": pl.Float64,  # expected less latest size, in review lines; + is smaller
    "chance_smaller": pl.Float64,
    "lower_change": pl.Float64,  # of each side since before: share for ratio measures, else unit
    "other_change": pl.Float64,
    "clear_days": pl.Int64,  # latest test days in a row with the line's chance below a half
    "verdict": pl.String,
}


@dataclass(frozen=True)
class Followed:
    """A difference that a meeting decided to train, and what its tests say since."""

    start: Start
    days: pl.DataFrame  # test days of both sides, oldest first
    then: Mapping[str, Any]  # the last of them up to the decision
    facts: Mapping[str, Any]  # today's estimate
    drift: float  # what it moves by itself in a week

    @property
    def lower(self) -> str:
        """The side that was lower on the day of the decision."""
        return "left" if self.then["estimate"] - self.facts["lead"] > 0 else "right"


def outcomes(
    decisions: pl.DataFrame,
    estimates: Estimates,
    sets: pl.DataFrame,
    athletes: pl.DataFrame,
    book: Catalogue,
    as_of: date,
    settings: Settings,
) -> pl.DataFrame:
    """One row per decision "train" about a measure, columns of `OUTCOME`.

    `decisions` are those in force, `sets` is `stg_sets`. The plan is the one the data up to the
    decision suggested, made anew.
    """
    doses = Doses(book.rules.plan, settings.plan)
    squads = dict(athletes.select("athlete_id", "squad").iter_rows())
    births = dict(athletes.select("athlete_id", "birth_date").iter_rows())
    rows = []
    for start in starts(decisions, book, as_of, settings):
        own = estimates.days.filter(
            (pl.col("athlete_id") == start.athlete_id)
            & (pl.col("measure") == start.measure.id)
            & pl.col("d").is_not_null()
        ).sort("tested_on")
        before = own.filter(pl.col("tested_on") <= start.started_on)
        now = estimates.today.filter(
            (pl.col("athlete_id") == start.athlete_id) & (pl.col("measure") == start.measure.id)
        )
        if before.is_empty() or now.is_empty() or start.athlete_id not in squads:
            continue
        then, facts = before.row(-1, named=True), now.row(0, named=True)
        drift = _drift(estimates.errors, facts["squad"], start.measure.id)
        one = Followed(start, own, then, facts, drift)
        mine = sets.filter(pl.col("athlete_id") == start.athlete_id)
        rows.append(
            {
                "flag_id": start.flag_id,
                "squad": squads[start.athlete_id],
                "athlete_id": start.athlete_id,
                "measure": start.measure.id,
                "region": start.measure.region,
                "lower_side": one.lower,
                "started_on": start.started_on,
                "ends_on": start.ends_on,
                **adherence(
                    start,
                    one.lower,
                    mine,
                    Who(births[start.athlete_id], start.started_on),
                    book,
                    settings,
                    as_of,
                ),
                **_change(one, doses, as_of, settings),
            }
        )
    return pl.DataFrame(rows, schema=OUTCOME).sort("squad", "athlete_id", "measure")


def _drift(errors: pl.DataFrame, squad: str, measure: str) -> float:
    own = errors.filter((pl.col("squad") == squad) & (pl.col("measure") == measure))
    return float(own["drift_sd_week"][0])


def _change(one: Followed, doses: Doses, as_of: date, settings: Settings) -> dict[str, Any]:
    """What the latest tests say against the estimate of the day of the decision.

    Where nothing helped, the mean of later tests spreads about that estimate with the variance of
    the estimate, of what drifts by itself and of the tests (own derivation): the chance is that of
    lying closer than this. What the estimate itself says has widened since that day is not told
    as unchanged here.
    """
    start, own, then, facts = one.start, one.days, one.then, one.facts
    before = own.filter(
        (pl.col("tested_on") <= start.started_on)
        & (pl.col("tested_on") > start.started_on - timedelta(weeks=8))
    )
    first = start.started_on + timedelta(weeks=int(doses("helped", "weeks_before_first_look")))
    after = own.filter(pl.col("tested_on") >= first)
    values: dict[str, Any] = {
        "observed_then_d": then["d"],
        "expected_d": then["estimate"],
        "clear_days": _clear_days(after, float(doses("stop", "chance_below"))),
        "verdict": BlockVerdict.TOO_EARLY if as_of <= first else BlockVerdict.NO_TEST,
    }
    if after.is_empty():
        return values
    last_on = after["tested_on"][-1]
    since = last_on - timedelta(weeks=int(doses("helped", "latest_weeks")))
    latest = after.filter(pl.col("tested_on") > since)
    weight = 1 / latest["se"].to_numpy() ** 2
    mean, variance = float(np.average(latest["d"].to_numpy(), weights=weight)), 1 / weight.sum()
    spread = ((then["high"] - then["low"]) / INTERVAL_SD) ** 2
    weeks = (last_on - then["tested_on"]).days / 7
    size_then = abs(then["estimate"] - facts["lead"])
    change = size_then - abs(mean - facts["lead"])
    chance = _normal_below(change / sqrt(spread + one.drift**2 * weeks + variance))
    needed, widened = float(doses("helped", "chance")), 1 - settings.review.widening_chance
    is_same_day = facts["reference_on"] == start.started_on
    since_then = 1.0 if facts["chance_closing"] is None else float(facts["chance_closing"])
    is_wider = is_same_day and since_then <= widened
    if is_wider:
        chance = min(chance, since_then)
    is_larger = is_wider or chance <= 1 - needed
    sides = {
        side: _level_change(before if not before.is_empty() else own.head(1), latest, side,
                            is_log=start.measure.scale == Scale.LOG)
        for side in ("left", "right")
    }  # fmt: skip
    other = Side.RIGHT if one.lower == Side.LEFT else Side.LEFT
    return values | {
        "latest_d": mean,
        "latest_se_d": sqrt(variance),
        "change_in_lines": change / facts["line"],
        "chance_smaller": chance,
        "lower_change": sides[one.lower],
        "other_change": sides[other],
        "verdict": (
            BlockVerdict.SMALLER
            if chance >= needed
            else BlockVerdict.LARGER
            if is_larger
            else BlockVerdict.NO_CHANGE
        ),
    }


def _clear_days(after: pl.DataFrame, chance_below: float) -> int:
    count = 0
    for chance in reversed(after["chance_over_line"].to_list()):
        if chance is None or chance >= chance_below:
            break
        count += 1
    return count


def _level_change(before: pl.DataFrame, latest: pl.DataFrame, side: str, *, is_log: bool) -> float:
    """Change of one side's own result: a share for ratio measures, else in the measure's unit."""
    then, now = (float(part[f"{side}_mean"].to_numpy().mean()) for part in (before, latest))
    change = now - then
    return float(np.expm1(change)) if is_log else change


def _normal_below(z: float) -> float:
    from scipy.special import ndtr

    return float(ndtr(z))
