"""The folder of the exports is the user's own: nothing is written into it, whatever its name."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.__main__ import main
from pipeline.errors import SquadsidesError
from pipeline.folders import check_apart
from tests.end_to_end.small import write_small_exports


@pytest.fixture
def exports(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A small squad's exports; what is run from here on stands beside them."""
    umask = os.umask(0o077)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "link").symlink_to("exports", target_is_directory=True)
    yield write_small_exports(tmp_path / "exports")
    os.umask(umask)


def names(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b""
        for path in sorted(folder.rglob("*"))
    }


OVERLAPPING = [
    ("exports", "exports", "are the same folder"),
    ("exports", "exports/", "are the same folder"),
    ("exports", "./exports/../exports", "are the same folder"),
    ("exports", "link", "are the same folder"),
    ("link", "exports", "are the same folder"),
    ("exports", "exports/reports", "lies inside the exports folder"),
    ("exports", "link/this/week", "lies inside the exports folder"),
    ("link/", "exports/reports", "lies inside the exports folder"),
    ("exports", ".", "lies inside the reports folder"),
    ("link", "..", "lies inside the reports folder"),
    ("nowhere", "nowhere", "are the same folder"),
    ("nowhere", "nowhere/reports", "lies inside the exports folder"),
]


@pytest.mark.parametrize(("given", "reports", "said"), OVERLAPPING)
@pytest.mark.parametrize("command", ["build", "forget"])
def test_reports_and_exports_in_one_another_are_refused_before_anything_is_written(
    command: str,
    given: str,
    reports: str,
    said: str,
    exports: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    before = names(tmp_path)
    more = ["--skip-pdf"] if command == "build" else ["BL-3"]
    assert main([command, "--exports", given, "--reports", reports, *more]) == 1
    told = capsys.readouterr().err
    assert said in told
    assert "choose a folder of its own for the reports" in told
    assert names(tmp_path) == before


def test_an_absolute_path_is_the_same_folder(
    exports: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["build", "--exports", "exports", "--reports", str(exports), "--skip-pdf"]) == 1
    assert "are the same folder" in capsys.readouterr().err
    assert not (exports / "flags.csv").exists()


def test_the_doctor_tells_of_it(exports: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["doctor", "--exports", "exports", "--reports", "exports/reports"]) == 1
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("mend")]
    assert len(told) == 1
    assert "exports/reports lies inside the exports folder" in told[0]
    assert not (exports / "reports").exists()


def test_folders_side_by_side_are_two_even_where_one_name_begins_the_other(
    exports: Path, tmp_path: Path
) -> None:
    (tmp_path / "exports_of_april").mkdir()
    for reports in ("reports", "exports_reports", "exports_of_april", "exports/../reports"):
        check_apart(Path("exports"), Path(reports))
    # A link that lies among the exports and leads elsewhere writes nothing there.
    (exports / "elsewhere").symlink_to(tmp_path / "exports_of_april")
    check_apart(exports, exports / "elsewhere")


def test_a_file_system_that_folds_case_is_believed(
    exports: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On such a system `EXPORTS` is there once `exports` is, and it is the same folder."""
    real = Path.samefile

    def folding(self: Path, other: Path) -> bool:
        return real(Path(str(self).replace("EXPORTS", "exports")), other)

    monkeypatch.setattr(Path, "samefile", folding)
    with pytest.raises(SquadsidesError, match="lies inside the exports folder"):
        check_apart(exports, tmp_path / "EXPORTS" / "reports")
