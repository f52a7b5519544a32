"""Pages rendered by the two workers of a real cluster on this machine: the same bytes."""

from pathlib import Path

import pytest
from distributed import LocalCluster

from pipeline.build import build
from pipeline.errors import SquadsidesError
from pipeline.report.workers import printers
from pipeline.settings import Settings
from tests.conftest import Quiet, built
from tests.end_to_end.small import contents, write_small_exports


def test_a_cluster_gives_the_same_bytes(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    built(exports, tmp_path / "here", skip_pdf=False)
    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=":0", silence_logs=50
    ) as cluster:
        build(
            exports, tmp_path / "there", Settings(), Quiet(), cluster=cluster.scheduler_address,
        )  # fmt: skip
    here, there = contents(tmp_path / "here"), contents(tmp_path / "there")
    del here[".last_build.json"], there[".last_build.json"]  # built from other arguments
    assert here == there
    assert sum(name.endswith(".pdf") for name in there) == 9


def test_a_cluster_that_is_not_there_is_told() -> None:
    with (
        pytest.raises(SquadsidesError, match=r"The cluster tcp://127\.0\.0\.1:9 cannot be reached"),
        printers(2, "tcp://127.0.0.1:9"),
    ):
        raise AssertionError("there is no such cluster")
