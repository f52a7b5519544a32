"""How each difference has moved since its reference day: what every page says of it.

While a block runs, what the tests since its beginning say about it goes before the chance of
closing, so that a page never says two things about one difference.
"""

from datetime import date

import polars as pl

from schemas.plan_words import BlockVerdict
from schemas.vocabulary import Movement

JUDGED = (BlockVerdict.SMALLER, BlockVerdict.LARGER, BlockVerdict.NO_CHANGE)
POINT = ["athlete_id", "measure"]


def with_movement(
    found: pl.DataFrame, outcomes: pl.DataFrame, as_of: date, moved_chance: float
) -> pl.DataFrame:
    """The findings, each with `moved` (a `Movement`) since `reference_on` and `moved_chance`.

    From `moved_chance` on it is said that a difference is smaller or larger; in between nothing
    clearly moved. The chance is that of what is said, null where nothing is. `outcomes` are those
    of the blocks.
    """
    judged = (
        outcomes.filter((pl.col("ends_on") >= as_of) & pl.col("verdict").is_in(JUDGED))
        .sort("started_on", "flag_id", descending=[True, False])
        .unique(POINT, keep="first", maintain_order=True)
        .select(*POINT, pl.col("started_on").alias("reference_on"), "verdict", "chance_smaller")
        .rename({"verdict": "block_verdict"})
    )
    smaller = pl.coalesce("chance_smaller", "chance_closing")
    moved = (
        pl.when(pl.col("chance_closing").is_null())
        .then(pl.lit(Movement.ONE_DAY))
        .when(pl.col("last_tested_on") <= pl.col("reference_on"))
        .then(pl.lit(Movement.UNTESTED))
        .when(pl.col("block_verdict").is_not_null())
        .then(pl.col("block_verdict").replace({BlockVerdict.NO_CHANGE: Movement.UNCHANGED}))
        .when(pl.col("chance_closing") >= moved_chance)
        .then(pl.lit(Movement.SMALLER))
        .when(pl.col("chance_closing") <= 1 - moved_chance)
        .then(pl.lit(Movement.LARGER))
        .otherwise(pl.lit(Movement.UNCHANGED))
    )
    return (
        found.join(judged, on=[*POINT, "reference_on"], how="left", maintain_order="left")
        .with_columns(moved.alias("moved"))
        .with_columns(
            pl.when(pl.col("moved") == Movement.SMALLER)
            .then(smaller)
            .when(pl.col("moved") == Movement.LARGER)
            .then(1 - smaller)
            .alias("moved_chance")
        )
        .drop("block_verdict", "chance_smaller")
    )
