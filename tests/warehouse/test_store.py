"""The warehouse where the machine has too little of something."""

from pathlib import Path

import duckdb
import pytest

from pipeline.errors import SquadsidesError
from pipeline.warehouse import Warehouse
from pipeline.warehouse.database import MOST_CORES


def test_too_little_memory_is_one_plain_sentence() -> None:
    """DuckDB adds advice for programmers, line by line (seen with 64 threads and 400 MB)."""
    said = "Out of Memory Error: failed to pin block of size 256.0 KiB (381.3 MiB/381.4 MiB used)"
    with (
        pytest.raises(SquadsidesError, match=r"opened: failed to pin block .* used\)\.$") as told,
        Warehouse(),
    ):
        raise duckdb.OutOfMemoryException(f"{said}\n\nPossible solutions:\n* Reducing: 2")
    assert "\n" not in str(told.value)


def test_a_warehouse_file_takes_bounded_memory_on_machines_of_any_size(tmp_path: Path) -> None:
    with Warehouse(tmp_path / "warehouse.duckdb") as warehouse:
        settings = "select current_setting('memory_limit'), current_setting('threads')"
        limit, threads = warehouse.connection.execute(settings).fetchall()[0]
    assert limit == "381.4 MiB"
    assert threads <= MOST_CORES
    assert [path.name for path in tmp_path.iterdir()] == ["warehouse.duckdb"]
