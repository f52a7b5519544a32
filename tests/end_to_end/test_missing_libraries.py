"""A machine without the native libraries of the PDF writer."""

import os
import subprocess
import sys
from contextlib import nullcontext
from pathlib import Path

import pytest

from pipeline.build import build
from pipeline.errors import SquadsidesError
from pipeline.parts.places import InPlace
from pipeline.settings import Settings
from tests.conftest import SAMPLE, Quiet
from tests.end_to_end.small import write_small_exports

BROKEN = "raise OSError(\"cannot load library 'libpango-1.0-0'\")\n"


def test_missing_libraries_are_one_sentence_and_touch_nothing(tmp_path: Path) -> None:
    package = tmp_path / "lacking" / "weasyprint"
    package.mkdir(parents=True)
    (package / "__init__.py").write_text(BROKEN)
    reports = tmp_path / "reports"
    reports.mkdir()
    (reports / "notes.txt").write_text("mine")
    done = subprocess.run(
        [sys.executable, "-m", "pipeline", "build", "--exports", SAMPLE, "--reports", reports],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(package.parent)},
    )
    assert done.returncode == 1
    *steps, told = done.stderr.splitlines()
    assert told.startswith("squadsides: The libraries that write PDFs are not installed completely")
    assert all(step.endswith("…") for step in steps)
    assert [path.name for path in reports.iterdir()] == ["notes.txt"]


def test_they_are_told_before_anything_is_estimated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> None:
        raise SquadsidesError("libraries are missing")

    steps: list[str] = []

    class Steps(Quiet):
        def step(self, text: str, total: int = 1) -> None:
            steps.append(text)

    monkeypatch.setattr("pipeline.parts.places.printers", lambda *_: nullcontext(InPlace()))
    monkeypatch.setattr("pipeline.build.prepare", missing)
    exports = write_small_exports(tmp_path / "exports")
    with pytest.raises(SquadsidesError, match="libraries are missing"):
        build(exports, tmp_path / "reports", Settings(), Steps())
    assert steps == ["Reading the exports"]
    assert not (tmp_path / "reports").exists()
