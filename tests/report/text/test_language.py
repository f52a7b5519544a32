"""A whole build in a made-up language: what is left in English was forgotten."""

import base64
import html
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.catalogue import Catalogue
from pipeline.intake import read_exports
from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks
from pipeline.plan.rows import Coming, next_set_rows, next_test_rows
from pipeline.report.outputs.decision_sheet import write_decisions
from pipeline.report.outputs.tables import flag_table
from pipeline.report.outputs.write_pages import (
    Left,
    athlete_pages,
    sheets_of_tests,
    sheets_of_training,
    squad_packs,
    squad_references,
)
from pipeline.report.page_models import UnmadePage
from pipeline.report.pdf.render import source_of
from pipeline.report.sections.unmade_page import unmade_pack, unmade_report, unmade_sheet
from pipeline.report.text.phrases import language
from pipeline.review.week import Week
from pipeline.settings import ReportSettings, Settings
from pipeline.warehouse.stock import newest_day
from tests.conftest import SAMPLE
from tests.raw import reviewed
from tests.report.text.test_phrases import ELSEWHERE, LETTERS, bracketed, locale_words

__all__ = ["bracketed"]

BRACKETED = re.compile(r"⟦[^⟧]*⟧")
NAME = "⟦name⟧"
# What people, files and the catalogue call things is theirs, in whatever language.
DATA = {
    "athletes": ["name", "position"],
    "film": ["exercise_name", "checkpoint", "note"],
    "noted": ["note"],
    "files": ["file", "sheet", "remark"],
    "refused": ["file", "sheet", "column", "value", "reason"],
    "doubts": ["message"],
    "flags": ["note", "said", "owner", "decision_note", "asked_said", "asked_note"],
    "accepted": ["note", "said", "owner", "decision_note", "asked_said", "asked_note"],
    "decided": ["said", "owner", "note"],
    "asked": ["said", "note", "review_said", "source_file", "source_sheet"],
}


def unnamed(book: Catalogue) -> Catalogue:
    """The catalogue with a bracketed name for everything."""
    return replace(
        book,
        measures={
            key: replace(measure, name=NAME, short=NAME, joint=NAME, side_means=NAME, caution=NAME)
            for key, measure in book.measures.items()
        },
        exercises={
            key: replace(one, name=NAME, cue=NAME, hint=one.hint and NAME)
            for key, one in book.exercises.items()
        },
        coaching=replace(
            book.coaching,
            drills={
                key: replace(one, name=NAME, cue=NAME, hint=one.hint and NAME)
                for key, one in book.coaching.drills.items()
            },
            checkpoints={
                key: replace(one, ok=NAME, adjust=NAME)
                for key, one in book.coaching.checkpoints.items()
            },
        ),
        test_day=replace(
            book.test_day,
            stations=tuple(replace(one, title=NAME, before=NAME) for one in book.test_day.stations),
        ),
        sources=dict.fromkeys(book.sources, NAME),
    )


@pytest.fixture(scope="module")
def week(bracketed: Path) -> Iterator[tuple[Week, dict[str, Block]]]:
    settings = Settings(report=ReportSettings(language=str(bracketed)))
    intake = read_exports(SAMPLE, settings)
    known = reviewed(intake, newest_day(intake), settings)
    book = unnamed(known.catalogue)
    frames = {
        name: getattr(known, name).with_columns(
            pl.when(pl.col(column).is_not_null()).then(pl.lit(NAME)).alias(column)
            for column in columns
        )
        for name, columns in DATA.items()
    }
    made = replace(known, catalogue=book, **frames)
    yield made, blocks(made)
    language("english").speak()


@pytest.fixture(scope="module")
def sources(week: tuple[Week, dict[str, Block]]) -> dict[str, str]:
    """HTML of one pack, and of one athlete's report for every kind and stage of a block."""
    # Another list a week ago, so that something is new and something is gone.
    before = week[0].flags.with_columns(pl.lit("knee_to_wall").alias("subject"))
    left: Left = {}
    made = dict([*squad_packs(*week, before, left), *athlete_pages(*week)])
    references = squad_references(*week, left)
    made |= {f"{squad}, reference": sheet for squad, sheet in references}
    kinds = {(block.plan, block.choice.stage): who for who, block in sorted(week[1].items())}
    squads = [name for name in made if name.startswith("Tidewick")]
    names = [*sorted(squads), *kinds.values()]
    assert len(names) > 8
    coming = Coming(next_test_rows(*week, {}), next_set_rows(*week))
    sheets = {
        f"{kind} {squad}": source_of(sheet.make())
        for kind, of_squads in (("tests", sheets_of_tests), ("training", sheets_of_training))
        for squad, sheet in of_squads(week[0], coming)
    }
    assert len(sheets) == 6
    return sheets | {name: source_of(made[name].make()) for name in names}


def shown(source: str) -> str:
    """All a reader or a screen reader gets: texts, alternative texts, the words of charts."""
    charts = re.findall(r'src="data:image/svg\+xml;base64,([^"]+)"', source)
    svg = " ".join(base64.b64decode(chart).decode("utf-8") for chart in charts)
    labels = re.findall(r' (?:alt|lang)="([^"]*)"', source)
    text = re.sub(r"<[^>]*>", " ", source)
    return html.unescape(" ".join([text, *labels, *re.findall(r">([^<]+)</text>", svg)]))


def bare(text: str, data: list[str]) -> str:
    """What stands in no bracket; `data` are names that could not be put in one."""
    left = BRACKETED.sub(" ", text)
    for name in sorted(data, key=len, reverse=True):
        left = left.replace(name, " ")
    return left


def left_over(text: str, data: list[str]) -> list[str]:
    """Words that stand in no bracket."""
    return LETTERS.findall(bare(text, data))


def data_of(week: Week) -> list[str]:
    columns = ("athlete_id", "squad", "known_difference")
    names = [n for column in columns for n in week.athletes[column].drop_nulls().unique()]
    # A decision is the word of the sheet's drop-down list, whatever language is spoken around it.
    # Ids and units of tests on the sheets are those of the exports.
    names += [*week.catalogue.measures, *(m.unit for m in week.catalogue.measures.values())]
    names += [*week.catalogue.sources, *week.decided["decision"].unique()]
    return [*names, *locale_words()]


def test_every_page_speaks_the_language_of_the_settings(
    week: tuple[Week, dict[str, Block]], sources: dict[str, str]
) -> None:
    data = data_of(week[0])
    forgotten = {name: left_over(shown(source), data) for name, source in sources.items()}
    assert {name: found for name, found in forgotten.items() if found} == {}


def test_every_number_has_the_decimal_mark_of_the_language(
    week: tuple[Week, dict[str, Block]], sources: dict[str, str]
) -> None:
    texts = {name: bare(shown(source), data_of(week[0])) for name, source in sources.items()}
    assert len(re.findall(r"\d,\d", "".join(texts.values()))) > 100
    found = {name: re.findall(r"\d+\.\d+", text) for name, text in texts.items()}
    assert {name: numbers for name, numbers in found.items() if numbers} == {}


@pytest.mark.parametrize("make", [partial(unmade_report, NAME), unmade_pack, unmade_sheet])
def test_the_page_in_place_of_another_speaks_it_too(
    make: Callable[..., UnmadePage], bracketed: Path
) -> None:
    settings = ReportSettings(language=str(bracketed))
    page = make("Harbour", date(2026, 3, 2), settings, "problems/A1.txt")
    language("english").speak()  # as where another page was at work meanwhile
    assert left_over(shown(source_of(page)), ["Harbour", "problems/A1.txt", *locale_words()]) == []
    language("english").speak()


def test_the_page_says_which_language_it_is_in(sources: dict[str, str]) -> None:
    assert all(f'<html lang="{ELSEWHERE}">' in source for source in sources.values())


def test_the_decision_sheet_speaks_it_too(
    week: tuple[Week, dict[str, Block]], tmp_path: Path
) -> None:
    flags = flag_table(*week)
    write_decisions(tmp_path / "decisions.xlsx", flags, week[0].decided, week[0].as_of)
    sheet = openpyxl.load_workbook(tmp_path / "decisions.xlsx")["decisions"]
    head = [cell.value for cell in sheet[1]]
    cells = [
        str(row[head.index(column)].value)
        for row in sheet.iter_rows(min_row=2)
        for column in ("test", "finding", "suggestion")
    ]
    assert len(cells) > 30
    assert left_over(" ".join(cells), locale_words()) == []
    assert left_over(" ".join(flags["suggestion"]), locale_words()) == []


def test_a_word_of_our_own_would_be_noticed() -> None:
    assert left_over("⟦Left⟧ side ⟦of⟧ Bo: 3 ⟦cm⟧, B2", ["Bo", "B2"]) == ["side"]
