"""The squads cut into parts, so that what follows never holds all of a large warehouse.

Nothing that is worked out from the rows reaches from one squad into another.
"""

import polars as pl

from pipeline.warehouse.store import Warehouse

ROWS = 400_000  # tests and sets of a part, where its squads are not larger; any ordinary club's


def squads_of(athletes: pl.DataFrame) -> list[str]:
    """The names of the squads of athletes, sorted."""
    return athletes["squad"].unique().sort().to_list()


def in_parts(warehouse: Warehouse, rows: int = ROWS) -> list[list[str]]:
    """Names of the squads in their order, together until they have so many rows."""
    tests, sets = (warehouse.count_by(name, "squad") for name in ("stg_trials", "stg_sets"))
    parts: dict[int, list[str]] = {}
    before = 0
    for squad in squads_of(warehouse.fetch("stg_athletes")):
        parts.setdefault(before // rows, []).append(squad)
        before += tests.get(squad, 0) + sets.get(squad, 0)
    return list(parts.values())
