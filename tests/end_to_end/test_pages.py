"""The PDFs of the sample as people and screen readers get them."""

from pathlib import Path

import polars as pl
import pypdf
import pytest

from pipeline.warehouse import Warehouse
from tests.conftest import Built, once
from tests.end_to_end.pdf_checks import CHECK_NAMES, faults


def pdfs(sample: Built) -> list[Path]:
    """Every pack and every report."""
    return sorted([*sample.reports.glob("squad_*.pdf"), *sample.reports.glob("athletes/*.pdf")])


@pytest.fixture(scope="session")
def found(
    sample: Built, tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> dict[str, dict[str, list[str]]]:
    """What is found in the packs and in every third report, by check: a second a page."""

    def make(_: Path) -> dict[str, dict[str, list[str]]]:
        paths = pdfs(sample)
        packs = [path for path in paths if path.parent == sample.reports]
        reports = [path for path in paths if path not in packs]
        return {path.stem: faults(path, "A4") for path in [*packs, *reports[::3]]}

    result: dict[str, dict[str, list[str]]] = once(
        tmp_path_factory, worker_id, "sample_found", make
    )
    return result


@pytest.fixture(scope="session")
def pages(
    sample: Built, tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> dict[str, list[str]]:
    """The text of each page of each PDF."""

    def make(_: Path) -> dict[str, list[str]]:
        return {
            path.stem: [page.extract_text() for page in pypdf.PdfReader(path).pages]
            for path in pdfs(sample)
        }

    result: dict[str, list[str]] = once(tmp_path_factory, worker_id, "sample_texts", make)
    return result


@pytest.fixture(scope="session")
def texts(pages: dict[str, list[str]]) -> dict[str, str]:
    return {name: "\n".join(text) for name, text in pages.items()}


@pytest.fixture(scope="session")
def people(sample: Built) -> pl.DataFrame:
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as warehouse:
        return warehouse.fetch("stg_athletes")


@pytest.mark.parametrize("check", CHECK_NAMES)
def test_no_page_has(check: str, found: dict[str, dict[str, list[str]]]) -> None:
    assert len(found) == 2 * 3 + 17
    every = [f"{name}: {fault}" for name, checks in found.items() for fault in checks[check]]
    assert every == []


def test_an_athletes_report_names_nobody_else(texts: dict[str, str], people: pl.DataFrame) -> None:
    for who, name in people.select("athlete_id", "name").iter_rows():
        others = people.filter(pl.col("athlete_id") != who)
        for other_id, other_name in others.select("athlete_id", "name").iter_rows():
            assert other_id not in texts[who], (who, other_id)
            assert other_name not in texts[who], (who, other_name)
        assert name in texts[who].replace("\n", " ")


def test_an_athletes_report_has_at_most_two_pages_and_is_small(
    sample: Built, pages: dict[str, list[str]]
) -> None:
    for path in sample.reports.glob("athletes/*.pdf"):
        assert len(pages[path.stem]) <= 2, path.name
        assert path.stat().st_size <= 60_000, path.name


def test_no_page_is_nearly_empty(pages: dict[str, list[str]]) -> None:
    for name, texts in pages.items():
        for number, text in enumerate(texts, start=1):
            assert len(text) > 150, (name, number)


def test_whoever_is_referred_gets_no_training_card(sample: Built, texts: dict[str, str]) -> None:
    flags = pl.read_csv(sample.reports / "flags.csv")
    referred = flags.filter(reason="refer")["athlete_id"].unique().to_list()
    assert referred
    for who in referred:
        assert "Please speak with them first" in texts[who].replace("\n", " ")
        assert "Sets × reps" not in texts[who]
