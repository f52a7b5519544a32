"""Page models to PDF: templates filled, charts set in as images, tagged for screen readers."""

import base64
import gc
import logging
import os
import pickle
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.errors import SquadsidesError
from pipeline.report.glyphs import name_every_piece_of_a_letter
from pipeline.report.pages import AthletePage, SquadPack, UnmadePage
from pipeline.report.typeface import found_by, ours, with_machine
from pipeline.unseen import set_apart

Page = AthletePage | SquadPack | UnmadePage
TEMPLATE_OF = {
    AthletePage: "athlete.html",
    SquadPack: "squad.html",
    UnmadePage: "unmade.html",
}
TEMPLATES = Path(__file__).parents[2] / "report_templates"
APART = re.compile(r"(?<=\d) (?=%)")
STEP = re.compile(r"([MLCZ])([-0-9.,]*)")
OPERATORS = {"M": "m", "L": "l", "C": "c", "Z": "h"}
CHART = "data:image/svg+xml;base64,"


@cache
def prepare() -> None:
    """Once per process: what takes long to import, strictness, no collector passes mid-page."""
    with found_by(ours()):
        check_native_libraries()
    _draw_chart_marks_as_they_are()
    _draw_chart_texts_whole()
    _mark_margins_as_artifacts()
    name_every_piece_of_a_letter()
    logging.getLogger("weasyprint").addHandler(STRICT)
    for name in TEMPLATE_OF.values():
        _environment().get_template(name)
    gc.collect()
    gc.freeze()
    collect_seldom()


def collect_seldom() -> None:
    """Frames and pages hold few cycles; looking for them as often as usual takes a tenth longer."""
    gc.set_threshold(50_000, 20, 50)


class _Strict(logging.Handler):
    """Stops where WeasyPrint would only log that it left a chart out.

    Letters that no typeface has are gathered in `boxes` instead.
    """

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.boxes: set[str] = set()

    def emit(self, record: logging.LogRecord) -> None:
        message = record.getMessage()
        if message.startswith(".notdef glyph") and isinstance(record.args, tuple):
            self.boxes.add(str(record.args[0]))
        elif record.levelno >= logging.ERROR:
            raise RuntimeError(message[:200])


STRICT = _Strict()


@dataclass(frozen=True)
class Printed:
    """A PDF, and the letters in it that our typefaces lack, and that the machine's lack as well."""

    pdf: bytes
    foreign: frozenset[str] = frozenset()
    boxes: frozenset[str] = frozenset()


def _draw_chart_texts_whole() -> None:
    """Have WeasyPrint draw a chart's text in one piece, placed by the attribute `anchor`.

    Its own way lays out every letter by itself and gives every text that does not start at its
    place a picture of its own: three quarters of a pack's time, and no spacing between letters.
    """
    from weasyprint import svg
    from weasyprint.css.properties import INITIAL_VALUES
    from weasyprint.draw.text import draw_first_line
    from weasyprint.matrix import Matrix
    from weasyprint.svg.text import TextBox
    from weasyprint.text.line_break import split_first_line

    class Style(dict):
        font_config: Any

    def draw_text(image: Any, node: Any, font_size: float) -> None:
        style = Style(INITIAL_VALUES)
        style.font_config = image.font_config
        style["font_family"] = [node.get("font-family")]
        style["font_weight"] = int(node.get("font-weight", 400))
        style["font_size"] = font_size
        layout, _, _, width, _, baseline = split_first_line(
            node.text, style, image.context, float("inf"), 0
        )
        shift = {"end": width, "middle": width / 2}.get(node.get("anchor"), 0.0)
        image.stream.push_state()
        fill, stroke = image.set_graphical_state(node, font_size)
        image.stream.begin_text()
        layout.reactivate(style)
        image.fill_stroke(fill, stroke, text=True)
        box = TextBox(layout, style)
        box.baseline = baseline
        place = Matrix(a=1, d=-1, e=float(node.get("x")) - shift, f=float(node.get("y")))
        draw_first_line(image.stream, box, "none", "none", place)
        image.stream.end_text()
        image.stream.pop_state()

    svg.TAGS["text"] = draw_text


def _draw_chart_marks_as_they_are() -> None:
    """Have WeasyPrint write a chart's paths as they stand: SVG and PDF name the same four steps.

    It takes every number apart to draw whatever SVG may hold; `drawing` writes M, L, C and Z only.
    """
    from weasyprint import svg

    def draw_path(image: Any, node: Any, font_size: float) -> None:
        image.stream.stream.append(pdf_path(node.get("d")).encode("ascii"))

    svg.TAGS["path"] = draw_path


def pdf_path(data: str) -> str:
    """The `d` of an SVG path in absolute steps as PDF operators (ISO 32000-1, 8.5.2).

    Raises ValueError where it holds any other step.
    """
    steps = STEP.findall(data)
    if sum(1 + len(numbers) for _, numbers in steps) != len(data):
        raise ValueError(f"A chart's path holds more than is drawn: {STEP.sub('', data)[:80]}")
    return " ".join(f"{numbers.replace(',', ' ')} {OPERATORS[letter]}" for letter, numbers in steps)


def _mark_margins_as_artifacts() -> None:
    """Have WeasyPrint mark what repeats on every page as artifacts: nobody hears it each time.

    It tags them as content and leaves them out of the tree of tags (ISO 14289-1, 7.1 and 7.8).
    """
    from pydyf import Dictionary
    from weasyprint.formatting_structure.boxes import MarginBox
    from weasyprint.pdf import tags
    from weasyprint.pdf.stream import Stream

    mark, build = Stream.marked, tags._build_box_tree

    @contextmanager
    def marked(stream: Any, box: Any, tag: str) -> Iterator[None]:
        if box.element is not None:
            with mark(stream, box, tag):
                yield
            return
        stream.begin_marked_content("Artifact", Dictionary({"Type": "/Pagination"}))
        yield
        stream.end_marked_content()

    def tree(box: Any, *rest: Any) -> Iterator[Any]:
        if not isinstance(box, MarginBox):
            yield from build(box, *rest)

    Stream.marked, tags._build_box_tree = marked, tree


def check_native_libraries() -> None:
    """Stop early, in plain words, where a native library of the PDF writer is missing."""
    try:
        from weasyprint.text.ffi import harfbuzz_subset
    except OSError:
        harfbuzz_subset = None
    if harfbuzz_subset is None:
        raise SquadsidesError(
            "The libraries that write PDFs are not installed completely (Pango with HarfBuzz's "
            "subset library). Run `make`; it installs them or tells what to type."
        )


def render(packed: bytes, page_size: str, as_of: date) -> Printed:
    """The PDF of one page model, pickled: the same bytes for the same model, on any day.

    It comes pickled so that a model that does not survive the way fails by itself.
    """
    prepare()
    page: Page = pickle.loads(packed)
    noon = datetime(as_of.year, as_of.month, as_of.day, 12, tzinfo=UTC)
    os.environ["SOURCE_DATE_EPOCH"] = str(int(noon.timestamp()))
    html = source_of(page)
    pdf, foreign = printed(html, page_size, ours())
    if not foreign:
        return Printed(pdf)
    pdf, boxes = printed(html, page_size, with_machine())
    return Printed(pdf, foreign, boxes)


def source_of(page: Page) -> str:
    """The HTML of one page model, charts drawn; no line ends within a number and its sign."""
    html: str = _environment().get_template(TEMPLATE_OF[type(page)]).render(page=page)
    html = html.replace("°/s", "°/\N{WORD JOINER}s")  # a line may end behind a slash
    return set_apart(APART.sub("\N{NO-BREAK SPACE}", html))


def printed(html: str, page_size: str, typefaces: Path) -> tuple[bytes, frozenset[str]]:
    """The PDF of what `source_of` gave, and the letters that none of these typefaces has."""
    import weasyprint

    STRICT.boxes.clear()
    pdf: bytes = weasyprint.HTML(string=html, url_fetcher=_assets()).write_pdf(
        stylesheets=[_style_sheet(page_size, typefaces)],
        font_config=_fonts(typefaces),
        pdf_variant="pdf/ua-1",
        pdf_tags=True,
    )
    return pdf, frozenset(filter(str.isprintable, STRICT.boxes))


@cache
def _environment() -> Any:
    import jinja2

    from pipeline.report.charts import ROW_HEIGHT, balance_chart, trend_chart

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["balance_image"] = lambda rows, height=ROW_HEIGHT: _image(
        balance_chart(rows, height)
    )
    environment.filters["trend_image"] = lambda trends: _image(trend_chart(trends))
    return environment


@cache
def _fonts(typefaces: Path) -> Any:
    """What these settings of fontconfig lead to, read once per process."""
    from weasyprint.text.fonts import FontConfiguration

    with found_by(typefaces):
        return FontConfiguration()


@cache
def _style_sheet(page_size: str, typefaces: Path) -> Any:
    """The style of all pages, parsed once per process and size."""
    import weasyprint

    css = (TEMPLATES / "print.css").read_text(encoding="utf-8")
    return weasyprint.CSS(
        string=f"{css} @page {{ size: {page_size}; }}",
        font_config=_fonts(typefaces),
        url_fetcher=_assets(),
    )


def _image(svg: str) -> str:
    """An SVG as a data address, so that it takes an alternative text and no page styles."""
    return CHART + base64.b64encode(svg.encode("utf-8")).decode("ascii")


@cache
def _assets() -> Any:
    """What gives out our own charts; no file and no network address is ever opened."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class Assets(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: Any = None) -> Any:
            if url.startswith(CHART):
                svg = base64.b64decode(url.removeprefix(CHART))
                return URLFetcherResponse(url, svg, {"Content-Type": "image/svg+xml"})
            raise ValueError("Reports fetch nothing from outside.")

    return Assets(fail_on_errors=True)
