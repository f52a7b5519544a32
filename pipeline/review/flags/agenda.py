"""The agenda: one row per flag, in meeting order, with since when and what was decided.

A flag's history is read from the data (the estimates of earlier days), never from an earlier
build, so that a build from scratch and a build on top of last week's give the same list.
"""

from collections.abc import Mapping
from datetime import date

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.estimate import Estimates
from pipeline.review.decisions.earlier_days import Then
from pipeline.review.decisions.standing import Standing
from pipeline.review.decisions.states import Facts, states
from pipeline.review.differences.verdicts import CONFIRMED
from pipeline.review.flags.flag import FLAG, open_since, with_columns_of
from pipeline.review.flags.listed import (
    accepted,
    days_of_both_sides,
    grown_since,
    in_meeting_order,
    listed_all_along,
    raised_anew,
    silent_flags,
)
from pipeline.review.flags.overdue import overdue_flags
from pipeline.review.flags.ratios import ratio_flags
from pipeline.review.flags.referrals import refer_flags
from pipeline.review.flags.zeros import zero_flags
from pipeline.review.training.by_side import unequal_work
from pipeline.settings import ReviewSettings, Settings
from schemas.flag_ids import flag_id
from schemas.vocabulary import REGIONS, Family, Turn

POINT = ["athlete_id", "measure"]


def flags(
    estimates: Estimates,
    found: pl.DataFrame,
    then: Then,
    trials: pl.DataFrame,
    sets: pl.DataFrame,
    remarks: pl.DataFrame,
    coverage: pl.DataFrame,
    athletes: pl.DataFrame,
    told: Mapping[str, Standing],
    words: pl.DataFrame,
    catalogue: Catalogue,
    as_of: date,
    settings: Settings,
) -> pl.DataFrame:
    """One row per flag, in meeting order, with what was decided; columns of `FLAG`, `STATE`, more.

    An accepted one (`is_accepted`) is silent and stands last in its squad: it is watched, and stays
    listed so that nobody decides it twice.

    `found` holds the findings, `then` what was known of them on earlier days, `words` the notes
    that ask for medical staff (athlete_id, noted_on, topic, note), `remarks` the pain and notes of
    the log (`stg_log_remarks`), `coverage` the last test of each athlete in each of the squad's
    measures, `told` what stands about each flag.
    """
    review = settings.review
    ratios = ratio_flags(estimates, found, trials, catalogue.measures, review)
    # A ratio below its own line is one point of the meeting, not a second one for its difference.
    differences = difference_flags(found, then, review).join(
        ratios, on=["athlete_id", "measure"], how="anti"
    )
    parts = [
        refer_flags(
            estimates,
            found,
            then,
            trials,
            remarks,
            words,
            athletes,
            told,
            as_of,
            catalogue.rules,
            review,
        ),
        differences,
        ratios,
        zero_flags(trials, catalogue.measures),
        training_flags(sets, found, as_of, review),
        overdue_flags(coverage, athletes, told, as_of, review),
    ]
    days = days_of_both_sides(trials)
    raised = raised_anew(
        pl.concat([with_columns_of(part, FLAG) for part in parts]), told, days, as_of, review
    )
    signs = raised.filter(pl.col("reason") == "refer").select(*POINT, "cause_on")
    facts = Facts(
        tested=days,
        grown=grown_since(accepted(told), estimates, found, review),
        signs={(who, what): on for who, what, on in signs.iter_rows()},
    )
    rows = {row["flag_id"]: row for row in raised.iter_rows(named=True)}
    stands = states(rows, told, facts, catalogue, as_of, settings)
    silent = silent_flags(stands, raised, found, athletes, catalogue, as_of)
    every = pl.concat([raised.with_columns(is_raised=pl.lit(True)), silent])
    listed = listed_all_along(every.join(stands, on="flag_id"), then.differences, _raises(review))
    return in_meeting_order(listed, as_of)


def with_referrals(found: pl.DataFrame, flagged: pl.DataFrame) -> pl.DataFrame:
    """The findings, each with whether its measure waits for medical staff, or was accepted.

    Adds `is_referred` and `is_accepted`.
    """
    said = flagged.group_by(POINT).agg(
        (pl.col("turn") == Turn.REFER).any().alias("is_referred"),
        pl.col("is_accepted").any(),
    )
    return found.join(said, on=POINT, how="left", maintain_order="left").with_columns(
        pl.col("is_referred", "is_accepted").fill_null(False)
    )


def difference_flags(found: pl.DataFrame, then: Then, review: ReviewSettings) -> pl.DataFrame:
    """Confirmed, widening and retest: one row per athlete and measure."""
    flagged = pl.col("chance_over_line") >= review.retest_chance
    since = open_since(then.differences, POINT, _raises(review))
    widening = (pl.col("chance_closing") <= 1 - review.widening_chance) & (
        pl.col("session_count") > review.confirmed_days
    )
    return (
        _one_record(found.filter(flagged))
        .join(since, on=["athlete_id", "measure"], how="left")
        .with_columns(
            pl.when(widening.fill_null(False))
            .then(pl.lit("widening"))
            .when(pl.col("verdict") == CONFIRMED)
            .then(pl.lit("confirmed"))
            .otherwise(pl.lit("retest"))
            .alias("reason"),
            pl.coalesce("first_flagged_on", "last_tested_on").alias("first_flagged_on"),
            flag_id("measure", Family.DIFFERENCE),
        )
    )


def _raises(review: ReviewSettings) -> pl.Expr:
    """Whether what was known on a day raised a difference."""
    return pl.col("chance_over_line") >= review.retest_chance


def _one_record(flagged: pl.DataFrame) -> pl.DataFrame:
    """At most one training record per athlete and region, and none beside a test of it.

    Several exercises of one region tell the meeting the same thing, and a test tells it better.
    """
    place = ["athlete_id", "region"]
    is_record = pl.col("measure_group") == TRAINING_RECORD
    tests, records = flagged.filter(~is_record), flagged.filter(is_record)
    strength_tests = tests.filter(~pl.col("measure_group").is_in(["size", "range_of_motion"]))
    strongest = (
        records.join(strength_tests, on=place, how="anti")
        .sort("chance_over_line", "measure", descending=[True, False])
        .unique(place, keep="first", maintain_order=True)
    )
    return pl.concat([tests, strongest])


def training_flags(
    sets: pl.DataFrame, found: pl.DataFrame, as_of: date, review: ReviewSettings
) -> pl.DataFrame:
    """The lower side gets clearly less one-sided work than the other: one row per part of it."""
    signed = pl.when(pl.col("lower_side") == "left").then(1.0).otherwise(-1.0)
    unequal = unequal_work(sets, found, as_of, review)
    is_of_body = pl.col("part").is_in(REGIONS)
    topic = pl.when(is_of_body).then(pl.col("part") + "_body").otherwise("part")
    return unequal.with_columns(topic.alias("topic")).with_columns(
        pl.lit("training").alias("reason"),
        (100 * (1 - pl.col("lower_share")) * signed).alias("estimate"),
        pl.lit("%").alias("unit"),
        flag_id("topic", Family.TRAINING),
    )
