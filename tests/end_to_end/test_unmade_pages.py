"""What fails for one page, block or flag costs that alone: all else is what it is without it."""

import pickle
import shutil
from collections.abc import Callable
from pathlib import Path

import openpyxl
import polars as pl
import pypdf
import pytest

from pipeline.last_build import LastBuild, Request, inputs_digest
from pipeline.plan import blocks
from pipeline.report.outputs import write_pages
from pipeline.report.pdf import render
from pipeline.report.sections.unmade_page import unmade_pack, unmade_reference, unmade_report
from pipeline.settings import ReportSettings
from pipeline.warehouse import Warehouse
from tests.conftest import Built, built
from tests.end_to_end.failing import (
    CASES,
    DAYS,
    HOP,
    RECORD,
    SORE,
    Weeks,
    failed,
    model,
    pages_are_printed_here,
    replaced,
    stop,
    weeks,
)
from tests.end_to_end.pdf_checks import CHECK_NAMES, faults
from tests.end_to_end.small import contents
from tests.test_architecture import ROOT

__all__ = ["failed", "pages_are_printed_here", "weeks"]

pytestmark = pytest.mark.usefixtures("pages_are_printed_here")


def text_of(pdf: Path) -> str:
    pages = pypdf.PdfReader(pdf).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def differing(reports: Path, other: Path) -> set[str]:
    here, there = contents(reports), contents(other)
    return {name for name in here.keys() | there.keys() if here.get(name) != there.get(name)}


@pytest.mark.parametrize("name", CASES)
def test_all_else_is_what_it_is_without_the_failure(
    name: str, weeks: Weeks, failed: Callable[[str], Built]
) -> None:
    made, case = failed(name), CASES[name]
    files = {file for _, file in made.summary.unmade}
    assert tuple(what for what, _ in made.summary.unmade) == case.told
    assert differing(made.reports, weeks.clean) == case.differ | files | {RECORD}
    assert made.summary._replace(unmade=()) == LastBuild.read(weeks.clean).summary
    for file in files:
        assert case.why in (made.reports / file).read_text("utf-8")
        assert str(ROOT) not in (made.reports / file).read_text("utf-8")


@pytest.mark.parametrize("name", CASES)
def test_a_page_that_could_not_be_made_is_told_on_one_page_of_this_week(
    name: str, weeks: Weeks, failed: Callable[[str], Built]
) -> None:
    made = failed(name)
    for what, file in made.summary.unmade:
        if what.endswith(".pdf"):
            text = text_of(made.reports / what)
            assert len(pypdf.PdfReader(made.reports / what).pages) == 1
            assert "could not be made this week" in text
            assert f"Please show the file {file}" in text
            assert "27 April 2026" in text.replace("\xa0", " ")
            named = {"A1": "Ada Ash", "A2": "Bo Birch", "B2": "Di Dale"}
            squad = Path(what).stem.removesuffix("_reference").rpartition("_")[2]
            assert named.get(Path(what).stem, squad) in text


@pytest.mark.parametrize("name", ["model", "chart", "pack", "reference", "block", "meeting"])
def test_the_next_build_tries_again_and_where_it_succeeds_is_a_clean_one(
    name: str, weeks: Weeks, failed: Callable[[str], Built], tmp_path: Path
) -> None:
    reports = tmp_path / "reports"
    shutil.copytree(failed(name).reports, reports)
    last = LastBuild.read(reports)
    asked = Request(inputs_digest(weeks.exports, None))
    assert last is not None
    assert last.summary == failed(name).summary
    assert not last.stands(reports, asked)
    built(weeks.exports, reports, skip_pdf=False)
    assert contents(reports) == contents(weeks.clean)
    assert not (reports / "problems").exists()
    mended = LastBuild.read(reports)
    assert mended is not None and mended.stands(reports, asked)


@pytest.mark.parametrize("name", ["model", "drawing", "block"])
def test_failing_again_gives_the_same_files_from_scratch(
    name: str, weeks: Weeks, failed: Callable[[str], Built], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    CASES[name].patch(monkeypatch)
    built(weeks.exports, tmp_path / "reports", skip_pdf=False)
    assert contents(tmp_path / "reports") == contents(failed(name).reports)


# ---------------------------------------------------------------- blocks, flags and the meeting


def flags(reports: Path) -> pl.DataFrame:
    return pl.read_csv(reports / "flags.csv")


def test_a_block_that_could_not_be_made_never_reads_as_nothing_to_change(
    weeks: Weeks, failed: Callable[[str], Built]
) -> None:
    reports = failed("block").reports
    mine = pl.col("athlete_id") == "B1"
    without = pl.exclude("suggestion")
    assert flags(reports).select(without).equals(flags(weeks.clean).select(without))
    assert flags(reports).filter(~mine).equals(flags(weeks.clean).filter(~mine))
    told = "The next block could not be made this week."
    assert flags(weeks.clean).filter(mine).height == 1
    (suggestion,) = flags(reports).filter(mine)["suggestion"]
    assert suggestion.startswith(told)
    sheet = openpyxl.load_workbook(reports / "decisions.xlsx")["decisions"]
    assert suggestion in [cell.value for cell in sheet["F"]]
    report = text_of(reports / "athletes" / "B1.pdf")
    pack, reference = (text_of(reports / f"squad_Reds{end}.pdf") for end in ("", "_reference"))
    assert "could not be worked out this week. Nothing is said about you by that" in report
    assert "The plan for your next weeks could not be made this week." in report
    assert "Ask your coach what comes next, and when you are tested again." in report
    assert "Nothing to change" not in report
    assert "soon enough" not in report
    assert told in pack
    assert "could not be made, ask" in reference  # beside the others' next blocks


def test_who_waits_for_medical_staff_waits_without_a_block_too(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    replaced(monkeypatch, blocks, "next_block", lambda *_: True, stop)
    made = built(weeks.exports, tmp_path / "reports")
    assert [what for what, _ in made.summary.unmade] == [
        f"the next block of {who}" for who in ("A1", "A2", "B1", "B2")
    ]
    with Warehouse(made.reports / "warehouse.duckdb", read_only=True) as warehouse:
        kinds = warehouse.fetch("mart_plans").select("athlete_id", "plan").rows()
    assert dict(kinds) == {"A1": "wait", "A2": "medical", "B1": "wait", "B2": "wait"}
    referred = pl.col("flag_id") == SORE
    assert flags(made.reports).filter(referred).equals(flags(weeks.clean).filter(referred))


@pytest.mark.parametrize(
    ("name", "flag_id", "suggestion"),
    [
        ("sentence", HOP, "Look at the figures before deciding"),
        ("referred", SORE, "Medical staff at once"),
    ],
)
def test_a_flag_without_sentences_keeps_its_place_and_its_figures(
    name: str, flag_id: str, suggestion: str, weeks: Weeks, failed: Callable[[str], Built]
) -> None:
    reports = failed(name).reports
    without = pl.exclude("suggestion")
    assert flags(reports).select(without).equals(flags(weeks.clean).select(without))
    (mine,) = flags(reports).filter(flag_id=flag_id).to_dicts()
    assert mine["suggestion"].startswith(suggestion)
    pack, reference = (text_of(reports / f"squad_Blues{end}.pdf") for end in ("", "_reference"))
    assert suggestion in reference
    assert f"Its figures stand in flags.csv under {flag_id}." in pack
    assert suggestion in pack


def test_what_changed_since_the_last_meeting_costs_its_line_alone(
    failed: Callable[[str], Built],
) -> None:
    for squad in ("Blues", "Reds"):
        text = text_of(failed("meeting").reports / f"squad_{squad}.pdf")
        assert "could not be worked out this week" in text
        assert "Nothing new" not in text
        assert len(pypdf.PdfReader(failed("meeting").reports / f"squad_{squad}.pdf").pages) > 1


# ---------------------------------------------------------------- the page in its place


@pytest.mark.parametrize("name", ["model", "pack", "reference"])
def test_the_page_in_its_place_is_a_page_like_the_others(
    name: str, failed: Callable[[str], Built]
) -> None:
    (pdf,) = CASES[name].told
    found = faults(failed(name).reports / pdf, "A4")
    assert found == {check: [] for check in CHECK_NAMES}


STRANGE = [
    "Ada\x00\x1b[31m\u202e Ash",
    "lone \ud800 half",
    "<script>{{ 7 * 7 }}</script>{% for x in y %}",
    "long " * 2_000,
    "x" * 5_000,
    " ",
    "",
]


@pytest.mark.parametrize("text", STRANGE, ids=range(len(STRANGE)))
@pytest.mark.parametrize("page_size", ["A4", "letter"])
def test_whatever_somebody_is_called_it_is_one_page(
    text: str, page_size: str, tmp_path: Path
) -> None:
    settings = ReportSettings.model_construct(medical_contact=text, header=text)
    file = f"problems/athletes/{'x' * 200}.txt"
    for page in (
        unmade_report(text, text, DAYS[0], settings, file),
        unmade_pack(text, DAYS[0], settings, file),
        unmade_reference(text, DAYS[0], settings, file),
    ):
        pdf = tmp_path / "page.pdf"
        pdf.write_bytes(render.render(pickle.dumps(page), page_size, DAYS[0]).pdf)
        assert len(pypdf.PdfReader(pdf).pages) == 1
        assert "could not be made this week" in text_of(pdf)
        assert file in text_of(pdf).replace(" ", "")


def test_where_that_page_fails_too_the_build_does_and_the_last_reports_stand(
    weeks: Weeks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    model(monkeypatch)
    monkeypatch.setattr(write_pages, "unmade_report", stop)
    with pytest.raises(ValueError, match="made to fail"):
        weeks.on_top(tmp_path / "reports")
    assert contents(tmp_path / "reports") == contents(weeks.old)
