"""Page models to PDF: templates filled, charts set in as images, tagged for screen readers."""

import base64
import gc
import logging
import os
import pickle
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache, partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pipeline.control_characters import set_apart
from pipeline.errors import SquadsidesError
from pipeline.report.pack.pages import SquadPack
from pipeline.report.page_models import AthletePage, TestsSheet, TrainingSheet, UnmadePage
from pipeline.report.pdf.glyphs import name_every_piece_of_a_letter
from pipeline.report.pdf.pdf_ua import mark_margins_as_artifacts
from pipeline.report.pdf.typeface import found_by, ours, with_machine
from pipeline.report.reference.pages import SquadReference

Page = AthletePage | SquadPack | SquadReference | TestsSheet | TrainingSheet | UnmadePage
TEMPLATE_OF = {
    AthletePage: "athlete.html",
    SquadPack: "pack.html",
    SquadReference: "reference.html",
    TestsSheet: "tests_sheet.html",
    TrainingSheet: "training_sheet.html",
    UnmadePage: "unmade.html",
}
TEMPLATES = Path(__file__).parents[3] / "report_templates"
APART = re.compile(r"(?<=\d) (?=%)")
CHART = "data:image/svg+xml;base64,"


@cache
def prepare() -> None:
    """Once per process: what takes long to import, strictness, no collector passes mid-page."""
    with found_by(ours()):
        check_libraries()
    mark_margins_as_artifacts()
    name_every_piece_of_a_letter()
    logging.getLogger("weasyprint").addHandler(STRICT)
    for name in TEMPLATE_OF.values():
        _environment().get_template(name)
    gc.collect()
    gc.freeze()
    collect_seldom()


def start_drawing() -> None:
    """Once per process that prints, so that no page waits for it: begin what draws the charts.

    It runs threads, which no fork survives: never in the process that workers are forked from.
    """
    prepare()
    from pipeline.report.charts.balance import balance
    from pipeline.report.charts.drawing import compiled
    from pipeline.report.charts.places import places
    from pipeline.report.charts.trend import trends

    for declared in (balance, trends, places):
        compiled(declared)


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


def check_libraries() -> None:
    """Stop early, in plain words, where what draws charts or writes PDFs is missing."""
    if lacking := [name for name in ("altair", "vl_convert") if find_spec(name) is None]:
        raise SquadsidesError(
            f"What draws the charts is not installed completely ({', '.join(lacking)} is missing). "
            "Run `make`; it installs it."
        )
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
    pdf, foreign, pages = printed(source_of(page), page_size, ours())
    while isinstance(page, SquadPack | AthletePage) and pages > page.most_pages:
        if (smaller := page.smaller()) is None:
            break
        page = smaller
        pdf, foreign, pages = printed(source_of(page), page_size, ours())
    if not foreign:
        return Printed(pdf)
    pdf, boxes, _ = printed(source_of(page), page_size, with_machine())
    return Printed(pdf, foreign, boxes)


def source_of(page: Page) -> str:
    """The HTML of one page model, charts drawn; no line ends within a number and its sign."""
    html: str = _environment().get_template(TEMPLATE_OF[type(page)]).render(page=page)
    html = html.replace("°/s", "°/\N{WORD JOINER}s")  # a line may end behind a slash
    return set_apart(APART.sub("\N{NO-BREAK SPACE}", html))


def printed(html: str, page_size: str, typefaces: Path) -> tuple[bytes, frozenset[str], int]:
    """The PDF of what `source_of` gave, the letters that none of these typefaces has, its pages."""
    import weasyprint

    STRICT.boxes.clear()
    options = {"pdf_variant": "pdf/ua-1", "pdf_tags": True}
    document = weasyprint.HTML(string=html, url_fetcher=_assets()).render(
        stylesheets=[_style_sheet(page_size, typefaces)],
        font_config=_fonts(typefaces),
        **options,
    )
    pdf: bytes = document.write_pdf(**options)
    return pdf, frozenset(filter(str.isprintable, STRICT.boxes)), len(document.pages)


@cache
def _environment() -> Any:
    import jinja2

    from pipeline.report.charts.balance import balance_blocks
    from pipeline.report.charts.dots import dot_blocks
    from pipeline.report.charts.levels import levels_drawn
    from pipeline.report.charts.lined import REFERENCE
    from pipeline.report.charts.sides import month_blocks, work_blocks
    from pipeline.report.charts.strips import strip_blocks
    from pipeline.report.charts.trend import trend_panels

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["balance"] = balance_blocks
    environment.filters["close_balance"] = partial(balance_blocks, spacing=REFERENCE)
    environment.filters["dots"] = dot_blocks
    environment.filters["levels"] = levels_drawn
    environment.filters["months"] = month_blocks
    environment.filters["work"] = work_blocks
    environment.filters["strips"] = strip_blocks
    environment.filters["trends"] = trend_panels
    environment.filters["image"] = _image
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
