"""Pages printed by the workers of a real cluster on this machine; what can be wrong with one."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from random import uniform
from threading import Thread, Timer
from typing import Any

import pytest
from distributed import Client, LocalCluster

from pipeline.build import build
from pipeline.errors import SquadsidesError
from pipeline.parts.cluster import LOST, cluster_printers
from pipeline.settings import Settings
from tests.conftest import Quiet, built
from tests.end_to_end.small import contents, write_small_exports
from tests.test_architecture import ROOT


def local(workers: int, **options: Any) -> LocalCluster:
    return LocalCluster(
        n_workers=workers, threads_per_worker=1, dashboard_address=":0", silence_logs=50, **options
    )


@pytest.fixture(scope="module")
def two() -> Iterator[LocalCluster]:
    with local(2) as cluster:
        yield cluster


@pytest.fixture(autouse=True)
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.parts.cluster.BETWEEN", 0.1)


@pytest.fixture
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.parts.cluster.ANSWERS", 1.0)
    monkeypatch.setattr("pipeline.parts.cluster.BEGUN", 0.5)


@contextmanager
def printing(address: str, remarks: list[str] | None = None) -> Iterator[Any]:
    with cluster_printers(address, (remarks if remarks is not None else []).append) as workers:
        yield workers


def test_a_cluster_gives_the_same_bytes(tmp_path: Path, two: LocalCluster) -> None:
    exports = write_small_exports(tmp_path / "exports")
    built(exports, tmp_path / "here", skip_pdf=False)
    build(exports, tmp_path / "there", Settings(), Quiet(), workers=two.scheduler_address)
    here, there = contents(tmp_path / "here"), contents(tmp_path / "there")
    del here[".last_build.json"], there[".last_build.json"]  # built from other arguments
    assert here == there
    assert sum(name.endswith(".pdf") for name in there) == 8 + 4


def test_a_worker_that_is_killed_changes_no_byte(tmp_path: Path) -> None:
    """Ended at any moment of its work; what it had is done by the other one."""
    exports = write_small_exports(tmp_path / "exports")
    built(exports, tmp_path / "here", skip_pdf=False)
    with local(2) as cluster:
        victim = next(iter(cluster.workers.values())).pid

        class Killing(Quiet):
            def step(self, text: str, total: int = 1) -> None:
                if text == "Writing the reports":
                    Timer(uniform(0, 1.5), os.kill, (victim, signal.SIGKILL)).start()

        address = cluster.scheduler_address
        build(exports, tmp_path / "there", Settings(), Killing(), workers=address)
    here, there = contents(tmp_path / "here"), contents(tmp_path / "there")
    del here[".last_build.json"], there[".last_build.json"]
    assert here == there


@pytest.mark.usefixtures("hasty")
def test_a_cluster_that_is_not_there_is_told() -> None:
    with (
        pytest.raises(SquadsidesError, match=r"The cluster tcp://127\.0\.0\.1:9 cannot be reached"),
        printing("tcp://127.0.0.1:9"),
    ):
        raise AssertionError("there is no such cluster")


@pytest.mark.usefixtures("hasty")
@pytest.mark.parametrize(
    "address", ["", "nowhere", "http://127.0.0.1:9", "tls://127.0.0.1:9", "tcp://", "tcp://a b:1"]
)
def test_an_address_that_is_none_is_told(address: str) -> None:
    with pytest.raises(SquadsidesError, match="cannot be reached"), printing(address or "tcp:"):
        raise AssertionError("there is no such cluster")


@pytest.mark.usefixtures("hasty")
@pytest.mark.parametrize("answer", [b"", b"HTTP/1.1 400 Bad Request\r\n\r\n"])
def test_somebody_else_at_the_address_is_told(answer: bytes) -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as server:

        def serve() -> None:
            while True:
                try:
                    caller, _ = server.accept()
                except OSError:
                    return
                callers.append(caller)
                if answer:
                    caller.sendall(answer)

        callers: list[socket.socket] = []
        Thread(target=serve, daemon=True).start()
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        with pytest.raises(SquadsidesError, match="cannot be reached"), printing(address):
            raise AssertionError("there is no such cluster")


def test_a_cluster_without_workers_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.parts.cluster.BEGUN", 0.5)
    with (
        local(0) as cluster,
        pytest.raises(SquadsidesError, match="has no workers"),
        printing(cluster.scheduler_address),
    ):
        raise AssertionError("nobody works there")


def of_another_version() -> None:
    """On a worker: from now on its program has another digest."""
    import pipeline.last_build

    pipeline.last_build.tools_digest.__code__ = (lambda: "another").__code__


def without_the_program() -> None:
    """On a worker: from now on the program cannot be imported."""
    for name in [*sys.modules]:
        if name.partition(".")[0] == "pipeline":
            sys.modules[name] = None  # type: ignore[assignment]


def test_a_worker_of_another_version_gets_no_work() -> None:
    remarks: list[str] = []
    with local(2) as cluster, Client(cluster) as client:
        other, same = (worker.worker_address for worker in cluster.workers.values())
        client.run(of_another_version, workers=[other])
        with printing(cluster.scheduler_address, remarks) as workers:
            pids = {workers.submit(os.getpid).result() for _ in range(6)}
            assert pids == {client.run(os.getpid, workers=[same])[same]}
        [remark] = remarks
        assert other in remark and same not in remark
        assert "has another version of the program" in remark
        client.run(without_the_program, workers=[same])
        with (
            pytest.raises(SquadsidesError, match="has not got the program") as told,
            printing(cluster.scheduler_address),
        ):
            raise AssertionError("nobody may print there")
        assert other in str(told.value) and same in str(told.value)


def test_who_waits_for_the_last_worker_learns_that_it_is_lost() -> None:
    with local(1) as cluster:
        worker = next(iter(cluster.workers.values()))
        with printing(cluster.scheduler_address) as workers:
            waiting = [workers.submit(time.sleep, 60) for _ in range(3)]
            worker.auto_restart = False
            os.kill(worker.pid, signal.SIGKILL)
            for one in waiting:
                with pytest.raises(SquadsidesError, match=LOST):
                    one.result(timeout=20)
            with pytest.raises(SquadsidesError, match=LOST):
                workers.submit(time.sleep, 0)


def test_who_waits_for_a_scheduler_that_is_gone_learns_it() -> None:
    scheduler = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", "0",
         "--no-dashboard", "--host", "127.0.0.1"],
        cwd=ROOT, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert scheduler.stderr is not None
    address = next(line.split()[-1] for line in scheduler.stderr if "Scheduler at:" in line)
    worker = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_worker", address, "--no-nanny", "--nthreads",
         "1", "--no-dashboard"],
        cwd=ROOT, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        with printing(address) as workers:
            waiting = workers.submit(time.sleep, 60)
            scheduler.kill()
            with pytest.raises(SquadsidesError, match=LOST):
                waiting.result(timeout=20)
    finally:
        for process in (scheduler, worker):
            process.kill()
            process.wait()
        scheduler.stderr.close()


def test_an_error_of_a_page_stays_the_page_s(two: LocalCluster) -> None:
    with printing(two.scheduler_address) as workers, pytest.raises(ZeroDivisionError):
        workers.submit(divmod, 1, 0).result()
