"""An intake cut into parts of whole squads, so that what follows never holds all of a large one.

Nothing that is worked out from the rows reaches from one squad into another.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from pipeline.intake.privacy import PEOPLE, WHOSE_FLAG

if TYPE_CHECKING:
    from pipeline.intake import Intake

ROWS = 200_000  # tests and sets of a part, where its squads are not larger; any ordinary club's


def squads_of(roster: pl.DataFrame) -> list[str]:
    """The names of the squads of a roster, sorted."""
    return roster["squad"].unique().sort().to_list()


def in_parts(intake: "Intake", rows: int = ROWS) -> Iterator["Intake"]:
    """The squads in the order of their names, together until they have so many rows."""
    squads = _squads(intake).with_columns(pl.col("rows").cum_sum() - pl.col("rows"))
    numbered = squads.select("squad", part=pl.col("rows") // rows)
    parts = [part["squad"] for part in numbered.partition_by("part", maintain_order=True)]
    if len(parts) < 2:
        yield intake
        return
    others = intake.decisions.filter(~_is_about(intake.roster["athlete_id"]))
    for squads_of_part in parts:
        roster = intake.roster.filter(pl.col("squad").is_in(squads_of_part.to_list()))
        ids = roster["athlete_id"]
        decisions = intake.decisions.filter(_is_about(ids))
        # Decisions about nobody in the roster change nothing, but they were read and are kept.
        yield replace(
            intake,
            decisions=pl.concat([others, decisions]),
            **{
                name: getattr(intake, name).filter(pl.col("athlete_id").is_in(ids.to_list()))
                for name in PEOPLE
            },
        )
        others = others.clear()


def _squads(intake: "Intake") -> pl.DataFrame:
    """One row per squad: how many tests and sets its athletes have."""
    counts = [
        getattr(intake, name).select(pl.col("athlete_id").cast(pl.String).value_counts())
        for name in ("trials", "sets")
    ]
    counted = pl.concat(counts).unnest("athlete_id")
    return (
        intake.roster.select("squad", "athlete_id")
        .join(counted, on="athlete_id", how="left")
        .group_by("squad")
        .agg(pl.col("count").cast(pl.Int64).sum().alias("rows"))
        .sort("squad")
    )


def _is_about(ids: pl.Series) -> pl.Expr:
    return WHOSE_FLAG.is_in(ids.to_list()).fill_null(False)
