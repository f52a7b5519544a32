"""The squads cut into parts, so that what follows never holds all of a large warehouse.

Nothing that is worked out from the rows reaches from one squad into another.
"""

from collections import Counter
from collections.abc import Sequence
from typing import Protocol

import polars as pl

from pipeline.warehouse.database import Warehouse
from pipeline.warehouse.stock import OF_ATHLETES, OF_EXPORTS

# What a part reads of the warehouse beside the rows themselves: of its squads, and of all.
OF_SQUADS = (
    "stg_athletes", "stg_trials", "stg_sets", "stg_log_remarks", "stg_film", "stg_trial_units",
    "mart_day_asymmetry", "mart_side_values", "mart_test_coverage", "mart_log_loads",
)  # fmt: skip
OF_ALL = ("stg_decisions", "ref_measures", "ref_exercises")
ROWS = 400_000  # tests and sets of a part, where its squads are not larger; any ordinary club's


def squads_of(athletes: pl.DataFrame) -> list[str]:
    """The names of the squads of athletes, sorted."""
    return athletes["squad"].unique().sort().to_list()


def row_counts(warehouse: Warehouse) -> Counter[str]:
    """Tests and sets by squad."""
    tests, sets = (warehouse.count_by(name, "squad") for name in ("stg_trials", "stg_sets"))
    return Counter(tests) + Counter(sets)


def in_parts(warehouse: Warehouse, rows: int = ROWS) -> list[list[str]]:
    """Names of the squads in their order, together until they have so many rows."""
    counts = row_counts(warehouse)
    parts: dict[int, list[str]] = {}
    before = 0
    for squad in squads_of(warehouse.fetch("stg_athletes")):
        parts.setdefault(before // rows, []).append(squad)
        before += counts[squad]
    return list(parts.values())


class Source(Protocol):
    """Where the tables of some squads are read: the warehouse itself, or an extract of it."""

    def fetch(self, name: str, **among: Sequence[str]) -> pl.DataFrame:
        """Table `name`; only its rows with one of these texts in a column."""


class Extract:
    """The tables that a part of the squads reads, with their rows alone: what travels."""

    def __init__(self, warehouse: Warehouse, squads: Sequence[str]) -> None:
        ids = warehouse.fetch("stg_athletes", squad=squads)["athlete_id"].to_list()
        self.tables = {name: warehouse.fetch(name, squad=squads) for name in OF_SQUADS}
        self.tables |= {name: warehouse.fetch(name, athlete_id=ids) for name in OF_ATHLETES}
        self.tables |= {name: warehouse.fetch(name) for name in (*OF_EXPORTS, *OF_ALL)}

    def fetch(self, name: str, **_: Sequence[str]) -> pl.DataFrame:
        """Table `name`; it holds no row of anybody else."""
        return self.tables[name]
