"""The doctor finds what is wrong and says how to mend it."""

import ast
import shutil
import subprocess
import sys
from collections import namedtuple
from importlib import metadata
from pathlib import Path

import pytest

from pipeline.commands import doctor
from tests.end_to_end.small import write_small_exports
from tests.test_architecture import ROOT


def to_mend(exports: Path, reports: Path, settings: Path | None = None) -> list[tuple[str, str]]:
    return [finding for finding in doctor.examine(exports, reports, settings) if finding[1]]


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    return write_small_exports(tmp_path / "exports")


def test_a_sound_machine_needs_no_mending(exports: Path, tmp_path: Path) -> None:
    assert to_mend(exports, tmp_path / "reports") == []
    assert not (tmp_path / "reports").exists()


def test_a_missing_folder(tmp_path: Path) -> None:
    [(found, mend)] = to_mend(tmp_path / "exports", tmp_path / "reports")
    assert found == f"there is no folder {tmp_path / 'exports'}"
    assert mend == "create it and put the exports into it"


def test_reports_that_others_can_read(exports: Path, tmp_path: Path) -> None:
    (tmp_path / "reports").mkdir()
    (tmp_path / "reports").chmod(0o755)
    [(found, mend)] = to_mend(exports, tmp_path / "reports")
    assert found.endswith("can be read by others on this machine")
    assert mend.startswith("type `chmod -R go-rwx ")


def test_a_place_that_cannot_be_written(exports: Path) -> None:
    place = Path("/proc") if Path("/proc").exists() else Path("/")
    [(found, _)] = to_mend(exports, place / "reports")[:1]
    assert found.startswith(f"{place} cannot be written: ")


def test_a_full_disk(exports: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda place: usage(10**9, 10**9, 3 * 10**6))
    assert to_mend(exports, tmp_path) [-1:] == [
        ("3 MB are free for the reports", "make room: at least 500 MB")
    ]  # fmt: skip


def test_a_missing_package(exports: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def version(name: str) -> str:
        if name == "scipy":
            raise metadata.PackageNotFoundError(name)
        return "1"

    monkeypatch.setattr(doctor, "version", version)
    assert to_mend(exports, tmp_path / "reports") == [
        ("missing packages: scipy", "run `make`; it installs them")
    ]


def test_settings_that_cannot_be_used(exports: Path, tmp_path: Path) -> None:
    settings = tmp_path / "team.toml"
    settings.write_text("[report]\npaper = 4\n")
    [(found, mend)] = to_mend(exports, tmp_path / "reports", settings)
    assert found == f"{settings} cannot be used"
    assert "paper is not a setting here" in mend


def test_a_language_nobody_wrote_is_found_before_a_build(exports: Path, tmp_path: Path) -> None:
    settings = tmp_path / "team.toml"
    settings.write_text('[report]\nlanguage = "klingon"\n')
    [(_, mend)] = to_mend(exports, tmp_path / "reports", settings)
    assert mend.startswith("There is no language klingon")


@pytest.mark.parametrize(("minor", "newer"), [(14, False), (15, True)])
def test_a_python_nobody_has_tried_is_named(
    minor: int, newer: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "version_info", (3, minor, 1))
    found = f"Python 3.{minor}.1"
    more = ", newer than 3.14, the latest this was tested with"
    assert doctor._python() == (found + more if newer else found, "")


def test_a_python_that_is_too_old_is_one_sentence() -> None:
    """Of every command, before anything that such a Python cannot read."""
    old = "import sys; sys.version_info = (3, 10, 13, 'final', 0); import pipeline"
    done = subprocess.run([sys.executable, "-c", old], cwd=ROOT, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == (
        "squadsides needs Python 3.11.2 or newer, and this is Python 3.10.13. After `make`, "
        "`.venv/bin/python` is the right one.\n"
    )


@pytest.mark.parametrize("file", ["pipeline/__init__.py", "pipeline/version.py"])
def test_what_says_so_can_be_read_by_an_older_python(file: str) -> None:
    ast.parse((ROOT / file).read_text("utf-8"), feature_version=(3, 6))
