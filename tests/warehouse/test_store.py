"""The warehouse while somebody stops the build."""

import pytest

from pipeline.warehouse import Warehouse


def test_ctrl_c_within_a_statement_stops_the_build_as_anywhere_else() -> None:
    """DuckDB raises this of its own (seen in builds stopped by the tests of crashes)."""
    with pytest.raises(KeyboardInterrupt), Warehouse():
        raise RuntimeError("Query interrupted")


def test_any_other_error_stays_what_it_is() -> None:
    with pytest.raises(RuntimeError, match="something else"), Warehouse():
        raise RuntimeError("something else")
