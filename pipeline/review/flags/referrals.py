"""Who sees medical staff first: pain, a side or both that fell, a girth, words in a note."""

from collections.abc import Mapping
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Rules, Sign
from pipeline.estimate import Estimates
from pipeline.review.decisions.cleared_signs import SIGN, later, settled_until, written_signs
from pipeline.review.decisions.earlier_days import Then
from pipeline.review.decisions.standing import Standing
from pipeline.review.flags.falls import SLOW_LOSS, falls_of_sides
from pipeline.review.flags.flag import with_columns_of
from pipeline.settings import ReviewSettings
from schemas.flag_ids import flag_id
from schemas.vocabulary import URGENCIES, Family

Z95 = 1.96
POINT = ["athlete_id", "measure"]
# What tells one row of the exports from another.
ROW = ("source_file", "source_sheet", "source_line")


def refer_flags(
    estimates: Estimates,
    found: pl.DataFrame,
    then: Then,
    trials: pl.DataFrame,
    remarks: pl.DataFrame,
    words: pl.DataFrame,
    athletes: pl.DataFrame,
    told: Mapping[str, Standing],
    as_of: date,
    rules: Rules,
    review: ReviewSettings,
) -> pl.DataFrame:
    """Medical staff first, one row per athlete and test, exercise or topic of a note.

    Number, side, day and note of a row are those of one row of the exports. `trials` may hold rows
    without a value: a test that was broken off still has its pain and its note. `remarks` is
    `stg_log_remarks`. What medical staff have cleared is settled: only a later sign counts.
    """
    since = as_of - timedelta(days=review.refer_days)
    settled = settled_until(told)
    pain = _pain(trials, remarks, athletes, since, settled, rules, review)
    falls = falls_of_sides(estimates, found, then, since, rules, review)
    # What fell over weeks is as low in the next test: cleared once, it is no later sign.
    slow = later(falls.filter(pl.col("cause") == SLOW_LOSS), "first_flagged_on", settled)
    measured = [slow]
    measured += [
        later(part, "cause_on", settled)
        for part in (
            falls.filter(pl.col("cause") != SLOW_LOSS),
            *(_girth_losses(estimates, found, since, sign) for sign in rules.signs.values()),
            *(_girth_gains(trials, since, sign) for sign in rules.signs.values()),
        )
    ]
    # One point a person and test: pain beside a measured change is said in the same line.
    beside = pain.select(
        *POINT,
        pl.col("cause_value").alias("pain"),
        pl.col("cause_on").alias("pain_on"),
        pl.col("lower_side").alias("pain_side"),
        pl.col("cause_note").alias("said"),
        pl.col("urgency").alias("pain_urgency"),
    )
    changed = (
        pl.concat([with_columns_of(part, SIGN) for part in measured])
        .drop("pain", "pain_on", "pain_side")
        .join(beside, on=POINT, how="left")
        .with_columns(
            pl.coalesce("cause_note", "said").alias("cause_note"),
            pl.when(_urgency("pain_urgency") < _urgency("urgency"))
            .then("pain_urgency")
            .otherwise("urgency")
            .alias("urgency"),
        )
    )
    every = pl.concat(
        [
            with_columns_of(part, SIGN)
            for part in (
                changed,
                pain,
                _noted(later(words, "noted_on", settled, "topic"), athletes, since, review),
                later(written_signs(told, athletes, rules), "cause_on", settled),
            )
        ]
    )
    numbers = found.select(*POINT, "estimate", "low90", "high90", "unit", "chance_over_line")
    return (
        every.unique(POINT, keep="first", maintain_order=True)
        .join(numbers, on=POINT, how="left")
        .with_columns(pl.lit("refer").alias("reason"), flag_id("measure", Family.REFER))
    )


def _urgency(name: str) -> pl.Expr:
    """The place of an urgency, the most urgent first; null stays null."""
    return pl.col(name).replace_strict(URGENCIES, list(range(len(URGENCIES))), default=None)


def _pain(
    trials: pl.DataFrame,
    remarks: pl.DataFrame,
    athletes: pl.DataFrame,
    since: date,
    settled: pl.DataFrame,
    rules: Rules,
    review: ReviewSettings,
) -> pl.DataFrame:
    """Pain in a test or in training, from a lower number in the young.

    The row of the highest pain speaks, the newest of equal ones. It names a side only where every
    such row of that day is about that side alone: pain beside both sides is no side's.
    """
    grown_up = pl.col("birth_date").dt.offset_by(f"{rules.pain_under_age}y")
    limit = (
        pl.when(pl.col("on") < grown_up)
        .then(pl.lit(rules.pain_note))
        .otherwise(pl.lit(rules.pain_refer))
    )
    every = (
        later(_rated(trials, remarks), "on", settled)
        .filter(pl.col("pain") > 0)
        .join(athletes.select("athlete_id", "birth_date"), on="athlete_id", how="left")
        .filter(pl.col("pain") >= limit)
    )
    began = _began(every, POINT, "on", review)
    painful = every.filter(pl.col("on") > since)
    one_side = pl.col("side").first().replace({"both": None})
    return (
        painful.filter(pl.col("pain") == pl.col("pain").max().over(POINT))
        .filter(pl.col("on") == pl.col("on").max().over(POINT))
        .sort(*POINT, pl.col("note").is_null(), *ROW, "side")
        .group_by("squad", *POINT, maintain_order=True)
        .agg(
            pl.col("pain").first().alias("cause_value"),
            pl.col("on").first().alias("cause_on"),
            pl.col("note").first().alias("cause_note"),
            pl.when(pl.col("side").n_unique() == 1).then(one_side).alias("lower_side"),
        )
        .join(began, on=POINT)
        .with_columns(pl.lit("pain").alias("cause"), pl.lit(rules.pain_urgency).alias("urgency"))
    )


def _rated(trials: pl.DataFrame, remarks: pl.DataFrame) -> pl.DataFrame:
    """One row per side of a row of the tests or the log: who, what, when, pain and note."""
    columns = ["squad", "athlete_id", "side", "note", "source_file", "source_sheet"]
    texts = [pl.col(name).cast(pl.String) for name in columns]
    return pl.concat(
        rows.select(
            *texts, "pain", "source_line", pl.col(what).cast(pl.String).alias("measure"),
            pl.col(on).alias("on"),
        )
        for rows, what, on in (
            (trials.filter(~pl.col("is_derived")), "measure", "tested_on"),
            (remarks, "exercise", "trained_on"),
        )
    )  # fmt: skip


def _girth_losses(
    estimates: Estimates, found: pl.DataFrame, since: date, sign: Sign
) -> pl.DataFrame:
    """A girth that fell on one side, beyond its error, against that side's own last weeks."""
    if sign.girth_loss_cm is None:
        return pl.DataFrame(schema=SIGN)
    sides = estimates.sides.filter(pl.col("measure").is_in(sign.girths)).select(
        *POINT, "side", "last_tested_on", "change_recent",
        (Z95 * pl.col("change_recent_se")).alias("error"),
    )  # fmt: skip
    fallen = (
        sides.join(sides, on=POINT, suffix="_other")
        .filter(pl.col("side") != pl.col("side_other"))
        .filter(
            (pl.col("change_recent") < -sign.girth_loss_cm)
            & (pl.col("change_recent") < -pl.col("error"))
            & (pl.col("change_recent_other") > -pl.col("error_other"))
            & (pl.col("last_tested_on") > since)
        )
    )
    return (
        found.select("squad", *POINT)
        .join(fallen, on=POINT)
        .with_columns(
            pl.col("last_tested_on").alias("first_flagged_on"),
            pl.col("last_tested_on").alias("cause_on"),
            (-pl.col("change_recent")).alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.lit("girth_loss").alias("cause"),
            pl.lit(sign.urgency).alias("urgency"),
        )
    )


def _girth_gains(trials: pl.DataFrame, since: date, sign: Sign) -> pl.DataFrame:
    """A girth that grew on one side since the last time, with a note of that day.

    A note beside that girth and side goes before any other of the day.
    """
    if sign.girth_gain_cm is None:
        return pl.DataFrame(schema=SIGN)
    days = (
        trials.filter(~pl.col("held") & pl.col("measure").is_in(sign.girths))
        .drop_nulls("value")
        .group_by("squad", *POINT, "side", "tested_on")
        .agg(pl.col("value").mean())
        .sort("tested_on")
        .with_columns(pl.col("value").diff().over(*POINT, "side").alias("gain"))
        .filter(pl.col("tested_on") == pl.col("tested_on").max().over(POINT))
    )
    other = days.select(*POINT, pl.col("side").alias("other"), pl.col("gain").alias("other_gain"))
    notes = trials.drop_nulls("note").select(
        "athlete_id", "tested_on", "note", "trial",
        pl.col("measure").alias("noted_measure"), pl.col("side").alias("noted_side"),
    )  # fmt: skip
    is_own = pl.col("noted_measure") == pl.col("measure")
    return (
        days.filter((pl.col("gain") >= sign.girth_gain_cm) & (pl.col("tested_on") > since))
        .join(other, on=POINT, how="left")
        .filter(pl.col("side") != pl.col("other"))
        .filter(pl.col("other_gain").fill_null(0.0) < sign.girth_gain_cm)
        .join(notes, on=["athlete_id", "tested_on"])
        .sort(
            *POINT,
            ~(is_own & (pl.col("noted_side") == pl.col("side"))),
            ~is_own,
            "noted_measure",
            "noted_side",
            "trial",
        )
        .unique(POINT, keep="first", maintain_order=True)
        .with_columns(
            pl.col("tested_on").alias("first_flagged_on"),
            pl.col("tested_on").alias("cause_on"),
            pl.col("gain").alias("cause_value"),
            pl.col("side").alias("lower_side"),
            pl.col("note").alias("cause_note"),
            pl.lit("girth_gain").alias("cause"),
            pl.lit(sign.urgency).alias("urgency"),
        )
    )


def _began(signs: pl.DataFrame, keys: list[str], on: str, review: ReviewSettings) -> pl.DataFrame:
    """Since when each sign has been listed: each of its days came before the last one ran out."""
    days = signs.select(*keys, on).unique().sort(*keys, on)
    apart = pl.col(on).diff().over(keys).dt.total_days()
    begins = days.filter(apart.is_null() | (apart > review.refer_days))
    return begins.group_by(keys).agg(pl.col(on).max().alias("first_flagged_on"))


def _noted(
    words: pl.DataFrame, athletes: pl.DataFrame, since: date, review: ReviewSettings
) -> pl.DataFrame:
    """The newest note of each topic, and since when there have been any."""
    recent = words.filter(pl.col("noted_on") > since)
    began = _began(words, ["athlete_id", "topic"], "noted_on", review)
    return (
        recent.join(athletes.select("athlete_id", "squad"), on="athlete_id")
        .sort("athlete_id", "topic", "noted_on", "note", descending=[False, False, True, False])
        .unique(["athlete_id", "topic"], keep="first", maintain_order=True)
        .join(began, on=["athlete_id", "topic"])
        .with_columns(
            pl.col("topic").alias("measure"),
            pl.col("noted_on").alias("cause_on"),
            pl.col("note").alias("cause_note"),
            pl.lit("words").alias("cause"),
        )
    )
