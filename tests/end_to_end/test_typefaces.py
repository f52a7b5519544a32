"""Whatever typefaces a machine has, the pages are the same; it lends only what ours lack."""

import os
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import matplotlib
import pypdf
import pytest
from fontTools.ttLib import TTFont

from pipeline.report.pdf.typeface import folder
from tests.conftest import SAMPLE, Built
from tests.end_to_end.small import contents, write_small_exports
from tests.test_architecture import ROOT

# No typeface that comes along has Tifinagh or Cherokee; DejaVu, which comes with matplotlib, has
# the one and not the other.
BLUES = {"sheets/training_Blues.pdf", "squad_Blues.pdf", "squad_Blues_reference.pdf"}
ALSO = ", ".join(sorted(BLUES))
NAMES = {
    "BL-1": "ليلى 王小石",
    "BL-2": "प्रियंका สมหญิง",
    "BL-3": "ⵜⵉⵍⵍⵉ Ελένη",
    "BL-4": "ᏌᎳᏂ Ана",
}


def settings(folder: Path, *fonts: Path) -> Path:
    """A fontconfig of a machine that has the fonts in these folders."""
    places = "".join(f"<dir>{place}</dir>" for place in fonts)
    file = folder / "machine.conf"
    file.write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">'
        f"<fontconfig>{places}<cachedir>{folder}/cache</cachedir></fontconfig>"
    )
    return file


@pytest.fixture(scope="module")
def hidden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A machine without typefaces."""
    return settings(tmp_path_factory.mktemp("hidden"))


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A machine with dozens, among them others by the names of ours."""
    place = tmp_path_factory.mktemp("many")
    other = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name in ("SourceSans3-400.ttf", "NotoSansThai-400.ttf"):
        with TTFont(folder() / name) as ours, TTFont(other / "DejaVuSerif.ttf") as font:
            font["name"] = ours["name"]
            font.save(place / f"other-{name}")
    return settings(place, place, other)


def build(exports: Path, reports: Path, machine: Path) -> str:
    """One build in a process of its own, on that machine; what it printed."""
    command = [sys.executable, "-m", "pipeline", "build", "--exports", str(exports)]
    done = subprocess.run(
        [*command, "--reports", str(reports)],
        cwd=ROOT, env={**os.environ, "FONTCONFIG_FILE": str(machine)}, capture_output=True,
        text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Exports of a small squad with names of many scripts."""
    exports = write_small_exports(tmp_path_factory.mktemp("named"))
    roster = (exports / "roster.csv").read_text()
    for who, name in NAMES.items():
        roster = roster.replace(f"Person {who}", name)
    (exports / "roster.csv").write_text(roster)
    return exports


class Made(NamedTuple):
    """What a build printed, its reports folder, and what was in it then."""

    said: str
    reports: Path
    files: dict[str, bytes]


@pytest.fixture(scope="module")
def on_hidden(named: Path, hidden: Path, tmp_path_factory: pytest.TempPathFactory) -> Made:
    reports = tmp_path_factory.mktemp("on_hidden") / "reports"
    return Made(build(named, reports, hidden), reports, contents(reports))


@pytest.fixture(scope="module")
def on_many(named: Path, many: Path, tmp_path_factory: pytest.TempPathFactory) -> Made:
    reports = tmp_path_factory.mktemp("on_many") / "reports"
    return Made(build(named, reports, many), reports, contents(reports))


def typefaces(pdf: Path) -> set[str]:
    """Families embedded in a PDF, without weights."""
    found = set()
    for page in pypdf.PdfReader(pdf).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            name = str(font.get_object()["/BaseFont"])
            found.add(name.partition("+")[2].strip(",").removesuffix("-Semi-Bold"))
    return found


@pytest.mark.night  # as the names below, with ten times the pages
def test_the_sample_is_the_same_to_the_byte(sample: Built, many: Path, tmp_path: Path) -> None:
    build(SAMPLE, tmp_path / "reports", many)
    others, ours = contents(tmp_path / "reports"), contents(sample.reports)
    assert sum(name.endswith(".pdf") for name in ours) > 50
    assert {name for name in ours | others if others.get(name) != ours.get(name)} == set()


def test_names_that_ours_can_write_are_the_same_to_the_byte(on_hidden: Made, on_many: Made) -> None:
    one, other = on_hidden.files, on_many.files
    differ = {name for name in one | other if one.get(name) != other.get(name)}
    borrowed = {"athletes/BL-3.pdf", "athletes/BL-4.pdf", *BLUES}
    assert {name for name in differ if name.endswith(".pdf")} <= borrowed
    assert "athletes/BL-3.pdf" in differ


def test_letters_that_nobody_has_are_named_at_the_end(on_hidden: Made, on_many: Made) -> None:
    said = "No typeface of this program or of this machine has"
    assert f"{said} Ꮃ Ꮒ Ꮜ ⵉ ⵍ ⵜ, so boxes" in on_hidden.said
    assert f"{said} Ꮃ Ꮒ Ꮜ, so boxes" in on_many.said
    assert f"in athletes/BL-3.pdf, athletes/BL-4.pdf, {ALSO}." in on_hidden.said
    also = "squad_Blues.pdf, squad_Blues_reference.pdf."  # BL-4 is on no sheet
    assert f"in athletes/BL-4.pdf, {also}" in on_many.said


def test_a_machine_lends_only_what_ours_lack(on_hidden: Made, on_many: Made) -> None:
    assert typefaces(on_hidden.reports / "athletes" / "BL-3.pdf") == {"Source-Sans-3"}
    lent = typefaces(on_many.reports / "athletes" / "BL-3.pdf")
    assert {"Source-Sans-3"} < lent
    assert all(name.startswith("DejaVu") for name in lent - {"Source-Sans-3"})
    for who in ("BL-1", "BL-2"):
        assert typefaces(on_many.reports / "athletes" / f"{who}.pdf") <= {
            "Source-Sans-3", "Source-Sans-3-Light", "IBM-Plex-Sans-Arabic", "Noto-Sans-CJK-SC",
            "Noto-Sans-Devanagari", "Noto-Sans-Thai",
        }  # fmt: skip


def test_a_typeface_set_up_later_brings_out_what_lacked_it(
    named: Path, many: Path, on_hidden: Made, on_many: Made
) -> None:
    """On the folder that the poorer machine left; nothing but those pages is made again."""
    reports = on_hidden.reports
    before = {name: (reports / name).stat().st_mtime_ns for name in on_hidden.files}
    build(named, reports, many)
    assert contents(reports) == on_many.files
    again = {name for name in before if (reports / name).stat().st_mtime_ns != before[name]}
    pages = {name for name in again if name.endswith(".pdf")}
    assert pages == {"athletes/BL-3.pdf", "athletes/BL-4.pdf", *BLUES}
