"""One build of the sample, shared by every test that looks at what people hold in their hands."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from pipeline.build import Summary, build
from pipeline.settings import Settings

SAMPLE = Path(__file__).parents[1] / "sample_exports"


class Quiet:
    """Progress that tells nobody."""

    def step(self, text: str, total: int = 1) -> None:
        """Nothing to show."""

    def advance(self) -> None:
        """Nothing to show."""


@dataclass(frozen=True)
class Built:
    """A finished build and where it is."""

    reports: Path
    summary: Summary


def built(
    exports: Path,
    reports: Path,
    *,
    settings: Settings | None = None,
    as_of: date | None = None,
    workers: int = 2,
    skip_pdf: bool = True,
) -> Built:
    """Build without a console."""
    summary = build(exports, reports, settings or Settings(), Quiet(), as_of, workers, skip_pdf)
    return Built(reports, summary)


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Built]:
    """The sample with all its PDFs."""
    yield built(SAMPLE, tmp_path_factory.mktemp("sample"), skip_pdf=False)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Send every test of the built sample to one worker, so that it is built once."""
    for item in items:
        if "sample" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.xdist_group("sample"))
