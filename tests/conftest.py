"""One build of the sample, shared by every test that looks at what people hold in their hands."""

import fcntl
import os
import pickle
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest

# Each of the test processes has a core to itself: more threads only get in each other's way.
os.environ.setdefault("POLARS_MAX_THREADS", "1")

from pipeline.build import build
from pipeline.errors import STOPS
from pipeline.last_build import Request, inputs_digest
from pipeline.last_lines import Summary
from pipeline.settings import Settings

SAMPLE = Path(__file__).parents[1] / "sample_exports"


class Quiet:
    """Progress that tells nobody, and keeps what a person should know."""

    def __init__(self) -> None:
        self.remarks: list[str] = []

    def step(self, text: str, total: int = 1) -> None:
        """Nothing to show."""

    def advance(self) -> None:
        """Nothing to show."""

    def remark(self, text: str) -> None:
        self.remarks.append(text)


@dataclass(frozen=True)
class Built:
    """A finished build and where it is."""

    reports: Path
    summary: Summary
    remarks: tuple[str, ...] = ()


def built(
    exports: Path,
    reports: Path,
    *,
    settings: Settings | None = None,
    as_of: date | None = None,
    workers: int = 2,
    skip_pdf: bool = True,
    pseudonyms: bool = False,
) -> Built:
    """Build without a console."""
    inputs = "" if settings else inputs_digest(exports, None, pseudonyms=pseudonyms)
    progress = Quiet()
    summary = build(
        exports,
        reports,
        settings or Settings(),
        progress,
        Request(inputs, as_of, not skip_pdf, pseudonyms),
        workers,
    )
    return Built(reports, summary, tuple(progress.remarks))


def once(
    folders: pytest.TempPathFactory, worker_id: str, name: str, make: Callable[[Path], Any]
) -> Any:
    """What `make` gives for a folder of that name: made by the first test process that asks."""
    place = folders.getbasetemp()
    if worker_id != "master":
        place = place.parent  # the folder all test processes of this run share
    finished = place / f"{name}.pickle"
    with (place / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not finished.exists():
            finished.write_bytes(pickle.dumps(make(place / name)))
    return pickle.loads(finished.read_bytes())


@pytest.fixture(autouse=True)
def _nobody_has_asked_to_stop() -> None:
    """Each test begins as a command does, whatever one before it was asked."""
    STOPS.clear()


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Built:
    """The sample with all its PDFs."""

    def make(reports: Path) -> Built:
        return built(SAMPLE, reports, skip_pdf=False)

    result: Built = once(tmp_path_factory, worker_id, "sample", make)
    return result
