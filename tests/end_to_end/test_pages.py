"""The PDFs as people and screen readers get them."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pikepdf
import polars as pl
import pypdf
import pytest

from pipeline.warehouse import Warehouse
from tests.conftest import Built

FRIGHTENING = [
    "imbalance", "dysfunction", "weak leg", "weakness", "bad side", "abnormal", "at risk",
    "red flag", "danger", "unsafe", "damage", "misalign", "compensat", "unstable",
    "must be corrected", "injury risk", "prone to", "getting worse", "suffer",
]  # fmt: skip
UNRESOLVED = [r"\bnan\b", r"\bNone\b", r"\bnull\b", r"\{\{", r"\}\}", r"(?<!\d)-0(?!\d)", "inf "]
PLURALS = [r"\b1 (athletes|weeks|days|tests|files|rows|flags|repetitions|differences)\b"]
LONG_DECIMALS = r"\d\.\d{3,}"


def prose_of(text: str) -> str:
    """The text without the lists that quote files and titles of published works."""
    return text.split("Sources of the figures used")[0].split("Files and rows")[0]


def text_of(path: Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


@pytest.fixture(scope="session")
def texts(sample: Built) -> dict[str, str]:
    paths = [*sample.reports.glob("squad_*.pdf"), *sample.reports.glob("athletes/*.pdf")]
    return {path.stem: text_of(path) for path in sorted(paths)}


@pytest.fixture(scope="session")
def people(sample: Built) -> pl.DataFrame:
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as warehouse:
        return warehouse.fetch("stg_athletes")


def test_an_athletes_report_names_nobody_else(texts: dict[str, str], people: pl.DataFrame) -> None:
    for who, name in people.select("athlete_id", "name").iter_rows():
        others = people.filter(pl.col("athlete_id") != who)
        for other_id, other_name in others.select("athlete_id", "name").iter_rows():
            assert other_id not in texts[who], (who, other_id)
            assert other_name not in texts[who], (who, other_name)
        assert name in texts[who].replace("\n", " ")


def test_an_athletes_report_has_at_most_two_pages(sample: Built) -> None:
    for path in sample.reports.glob("athletes/*.pdf"):
        assert len(pypdf.PdfReader(path).pages) <= 2, path.name


def test_no_page_is_nearly_empty(sample: Built) -> None:
    for path in [*sample.reports.glob("squad_*.pdf"), *sample.reports.glob("athletes/*.pdf")]:
        for number, page in enumerate(pypdf.PdfReader(path).pages, start=1):
            assert len(page.extract_text()) > 150, (path.name, number)


@pytest.mark.parametrize("pattern", [*FRIGHTENING, *UNRESOLVED, *PLURALS])
def test_no_page_frightens_or_shows_a_seam(texts: dict[str, str], pattern: str) -> None:
    flags = 0 if pattern in UNRESOLVED else re.IGNORECASE
    for name, text in texts.items():
        prose = prose_of(text)
        found = re.search(pattern, prose, flags)
        assert found is None, (name, prose[max(0, found.start() - 60) : found.end() + 60])


def test_numbers_carry_no_more_decimals_than_the_tests(texts: dict[str, str]) -> None:
    for name, text in texts.items():
        assert not re.search(LONG_DECIMALS, prose_of(text)), name


def test_whoever_is_referred_gets_no_training_card(sample: Built, texts: dict[str, str]) -> None:
    flags = pl.read_csv(sample.reports / "flags.csv")
    referred = flags.filter(reason="refer")["athlete_id"].unique().to_list()
    assert referred
    for who in referred:
        assert "Please speak with them first" in texts[who].replace("\n", " ")
        assert "Sets × reps" not in texts[who]


def test_every_pdf_is_tagged_titled_and_small(sample: Built) -> None:
    for path in [*sample.reports.glob("squad_*.pdf"), *sample.reports.glob("athletes/*.pdf")]:
        with pikepdf.open(path) as pdf:
            root = pdf.Root
            assert root.MarkInfo.Marked, path.name
            assert str(root.Lang) == "en"
            assert root.ViewerPreferences.DisplayDocTitle
            assert str(pdf.docinfo["/Title"])
            figures = [e for e in elements(root.StructTreeRoot) if e.get("/S") == "/Figure"]
            for figure in figures:
                assert len(str(figure.get("/Alt", ""))) > 20, path.name
            tables = [e for e in elements(root.StructTreeRoot) if e.get("/S") == "/Table"]
            assert all(has_header(table) for table in tables), path.name
        if path.parent.name == "athletes":
            assert path.stat().st_size <= 60_000, path.name


def elements(node: Any) -> Iterator[Any]:
    """Every structure element below a node of the tag tree."""
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


def has_header(table: Any) -> bool:
    return any(element.get("/S") == "/TH" for element in elements(table))
