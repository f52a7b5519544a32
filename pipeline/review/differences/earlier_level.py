"""Each side against its own earlier level: before surgery or whatever the roster dates.

The other side loses, too: of 70 athletes six months after knee ligament surgery 57 % reached 90 %
of the other leg in all tests, 29 % of that leg before surgery (Wellsandt 2017, J Orthop Sports
Phys Ther 47:334). No share is a pass mark.
"""

from collections.abc import Mapping
from math import sqrt

import polars as pl

from pipeline.catalogue import Measure
from schemas.catalogue_words import Better, ErrorKind, Scale

WEEKS_BEFORE = 12
LEAST_ERROR = 5.0  # percent: less is within what a day makes
LEVEL = {
    "athlete_id": pl.String,
    "measure": pl.String,
    "known_since": pl.Date,
    "day_count": pl.Int64,  # test days of both sides that the earlier level is the median of
    "left_share": pl.Float64,  # of that level in the latest session, 100 is as before
    "right_share": pl.Float64,
    "error": pl.Float64,  # in the same percent
    "both_behind": pl.Boolean,
}


def own_levels(
    side_values: pl.DataFrame, athletes: pl.DataFrame, measures: Mapping[str, Measure]
) -> pl.DataFrame:
    """One row per athlete and test with days of both sides before and after the date in the roster.

    `side_values` is `mart_side_values`. Days with pain do not count, and only tests whose
    sides are compared as a ratio have a share.
    """
    facts = pl.DataFrame(
        [
            (m.id, m.better == Better.LOWER, max(LEAST_ERROR, sqrt(2.0) * m.error))
            for m in measures.values()
            if m.scale == Scale.LOG and m.error_kind == ErrorKind.PCT and m.better != Better.NEUTRAL
        ],
        schema={"measure": pl.String, "lower_is_better": pl.Boolean, "error": pl.Float64},
        orient="row",
    )
    healthy = side_values.filter(pl.col("pain").fill_null(0) == 0)
    dated = healthy.join(
        athletes.select("athlete_id", "known_since").drop_nulls(), on="athlete_id"
    ).join(facts, on="measure")
    since, day = pl.col("known_since"), pl.col("tested_on")
    keys = ["athlete_id", "measure", "known_since", "error", "lower_is_better"]
    is_before = (day < since) & (day >= since.dt.offset_by(f"-{WEEKS_BEFORE}w"))
    sided = {side: pl.col("side") == side for side in ("left", "right")}
    told = (
        dated.sort("tested_on")
        .group_by(keys)
        .agg(
            day.filter(is_before & sided["left"]).n_unique().alias("day_count"),
            *(
                pl.col("mean_value").filter(is_before & own).median().alias(f"{side}_was")
                for side, own in sided.items()
            ),
            *(
                pl.col("mean_value").filter((day >= since) & own).last().alias(f"{side}_is")
                for side, own in sided.items()
            ),
        )
        .drop_nulls()
    )
    shares = told.with_columns(
        pl.when("lower_is_better")
        .then(100 * pl.col(f"{side}_was") / pl.col(f"{side}_is"))
        .otherwise(100 * pl.col(f"{side}_is") / pl.col(f"{side}_was"))
        .alias(f"{side}_share")
        for side in ("left", "right")
    )
    behind = pl.max_horizontal("left_share", "right_share") < 100 - pl.col("error")
    return (
        shares.with_columns(behind.alias("both_behind"))
        .select(pl.col(name).cast(kind) for name, kind in LEVEL.items())
        .sort("athlete_id", "measure")
    )
