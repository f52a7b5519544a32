"""The squads cut into parts, so that what follows never holds all of a large warehouse.

Nothing that is worked out from the rows reaches from one squad into another.
"""

from collections.abc import Sequence

import polars as pl

from pipeline.warehouse.stock import OF_ATHLETES, OF_EXPORTS
from pipeline.warehouse.store import Warehouse

ROWS = 400_000  # tests and sets of a part, where its squads are not larger; any ordinary club's


def squads_of(athletes: pl.DataFrame) -> list[str]:
    """The names of the squads of athletes, sorted."""
    return athletes["squad"].unique().sort().to_list()


def in_parts(warehouse: Warehouse, rows: int = ROWS) -> list[list[str]]:
    """Names of the squads in their order, together until they have so many rows."""
    roster = warehouse.fetch("raw_roster").select("athlete_id", "squad")
    counts = [warehouse.count_by(name, "athlete_id") for name in ("raw_trials", "raw_sets")]
    of_squad = dict.fromkeys(squads_of(roster), 0)
    for who, squad in roster.iter_rows():
        of_squad[squad] += sum(count.get(who, 0) for count in counts)
    parts: dict[int, list[str]] = {}
    before = 0
    for squad, count in of_squad.items():
        parts.setdefault(before // rows, []).append(squad)
        before += count
    return list(parts.values())


def rows_of(warehouse: Warehouse, squads: Sequence[str]) -> dict[str, pl.DataFrame]:
    """The rows that were read of the athletes of these squads, and what was read of the exports."""
    roster = warehouse.fetch("raw_roster", squad=squads)
    ids = roster["athlete_id"].to_list()
    of_them = {
        name: warehouse.fetch(name, athlete_id=ids) for name in OF_ATHLETES if name != "raw_roster"
    }
    return {"raw_roster": roster, **of_them, **{name: warehouse.fetch(name) for name in OF_EXPORTS}}
