"""The agenda: from what was estimated and decided to one row per flag, in meeting order.

What flags read goes into a warehouse, where each kind of flag is one relation of SQL; what was
decided gives each its state, and both together are the list. A flag's history is read from the data
(what was known on earlier days), never from an earlier build, so that a build from scratch and a
build on top of last week's give the same list.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.review.decisions.standing import Standing
from pipeline.review.decisions.states import Days, Facts, states
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.database import LISTED, RAISED, sql_files
from schemas.vocabulary import Family, Turn

POINT = ["athlete_id", "measure"]


@dataclass(frozen=True)
class Agenda:
    """All flags, what each kind of them says, and the test days that decisions are held against."""

    # flags_listed, in meeting order; an accepted one is silent and stands last in its squad: it is
    # watched, and stays listed so that nobody decides it twice
    flags: pl.DataFrame
    kinds: Mapping[str, pl.DataFrame]  # by relation: one row per flag of that kind
    tested: Days  # of both sides, of whoever was decided about


def agenda(
    house: Warehouse,
    told: Mapping[str, Standing],
    catalogue: Catalogue,
    as_of: date,
    settings: Settings,
) -> Agenda:
    """The flags of a warehouse that holds what they read (`what_is_known`)."""
    house.build(*RAISED)
    raised = house.fetch("flags_raised")
    tested: dict[str, dict[str, list[date]]] = {}
    for who, what, on in house.fetch("decided_days").sort("tested_on").iter_rows():
        tested.setdefault(who, {}).setdefault(what, []).append(on)
    signs = raised.filter(pl.col("family") == Family.REFER)
    facts = Facts(
        tested=tested,
        grown=frozenset(house.fetch("decided_grown")["flag_id"]),
        signs={
            (who, what): on
            for who, what, on in signs.select("athlete_id", "topic", "sign_on").iter_rows()
        },
    )
    rows = {row["flag_id"]: row for row in raised.iter_rows(named=True)}
    house.load("mart_flag_states", states(rows, told, facts, catalogue, as_of, settings))
    house.build(*LISTED)
    listed = house.fetch("flags_listed").sort("place").drop("place")
    kinds = {name: house.fetch(name) for name in sql_files("flags") if name.startswith("flag_")}
    return Agenda(listed, kinds, tested)


def details(kinds: Mapping[str, pl.DataFrame]) -> dict[tuple[str, str, str], dict[str, Any]]:
    """What the relation of its kind says of a flag, by kind, athlete and topic."""
    return {
        (name.removeprefix("flag_"), row["athlete_id"], row["topic"]): row
        for name, frame in kinds.items()
        for row in frame.iter_rows(named=True)
    }


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
