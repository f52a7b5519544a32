"""A file that looks wrong is released by its name, and a name that is none is not passed over."""

import unicodedata
from pathlib import Path

import pytest

from pipeline.__main__ import main
from tests.end_to_end.small import ATHLETES, FIRST, write_small_exports

HELD = "Prüfung_März.csv"


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    """A small squad's exports, one of them with the right side copied to the left."""
    folder = write_small_exports(tmp_path / "exports")
    lines = ["athlete_id,tested_on,test,side,trial,value,unit"]
    for place, who in enumerate(ATHLETES):
        for side in ("left", "right"):
            for trial in (1, 2, 3):
                value = 500 + 9 * place + 3.7 * trial
                lines.append(f"{who},{FIRST},triple_hop,{side},{trial},{value:.2f},cm")
    (folder / unicodedata.normalize("NFC", HELD)).write_text("\n".join(lines) + "\n")
    return folder


def run(capsys: pytest.CaptureFixture[str], command: str, exports: Path, trust: list[str]) -> str:
    settings = exports.parent / "team.toml"
    settings.write_text(f"trust = {trust!r}\n", encoding="utf-8")
    folders = ["--exports", str(exports), "--settings", str(settings)]
    if command == "build":
        folders += ["--reports", str(exports.parent / "reports"), "--skip-pdf"]
    assert main([command, *folders]) == 0
    return capsys.readouterr().out


UNKNOWN = (
    "The settings trust Pruefung_Maerz.csv, but no file of the exports is called that, so it "
    f"releases nothing; nearest: {HELD}."
)


@pytest.mark.parametrize("command", ["build", "check"])
def test_a_name_under_trust_that_is_no_file_is_told_with_the_nearest(
    command: str, exports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = run(capsys, command, exports, ["Pruefung_Maerz.csv", "tests.csv"])
    assert UNKNOWN in told
    assert "trust tests.csv" not in told


@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_neither_case_nor_how_a_system_spells_accents_matters(
    form: str, exports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """macOS takes letters and their accents apart, and people write names as they please."""
    assert f"Held out of the estimates: {HELD}" in run(capsys, "build", exports, [])
    name = unicodedata.normalize(form, HELD.upper())  # type: ignore[arg-type]
    told = run(capsys, "build", exports, [name])
    assert "Held out" not in told
    assert "releases nothing" not in told
    assert "used all the same" in (exports.parent / "reports" / "intake.csv").read_text("utf-8")
