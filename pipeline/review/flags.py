"""The agenda: one row per flag, in meeting order, with since when and what was decided.

A flag's history is read from the data (the estimates of earlier days), never from an earlier
build, so that a build from scratch and a build on top of last week's give the same list.
"""

from datetime import date

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.estimate import Estimates
from pipeline.review.flag import (
    FLAG,
    decided,
    flag_id,
    of_test,
    open_since,
    with_columns_of,
)
from pipeline.review.overdue import overdue_flags
from pipeline.review.ratios import ratio_flags
from pipeline.review.referrals import refer_flags
from pipeline.review.training import unequal_work
from pipeline.review.verdicts import CONFIRMED
from pipeline.review.zeros import zero_flags
from pipeline.settings import ReviewSettings, Settings
from schemas.vocabulary import REASONS, REGIONS, URGENCIES

DIFFERENCE_REASONS = ["confirmed", "widening", "retest", "ratio"]
Z95_ONE_SIDED = 1.645


def flags(
    estimates: Estimates,
    found: pl.DataFrame,
    trials: pl.DataFrame,
    sets: pl.DataFrame,
    remarks: pl.DataFrame,
    coverage: pl.DataFrame,
    athletes: pl.DataFrame,
    decisions: pl.DataFrame,
    words: pl.DataFrame,
    catalogue: Catalogue,
    as_of: date,
    settings: Settings,
) -> pl.DataFrame:
    """One row per flag, in meeting order, with its decision; columns of `FLAG` and more.

    An accepted one (`is_accepted`) is silent and stands last in its squad: it is watched, and stays
    listed so that nobody decides it twice.

    `found` holds the findings, `words` the notes that ask for medical staff (athlete_id, noted_on,
    topic, note), `remarks` the pain and notes of the log (`stg_log_remarks`), `coverage` the last
    test of each athlete in each of the squad's measures.
    """
    review = settings.review
    ratios = ratio_flags(estimates, found, trials, catalogue.measures, review)
    # A ratio below its own line is one point of the meeting, not a second one for its difference.
    differences = difference_flags(estimates, found, review).join(
        ratios, on=["athlete_id", "measure"], how="anti"
    )
    parts = [
        refer_flags(
            estimates, found, trials, remarks, words, athletes, as_of, catalogue.rules, review
        ),
        differences,
        ratios,
        zero_flags(trials, catalogue.measures),
        training_flags(sets, found, as_of, review),
        overdue_flags(coverage, found, athletes, decisions, as_of, review),
    ]
    raised = pl.concat([with_columns_of(part, FLAG) for part in parts])
    silent = _accepted_before(decisions, found, athletes, catalogue, as_of).join(
        raised, on="flag_id", how="anti"
    )
    every = pl.concat([raised, with_columns_of(silent, FLAG)])
    with_decision = every.join(
        decisions.select(
            "flag_id", "decision", "owner", "review_on", "decided_on",
            pl.col("note").alias("decision_note"),
        ),
        on="flag_id",
        how="left",
    ).join(_grown_since(decisions, estimates, found), on="flag_id", how="left")  # fmt: skip
    rank = pl.col("reason").replace_strict(
        REASONS, list(range(len(REASONS))), return_dtype=pl.Int64
    )
    soon = pl.col("urgency").replace_strict(URGENCIES, list(range(len(URGENCIES))), default=None)
    return (
        with_decision.with_columns(
            _accepted(review.retest_chance).alias("is_accepted"),
            ((pl.lit(as_of) - pl.col("first_flagged_on")).dt.total_days() // 7).alias("weeks_open"),
            rank.alias("rank"),
            soon.alias("soon"),
        )
        .sort(
            [
                "squad",
                "is_accepted",
                "rank",
                "soon",
                "first_flagged_on",
                "chance_over_line",
                "flag_id",
            ],
            descending=[False, False, False, False, True, True, False],
            nulls_last=True,
        )
        .drop("rank", "soon", "has_grown")
    )


def _accepted(retest_chance: float) -> pl.Expr:
    """A difference accepted at a meeting leaves the agenda until it grows beyond noise.

    Without the day of the decision, a widening brings it back.
    """
    has_grown = pl.coalesce("has_grown", pl.col("reason") == "widening")
    comes_back = has_grown & (pl.col("chance_over_line") >= retest_chance).fill_null(False)
    return decided("accept") & pl.col("reason").is_in(DIFFERENCE_REASONS) & ~comes_back


def _accepted_before(
    decisions: pl.DataFrame,
    found: pl.DataFrame,
    athletes: pl.DataFrame,
    catalogue: Catalogue,
    as_of: date,
) -> pl.DataFrame:
    """Accepted differences, ratios and zeros as flags, whether anything raises them today or not.

    What nothing raises has the reason its finding gives it, and no numbers without a finding.
    """
    point = ["athlete_id", "measure"]
    numbers = found.select(
        *point, "lower_side", "estimate", "low90", "high90", "unit", "chance_over_line",
        "last_tested_on", "verdict",
    )  # fmt: skip
    return (
        decisions.filter(decided("accept"))
        .with_columns(*of_test("difference", "ratio", "zero"))
        .filter(pl.col("measure").is_in(list(catalogue.measures)))
        .join(athletes.select("athlete_id", "squad"), on="athlete_id")
        .join(numbers, on=point, how="left")
        .with_columns(
            pl.when(pl.col("verdict") == CONFIRMED)
            .then(pl.lit("confirmed"))
            .otherwise(pl.lit("retest"))
            .alias("reason"),
            pl.coalesce("decided_on", "last_tested_on", pl.lit(as_of)).alias("first_flagged_on"),
        )
    )


def _grown_since(
    decisions: pl.DataFrame, estimates: Estimates, found: pl.DataFrame
) -> pl.DataFrame:
    """Whether a decided difference, beyond its lead, is larger now than on the day of the list.

    Larger by more than the two estimates' errors together with a chance of 95 in 100. The errors
    are taken as independent, which asks for more than is needed rather than less.
    """
    then = decisions.select("flag_id", "decided_on").drop_nulls().sort("decided_on")
    known = (
        estimates.days.drop_nulls("estimate")
        .with_columns(flag_id("measure", "difference"))
        .select(
            "flag_id",
            "tested_on",
            pl.col("estimate").alias("then_d"),
            ((pl.col("high") - pl.col("low")) / (2 * Z95_ONE_SIDED)).alias("then_sd"),
        )
        .sort("tested_on")
    )
    now = found.with_columns(flag_id("measure", "difference")).select(
        "flag_id", "estimate_d", "sd_d", "lead_d"
    )
    growth = (pl.col("estimate_d") - pl.col("lead_d")).abs() - (
        pl.col("then_d") - pl.col("lead_d")
    ).abs()
    error = (pl.col("sd_d") ** 2 + pl.col("then_sd") ** 2).sqrt()
    return (
        then.join_asof(
            known, left_on="decided_on", right_on="tested_on", by="flag_id", check_sortedness=False
        )
        .drop_nulls("then_d")
        .join(now, on="flag_id")
        .select("flag_id", (growth > Z95_ONE_SIDED * error).alias("has_grown"))
    )


def with_referrals(found: pl.DataFrame, flagged: pl.DataFrame) -> pl.DataFrame:
    """The findings, each with whether its measure waits for medical staff (`is_referred`)."""
    referred = flagged.filter(pl.col("reason") == "refer").select("athlete_id", "measure").unique()
    return found.join(
        referred.with_columns(pl.lit(True).alias("is_referred")),
        on=["athlete_id", "measure"],
        how="left",
        maintain_order="left",
    ).with_columns(pl.col("is_referred").fill_null(False))


def difference_flags(
    estimates: Estimates, found: pl.DataFrame, review: ReviewSettings
) -> pl.DataFrame:
    """Confirmed, widening and retest: one row per athlete and measure."""
    flagged = pl.col("chance_over_line") >= review.retest_chance
    tested = estimates.days.filter(pl.col("d").is_not_null())
    since = open_since(tested, ["athlete_id", "measure"], flagged)
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
            flag_id("measure", "difference"),
        )
    )


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
        flag_id("topic", "training"),
    )
