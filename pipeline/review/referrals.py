"""Who sees medical staff first: pain, a sudden loss on one side, a girth, words in a note."""

from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Rules, Sign
from pipeline.estimate import Estimates
from pipeline.review.flag import flag_id, with_columns_of
from pipeline.settings import ReviewSettings

# Where a sudden loss on one side is a sign by itself: strength and what comes of it.
LOSS_GROUPS = ["strength", "grip", "power_jump", "hop", "muscular_endurance"]
Z95 = 1.96
POINT = ["athlete_id", "measure"]
SIGN = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "measure": pl.String,
    "first_flagged_on": pl.Date,
    "cause": pl.String,
    "cause_value": pl.Float64,
    "cause_note": pl.String,
    "lower_side": pl.String,  # the side it is about
    "pain": pl.Float64,
    "urgency": pl.String,
}


def refer_flags(
    estimates: Estimates,
    found: pl.DataFrame,
    trials: pl.DataFrame,
    sets: pl.DataFrame,
    words: pl.DataFrame,
    athletes: pl.DataFrame,
    as_of: date,
    rules: Rules,
    review: ReviewSettings,
) -> pl.DataFrame:
    """Medical staff first, one row per athlete and test, exercise or topic of a note."""
    since = as_of - timedelta(days=review.refer_days)
    pain = _pain(trials, sets, athletes, since, rules)
    measured = [
        _sudden_losses(estimates, found, since, rules),
        *(_girth_losses(estimates, found, since, sign) for sign in rules.signs.values()),
        *(_girth_gains(trials, since, sign) for sign in rules.signs.values()),
    ]
    # One point a person and test: pain beside a measured change is said in the same line.
    beside = pain.select(
        *POINT, pl.col("cause_value").alias("pain"), pl.col("cause_note").alias("said")
    )
    changed = (
        pl.concat([with_columns_of(part, SIGN) for part in measured])
        .drop("pain")
        .join(beside, on=POINT, how="left")
        .with_columns(pl.coalesce("cause_note", "said").alias("cause_note"))
    )
    every = pl.concat(
        [with_columns_of(part, SIGN) for part in (changed, pain, _noted(words, athletes, since))]
    )
    numbers = found.select(
        *POINT, "region", "estimate", "low90", "high90", "unit", "chance_over_line"
    )
    return (
        every.unique(POINT, keep="first", maintain_order=True)
        .join(numbers, on=POINT, how="left")
        .with_columns(pl.lit("refer").alias("reason"), flag_id("measure", "refer"))
    )


def _pain(
    trials: pl.DataFrame, sets: pl.DataFrame, athletes: pl.DataFrame, since: date, rules: Rules
) -> pl.DataFrame:
    """Pain in a test or in training, from a lower number in the young."""
    columns = "squad", "athlete_id", "side", "pain", "note"
    rated = pl.concat(
        [
            trials.filter(~pl.col("is_derived")).select(
                *columns, "measure", pl.col("tested_on").alias("on")
            ),
            sets.select(
                *columns, pl.col("exercise").alias("measure"), pl.col("trained_on").alias("on")
            ),
        ]
    ).filter((pl.col("pain") > 0) & (pl.col("on") > since))
    grown_up = pl.col("birth_date").dt.offset_by(f"{rules.pain_under_age}y")
    limit = (
        pl.when(pl.col("on") < grown_up)
        .then(pl.lit(rules.pain_note))
        .otherwise(pl.lit(rules.pain_refer))
    )
    return (
        rated.join(athletes.select("athlete_id", "birth_date"), on="athlete_id", how="left")
        .filter(pl.col("pain") >= limit)
        .sort(*POINT, "on", "pain", "side", descending=[False, False, False, True, False])
        .group_by("squad", *POINT, maintain_order=True)
        .agg(
            pl.col("on").min().alias("first_flagged_on"),
            pl.col("pain").max().alias("cause_value"),
            pl.col("side").first().alias("lower_side"),
            pl.col("note").drop_nulls().first().alias("cause_note"),
        )
        .with_columns(pl.lit("pain").alias("cause"), pl.lit(rules.pain_urgency).alias("urgency"))
    )


def _sudden_losses(
    estimates: Estimates, found: pl.DataFrame, since: date, rules: Rules
) -> pl.DataFrame:
    """One side far below its own last weeks while the other has not fallen."""
    return (
        found.filter(
            pl.col("one_sided_loss")
            & pl.col("measure_group").is_in(LOSS_GROUPS)
            & (pl.col("formula") != "within_limb_ratio")
            & (pl.col("last_tested_on") > since)
        )
        .select("squad", *POINT, pl.col("last_tested_on").alias("first_flagged_on"))
        .join(estimates.sides.filter(pl.col("is_lost")), on=POINT)
        .with_columns(
            (100 * pl.col("lost_share")).alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.lit("loss").alias("cause"),
            pl.lit(rules.loss_urgency).alias("urgency"),
        )
    )


def _girth_losses(
    estimates: Estimates, found: pl.DataFrame, since: date, sign: Sign
) -> pl.DataFrame:
    """A girth that fell on one side, beyond its error, against that side's own last weeks."""
    if sign.girth_loss_cm is None:
        return pl.DataFrame(schema=SIGN)
    sides = estimates.sides.filter(pl.col("measure").is_in(sign.girths)).select(
        *POINT, "side", "change_recent", (Z95 * pl.col("change_recent_se")).alias("error")
    )
    fallen = (
        sides.join(sides, on=POINT, suffix="_other")
        .filter(pl.col("side") != pl.col("side_other"))
        .filter(
            (pl.col("change_recent") < -sign.girth_loss_cm)
            & (pl.col("change_recent") < -pl.col("error"))
            & (pl.col("change_recent_other") > -pl.col("error_other"))
        )
    )
    tested = found.filter(pl.col("last_tested_on") > since)
    return (
        tested.select("squad", *POINT, pl.col("last_tested_on").alias("first_flagged_on"))
        .join(fallen, on=POINT)
        .with_columns(
            (-pl.col("change_recent")).alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.lit("girth_loss").alias("cause"),
            pl.lit(sign.urgency).alias("urgency"),
        )
    )


def _girth_gains(trials: pl.DataFrame, since: date, sign: Sign) -> pl.DataFrame:
    """A girth that grew on one side since the last time, with a note of that day."""
    if sign.girth_gain_cm is None:
        return pl.DataFrame(schema=SIGN)
    notes = (
        trials.drop_nulls("note")
        .sort("measure", "side", "trial")
        .group_by("athlete_id", "tested_on")
        .agg(pl.col("note").first().alias("cause_note"))
    )
    days = (
        trials.filter(~pl.col("held") & pl.col("measure").is_in(sign.girths))
        .group_by("squad", *POINT, "side", "tested_on")
        .agg(pl.col("value").mean())
        .sort("tested_on")
        .with_columns(pl.col("value").diff().over(*POINT, "side").alias("gain"))
        .filter(pl.col("tested_on") == pl.col("tested_on").max().over(POINT))
    )
    other = days.select(*POINT, pl.col("side").alias("other"), pl.col("gain").alias("other_gain"))
    return (
        days.filter((pl.col("gain") >= sign.girth_gain_cm) & (pl.col("tested_on") > since))
        .join(other, on=POINT, how="left")
        .filter(pl.col("side") != pl.col("other"))
        .filter(pl.col("other_gain").fill_null(0.0) < sign.girth_gain_cm)
        .join(notes, on=["athlete_id", "tested_on"])
        .with_columns(
            pl.col("tested_on").alias("first_flagged_on"),
            pl.col("gain").alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.lit("girth_gain").alias("cause"),
            pl.lit(sign.urgency).alias("urgency"),
        )
        .sort(POINT)
    )


def _noted(words: pl.DataFrame, athletes: pl.DataFrame, since: date) -> pl.DataFrame:
    """The first note of each topic."""
    return (
        words.filter(pl.col("noted_on") > since)
        .join(athletes.select("athlete_id", "squad"), on="athlete_id")
        .sort("athlete_id", "noted_on")
        .group_by("squad", "athlete_id", "topic", maintain_order=True)
        .first()
        .with_columns(
            pl.col("topic").alias("measure"),
            pl.col("noted_on").alias("first_flagged_on"),
            pl.col("note").alias("cause_note"),
            pl.lit("words").alias("cause"),
        )
    )
