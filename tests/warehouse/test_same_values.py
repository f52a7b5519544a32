"""Two builds of the same week hold equal values in every table, to the last digit."""

import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline.intake import read_exports
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse, database
from pipeline.warehouse.stock import newest_day, raw_frames, stock
from tests.conftest import SAMPLE, Built, built

Tables = dict[str, list[str]]


def tables(connection: duckdb.DuckDBPyConnection) -> Tables:
    """Every row of every table as text, in which any two numbers differ; rows have no order."""
    found = connection.execute("select table_name from duckdb_tables()").fetchall()
    return {name: sorted(map(repr, connection.table(name).fetchall())) for (name,) in found}


def assert_equal(one: Tables, other: Tables) -> None:
    assert one.keys() == other.keys()
    apart = {name: set(one[name]) ^ set(other[name]) for name in one if one[name] != other[name]}
    assert {name: sorted(rows)[:2] for name, rows in apart.items()} == {}


def written(reports: Path) -> Tables:
    with duckdb.connect(str(reports / "warehouse.duckdb"), read_only=True) as connection:
        return tables(connection)


@pytest.mark.slow
def test_any_number_of_threads_and_any_order_of_arrival_give_equal_values(
    sample: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sample with its pages, printed by two workers, beside a build that has other threads."""
    exports = tmp_path / "exports"
    exports.mkdir()
    for file in sorted(SAMPLE.iterdir(), reverse=True):
        shutil.copy(file, exports)
    monkeypatch.setitem(database.IN_FILE, "threads", 1 if database.IN_FILE["threads"] == 4 else 7)
    build = built(exports, tmp_path / "reports")
    assert_equal(written(sample.reports), written(build.reports))


def test_rows_in_any_order_give_equal_values() -> None:
    """Sums of decimals hang on their order; that of the rows must be none of it."""
    intake = read_exports(SAMPLE, Settings())

    def stocked(seed: int | None) -> Tables:
        frames = raw_frames(intake)
        if seed is not None:
            frames |= {  # of decisions, which stands is a matter of their order
                name: frame.sample(fraction=1, shuffle=True, seed=seed)
                for name, frame in frames.items()
                if name != "raw_decisions"
            }
        with Warehouse() as warehouse:
            stock(warehouse, frames, newest_day(intake), Settings())
            return tables(warehouse.connection)

    plain = stocked(None)
    assert sum(map(len, plain.values())) > 50_000
    assert_equal(plain, stocked(1))
