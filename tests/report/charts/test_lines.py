"""Rows of text beside a picture: as high as they must be, by an outside measure of letters."""

from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
import weasyprint
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from pipeline.catalogue import full_catalogue
from pipeline.report.charts.balance import balance_blocks
from pipeline.report.charts.lined import PACK, REPORT, Spacing
from pipeline.report.charts.lines import MOST_HEIGHT, line_count, middles, parts
from pipeline.report.charts.rows import BalanceRow
from pipeline.report.pdf import render
from pipeline.report.pdf.typeface import folder, ours
from pipeline.report.text.phrases import language
from tests.report.charts.test_charts import row

LABEL, SENTENCE = 152.0, 197.0  # pixels beside the plot, as print.css leaves them on A4
SIZES = {REPORT: 8.5 / 0.75, PACK: 8.0 / 0.75}
SHORTS = [one.short for one in full_catalogue().measures.values()]
NAMES = ["Ada Ash", "Ελένη Θεοδωρακοπούλου", "Rūta V.", "Wolfeschlegelsteinhausenbergerdorff",
         "MAGDALENA WOJCIECHOWSKA-MWANGI", "Ngozi Okonkwo-Adeyemi Wilhelmina van der Wateringen",
         "WWWWWWWWWWWWWWWWWWWWWWWWWWWW"]  # fmt: skip
SENTENCES = [
    "as usual for the preferred side", "even, as far as we can tell", "this test could not tell",
    "right shorter, 12 % of limb length: within usual", "for medical staff to look at",
    "left lower, 0.16 s: about 9 in 10, fairly sure that it is over the line",
]  # fmt: skip


@cache
def font(name: str, size: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(folder() / name, size)


def lines_taken(text: str, width: float, length: Callable[[str], float]) -> int:
    """Lines of a text set word by word, a word that is too long letter by letter."""
    lines, left = 1, width
    for number, word in enumerate(text.split(" ")):
        wanted = length(f" {word}" if number else word)
        if wanted > left:
            lines, left = lines + (left < width), width
            while length(word) > width:
                fits = next(n for n in range(len(word), 0, -1) if length(word[:n]) <= width)
                lines, word = lines + 1, word[fits:]
            wanted = length(word)
        left -= wanted
    return lines


@pytest.mark.parametrize("spacing", [REPORT, PACK])
def test_a_row_is_counted_as_high_as_its_letters_make_it(spacing: Spacing) -> None:
    size = SIZES[spacing]
    regular = font("SourceSans3-400.ttf", size).getlength
    bold = font("SourceSans3-600.ttf", size).getlength
    for text in [*SHORTS, *NAMES]:
        assert lines_taken(text, LABEL, regular) <= line_count(text, spacing.label), text
    for text in SENTENCES:
        assert lines_taken(text, SENTENCE, bold) <= line_count(text, spacing.sentence), text


def test_ordinary_texts_take_one_line_in_a_pack_and_fit_a_row_of_a_report() -> None:
    assert [n for n in NAMES[:3] if line_count(n, PACK.label) > 1] == []
    assert [n for n in SHORTS if line_count(n, REPORT.label) * REPORT.line > REPORT.row + 1] == []


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(16.6, 60).map(lambda x: round(x, 1)), min_size=1, max_size=150))
def test_long_lists_are_parted_and_nothing_is_lost(heights: list[float]) -> None:
    found = parts(heights)
    assert [n for start, end in found for n in range(start, end)] == list(range(len(heights)))
    assert all(sum(heights[start:end]) <= MOST_HEIGHT + 60 for start, end in found)
    assert all(start < end for start, end in found)


def test_middles_of_rows() -> None:
    assert middles([10.0, 20.0, 10.0]) == [5.0, 20.0, 35.0]


def laid_out(rows: list[BalanceRow], kind: str) -> list[Any]:
    """The boxes of a page that holds these balance lines alone."""
    render.prepare()
    environment = render._environment()
    say, _ = language("english").speak()
    macros = environment.get_template("parts/macros.html").module
    body = macros.balance_lines(say, balance_blocks(rows, PACK if kind == "pack" else REPORT))
    page = weasyprint.HTML(
        string=f'<html lang="en"><title>t</title><body class="{kind}">{body}',
        url_fetcher=render._assets(),
    ).render(stylesheets=[render._style_sheet("A4", ours())], font_config=render._fonts(ours()))
    return [box for one in page.pages for box in one._page_box.descendants()]


@pytest.mark.parametrize("kind", ["pack", "athlete"])
def test_rows_stand_beside_their_marks_whatever_they_say(kind: str) -> None:
    """Every row is laid out at the height, and begins at the place, its marks were drawn for."""
    texts = [*NAMES, "W" * 90, "山田花子" * 9, "a " * 60]
    rows = [row(text) for text in texts]
    spacing = PACK if kind == "pack" else REPORT
    planned = [one.height for block in balance_blocks(rows, spacing) for one in block.rows]
    boxes = laid_out(rows, kind)
    picture = next(box for box in boxes if box.element_tag == "img")
    tops = [picture.position_y + sum(planned[:number]) for number in range(len(planned))]
    for name in ("of", "said"):
        outermost: dict[Any, Any] = {}
        for box in boxes:
            if box.element_tag == "p" and name in box.element.get("class", "").split():
                outermost.setdefault(box.element, box)
        found = list(outermost.values())
        assert [box.border_height() for box in found] == pytest.approx(planned, abs=0.05)
        assert [box.position_y for box in found] == pytest.approx(tops, abs=0.05)
    assert picture.height == pytest.approx(sum(planned), abs=0.05)
