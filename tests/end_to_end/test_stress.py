"""Squads that strain every page: the PDFs keep to paper, to people's ears and to plain words."""

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pypdf
import pytest
import weasyprint
from outloud.model import Document

from pipeline.report.pdf import render, typeface
from pipeline.settings import ReportSettings, Settings
from tests.conftest import Built, built, once
from tests.end_to_end.pdf_checks import CHECK_NAMES, faults, said, text_of
from tests.end_to_end.stress import (
    ALONE,
    FAR_FROM_LATIN,
    FORTY,
    LATIN,
    MARKUP,
    NAMESAKES,
    NOTES,
    OTHER_SCRIPTS,
    STRAINED,
    athlete_ids,
    write_few,
    write_stress,
)

Found = dict[str, dict[str, list[str]]]  # PDF, check, faults
SPECIAL = [*LATIN, *OTHER_SCRIPTS, *MARKUP, *FAR_FROM_LATIN]
LOOKED_AT = [*SPECIAL, "S-90", "O-01", "F-01", "F-07", "F-40"]
ON_LETTER = ["S-04", "S-07", "S-09", "S-18"]
QUOTED = [*MARKUP.values(), *NOTES]


def report_of(build: Built) -> Callable[[str], Path]:
    return lambda who: build.reports / "athletes" / f"{who}.pdf"


def all_of(found: Found, check: str) -> list[str]:
    return [f"{name}: {fault}" for name, by_check in found.items() for fault in by_check[check]]


@pytest.fixture(scope="session")
def stress(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Built:
    """Three strained squads on A4."""

    def make(place: Path) -> Built:
        write_stress(place / "exports")
        return built(place / "exports", place / "reports", skip_pdf=False)

    result: Built = once(tmp_path_factory, worker_id, "stress", make)
    return result


@pytest.fixture(scope="session")
def letter(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Found:
    """What is found where a few of them are printed on Letter."""

    def make(place: Path) -> Found:
        write_few(place / "exports", ON_LETTER)
        settings = Settings(report=ReportSettings(page_size="Letter"))
        build = built(place / "exports", place / "reports", settings=settings, skip_pdf=False)
        return {path.stem: faults(path, "Letter", QUOTED) for path in build.reports.rglob("*.pdf")}

    result: Found = once(tmp_path_factory, worker_id, "letter", make)
    return result


@pytest.fixture(scope="session")
def found(stress: Built, tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Found:
    """What is found in the packs and in the reports of the special athletes."""

    def make(_: Path) -> Found:
        paths = [*stress.reports.glob("squad_*.pdf"), *map(report_of(stress), LOOKED_AT)]
        return {path.stem: faults(path, "A4", QUOTED) for path in paths}

    result: Found = once(tmp_path_factory, worker_id, "stress_found", make)
    return result


@pytest.mark.parametrize("check", CHECK_NAMES)
def test_on_a4_no_page_has(check: str, found: Found) -> None:
    assert len(found) == 2 * 3 + len(LOOKED_AT)
    assert all_of(found, check) == []


@pytest.mark.parametrize("check", CHECK_NAMES)
def test_on_letter_no_page_has(check: str, letter: Found) -> None:
    assert len(letter) == 4 + len(ON_LETTER)  # pack, reference, two sheets
    assert all_of(letter, check) == []


@pytest.mark.parametrize("who", ["S-16", "S-17"])
def test_a_right_to_left_name_begins_at_the_right(who: str, stress: Built) -> None:
    document = Document(str(report_of(stress)(who)))
    heading = next(element for element in document.elements if element.type == "H1")
    assert text_of(document, heading)[::-1] == OTHER_SCRIPTS[who]
    document.close()


@pytest.mark.parametrize("who", SPECIAL)
def test_a_report_is_at_most_two_pages(who: str, stress: Built) -> None:
    assert len(pypdf.PdfReader(report_of(stress)(who)).pages) <= 2


@pytest.mark.parametrize("who", LATIN)
def test_a_report_is_small(who: str, stress: Built) -> None:
    assert report_of(stress)(who).stat().st_size <= 60_000


def test_everybody_has_a_report_and_every_squad_a_pack(stress: Built) -> None:
    reports = {path.stem for path in stress.reports.glob("athletes/*.pdf")}
    assert reports == {who for squad in (STRAINED, ALONE, FORTY) for who in athlete_ids(squad)}
    packs = {path.stem for path in stress.reports.glob("squad_*.pdf")}
    named = {f"squad_{squad}" for squad in (STRAINED, ALONE, FORTY)}
    assert packs == named | {f"{name}_reference" for name in named}


@pytest.mark.parametrize("who", [*MARKUP, "S-07"])
def test_a_name_stands_as_it_was_written(who: str, stress: Built) -> None:
    title = str(pypdf.PdfReader(report_of(stress)(who)).metadata.title)
    assert title == f"{ {**LATIN, **MARKUP}[who] }: your left and right"


def test_no_cell_of_the_decision_sheet_is_a_formula(stress: Built) -> None:
    sheet = openpyxl.load_workbook(stress.reports / "decisions.xlsx").active
    assert sheet is not None
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert MARKUP["S-19"] in [cell.value for cell in cells]
    assert [cell.coordinate for cell in cells if cell.data_type == "f"] == []


def pack_of(stress: Built, squad: str, end: str = "") -> str:
    return said(stress.reports / f"squad_{squad}{end}.pdf")


def test_a_strained_pack_keeps_to_its_pages(stress: Built) -> None:
    """31, 1 and 40 athletes; 8 pages for two dozen, 10 for forty."""
    for squad, most in ((STRAINED, 9), (ALONE, 5), (FORTY, 10)):
        assert len(pypdf.PdfReader(stress.reports / f"squad_{squad}.pdf").pages) <= most


def test_no_letter_is_named_that_the_typefaces_of_the_program_have(stress: Built) -> None:
    assert stress.remarks == ()


def test_a_held_file_is_told_by_name_to_its_own_squad_alone(stress: Built) -> None:
    told = "pasted.csv: one side looks copied to the other on 20 Nov: left and right are equal"
    assert told in pack_of(stress, STRAINED)
    for squad in (ALONE, FORTY):
        assert "looks copied" not in pack_of(stress, squad)
        assert "looks copied" in pack_of(stress, squad, "_reference").split("Files and rows")[1]


def test_two_of_one_name_are_told_apart(stress: Built) -> None:
    text = pack_of(stress, FORTY)
    for who, name in NAMESAKES.items():
        assert f"{name} ({who})" in text


@pytest.mark.parametrize(
    ("who", "sentence"),
    [
        ("S-02", "So far there is one day of each test (Single-leg jump height). Nothing"),
        ("S-03", "Both sides get the same from today, left first: in the last weeks your log has"),
        ("S-11", "Calf raise reps: 0 on the left, 12 on the right on 20 Nov. A retest will tell."),
        ("S-12", "Single hop: these files hold your left side only. The right is needed to"),
    ],
)
def test_what_is_missing_is_said(who: str, sentence: str, stress: Built) -> None:
    assert sentence in said(report_of(stress)(who))


def test_a_loss_of_one_side_and_pain_are_said_first(stress: Built) -> None:
    text = pack_of(stress, STRAINED)
    assert "below its own last weeks on 20 Nov; the right side has not clearly fallen." in text
    assert "Pain 6 of 10" in text


HEAD = "<title>Left and right</title><style>@page{size:A4;margin:18mm} h1{font:20px serif}</style>"
BAD_PAGES = {
    "rules": "<h1>A</h1><h3>Two levels deeper</h3>",
    "empty_elements": "<h1>A</h1><p>b <span style='border:1px solid'></span></p>",
    "unread_content": "<style>@page{margin:70mm; @bottom-left{content:'on every page';"
    "vertical-align:top}}</style><h1>A</h1>",  # out of the tree; as an artifact too far up
    "alternative_texts": "<h1>A</h1><img alt='chart' src=\"{chart}\">",
    "bookmarks": "<h1 style='bookmark-level:none'>A</h1><p>b</p>",
    "reading_order": "<h1>A</h1><p style='position:relative;top:9em'>last</p><p>first</p>",
    "cut_off": "<h1 style='white-space:nowrap'>" + "A long name " * 20 + "</h1>",
    "overprinted": "<h1>A</h1><p>below</p><p style='margin-top:-2.2em'>above</p>",
    "missing_glyphs": "<h1>A \U0001f9ff\U000e0041 \ue123</h1>",
    "wording": "<h1>A</h1><p>1 tests is {{ missing }}, None of of them.</p>",
    "page_size": "<style>@page{size:A5}</style><h1>A</h1>",
}


@pytest.mark.parametrize("check", CHECK_NAMES)
def test_each_check_finds_what_it_is_for(check: str, tmp_path: Path) -> None:
    chart = "data:image/svg+xml,<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>"
    html = f"<html lang='en'>{HEAD}{BAD_PAGES[check].replace('{chart}', chart)}"
    path = tmp_path / "bad.pdf"
    # With our typefaces: what a process has printed with others once, it goes on to find.
    fonts = render._fonts(typeface.ours())
    weasyprint.HTML(string=html).write_pdf(
        path, font_config=fonts, pdf_variant="pdf/ua-1", pdf_tags=True
    )
    assert faults(path, "A4")[check]
