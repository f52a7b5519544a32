"""What a report must be as a PDF, whatever it says: read aloud, printed and looked at.

The rules of the package outloud come first: ISO 14289-1 (PDF/UA-1) by the checkpoints of the
Matterhorn Protocol 1.1, PDF Association, whose numbers stand beside our own checks below, too.
"""

import io
import re
from collections.abc import Callable, Collection, Iterator
from pathlib import Path

from fontTools.ttLib import TTFont
from outloud.content import TextRun
from outloud.findings import Result
from outloud.model import Document, StructElem
from outloud.registry import features, run_rules

from tests.end_to_end.wording import complaints

SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}  # points
MARGIN = 18 / 25.4 * 72  # the narrowest margin of print.css
NOT_OURS = {
    "TAG-020": "has a check of its own: empty_elements",
    "TAG-002": "takes the foot of a report of one page for prose, see unread_content",
    "TXT-005": "misses glyph numbers beyond the font, see missing_glyphs",
    "PAG-001": "takes a chart's labels for running lines, see unread_content",
    "ORD-001": "judges painting order; readers follow the tree, see reading_order",
    "TAG-030": "takes a chart as tall as a page for a scan",
    "LNK-004": "asks links for a print flag, which PDF/UA-1 does not",
    "LNK-010": "wants names that look like an address to be links",
}
BLOCKS = {"H1", "H2", "H3", "P", "LI", "TR", "Figure"}
SPOKEN = {"H1", "H2", "H3", "P", "LBody", "TH", "TD", "Figure"}
OTHERS_WORDS = {
    "Files and rows",
    "Rows that were refused, and cells left blank",
    "Sources of the figures used",
}


def rules(document: Document) -> Iterator[str]:
    """Everything outloud finds, warnings as well, and every rule that could not be run."""
    result = Result(path=str(document.path))
    run_rules(document, result, skip=set(NOT_OURS), feats=features(document))
    for finding in result.findings:
        yield f"page {finding.page}: {finding.rule} {finding.message} {finding.evidence or ''}"
    for run in result.runs:
        if run.status == "crashed":
            yield f"{run.rule} could not be run: {run.reason}"


def empty_elements(document: Document) -> Iterator[str]:
    """Elements with nothing in them, which readers stop at (checkpoint 09-004)."""
    for element in document.elements_of("Span", "P", "LI"):
        if not (element.children or element.mcrefs or element.alt or element.actual_text):
            yield f"page {(element.page or 0) + 1}: {element.path}"


def unread_content(document: Document) -> Iterator[str]:
    """Text that is neither in the tree nor an artifact (checkpoints 01-005 and 18-001).

    Nor may text between the margins be an artifact, which nobody hears (checkpoint 01-004).
    """
    in_tree = {(r.page, r.stream, r.mcid) for e in document.elements for r in e.mcrefs}
    for page, run in _runs(document):
        low, high = run.bbox[1], document.pages[page].height - run.bbox[3]
        if run.artifact and min(low, high) > MARGIN:
            yield f"page {page + 1}: {run.text!r} is an artifact"
        if not run.artifact and (page, run.stream, run.mcid) not in in_tree:
            yield f"page {page + 1}: {run.text!r}"


def alternative_texts(document: Document) -> Iterator[str]:
    """Charts without a sentence of at least five words (checkpoint 13-004)."""
    for figure in document.elements_of("Figure"):
        text = (figure.alt or "").strip()
        if not re.fullmatch(r"[^a-z\s].*\.", text, re.DOTALL) or len(text.split()) < 5:
            yield f"page {(figure.page or 0) + 1}: {text[:80]!r}"


def bookmarks(document: Document) -> Iterator[str]:
    """Headings that are no bookmark, and the other way round (checkpoint 27-001)."""
    with document.pdf.open_outline() as outline:
        waiting, titles = list(outline.root), []
        while waiting:
            item = waiting.pop(0)
            titles.append(_letters(str(item.title)))
            waiting[:0] = item.children
    headings = [_letters(text_of(document, e)) for e in document.elements if e.is_heading]
    if titles != headings:
        yield f"{len(titles)} bookmarks, {len(headings)} headings"


def reading_order(document: Document) -> Iterator[str]:
    """Blocks that are read after one they stand above or left of (checkpoint 09-001)."""
    before: tuple[int, str, tuple[float, ...]] | None = None
    for element in document.elements:
        if not _is_innermost(element, BLOCKS):
            continue
        for page, box in _boxes(document, element):
            words = text_of(document, element)[:40]
            if before and before[0] == page:
                last = before[2]
                is_below, is_right = box[3] <= last[3] + 1, box[0] >= last[2] - 1
                if not (is_below or is_right):
                    yield f"page {page + 1}: {words!r} is read after {before[1]!r}"
            before = (page, words, box)


def cut_off(document: Document) -> Iterator[str]:
    """Text that leaves the column of the page."""
    for page, run in _runs(document):
        width, height = document.pages[page].width, document.pages[page].height
        left, low, right, high = run.bbox
        if left < MARGIN - 1 or right > width - MARGIN + 1.5 or low < 18 or high > height - 18:
            yield f"page {page + 1}: {run.text!r} at {left:.0f} to {right:.0f} of {width:.0f}"


def overprinted(document: Document) -> Iterator[str]:
    """Texts that stand on each other."""
    for page in range(len(document.pages)):
        runs = [run for run in document.content(page).runs if run.text.strip()]
        for n, one in enumerate(runs):
            for other in runs[n + 1 :]:
                if _shared(one.bbox, other.bbox) > 0.25:
                    yield f"page {page + 1}: {one.text!r} on {other.text!r}"


def missing_glyphs(document: Document) -> Iterator[str]:
    """Letters drawn as an empty box, for want of a font (checkpoint 31-027)."""
    for font in document.fonts.values():
        for code in sorted(font.codes_shown - _drawn(document, font.key)):
            yield f"{font.base_font} has no {font.cmap.get(code, code)!r}"


CHECKS: dict[str, Callable[[Document], Iterator[str]]] = {
    check.__name__: check
    for check in (
        rules,
        empty_elements,
        unread_content,
        alternative_texts,
        bookmarks,
        reading_order,
        cut_off,
        overprinted,
        missing_glyphs,
    )
}

CHECK_NAMES = [*CHECKS, "wording", "page_size"]


def faults(path: Path, page_size: str, quoted: Collection[str] = ()) -> dict[str, list[str]]:
    """What each check finds in one PDF; `quoted` are names and notes as the users wrote them."""
    document = Document(str(path))
    try:
        found = {name: list(check(document)) for name, check in CHECKS.items()}
        found["wording"] = [
            complaint for block in spoken(document) for complaint in complaints(block, quoted)
        ]
        sizes = {(round(p.width, 2), round(p.height, 2)) for p in document.pages}
        found["page_size"] = [str(size) for size in sizes if size != SIZES[page_size]]
        return found
    finally:
        document.close()


def spoken(document: Document) -> Iterator[str]:
    """The text as it is read aloud, block by block, without tables that quote others."""
    is_ours = True
    for element in document.elements:
        if not _is_innermost(element, SPOKEN):
            continue
        text = (element.alt or text_of(document, element)).strip()
        if element.is_heading:
            is_ours = text not in OTHERS_WORDS
        if is_ours and text:
            yield text


def text_of(document: Document, element: StructElem) -> str:
    """The text of an element as it is painted, from left to right."""
    text = ""
    for part in (element, *element.descendants()):
        for ref in part.mcrefs:
            piece = document.content(ref.page).mcid_text.get((ref.stream, ref.mcid), "")
            text += (
                piece if not text or text.endswith(" ") or piece.startswith(" ") else " " + piece
            )
    return text


def _is_innermost(element: StructElem, kinds: set[str]) -> bool:
    return element.type in kinds and all(e.type not in kinds for e in element.descendants())


def _runs(document: Document) -> Iterator[tuple[int, TextRun]]:
    for page in range(len(document.pages)):
        for run in document.content(page).runs:
            if run.text.strip():
                yield page, run


def _boxes(document: Document, element: StructElem) -> Iterator[tuple[int, tuple[float, ...]]]:
    """The area of a block on each page it stands on: left, low, right, high, in points."""
    areas: dict[int, list[tuple[float, ...]]] = {}
    for part in (element, *element.descendants()):
        for ref in part.mcrefs:
            box = document.content(ref.page).mcid_bbox.get((ref.stream, ref.mcid))
            if box:
                areas.setdefault(ref.page, []).append(box)
    for page, boxes in sorted(areas.items()):
        lefts, lows, rights, highs = zip(*boxes, strict=True)
        yield page, (min(lefts), min(lows), max(rights), max(highs))


def _letters(text: str) -> list[str]:
    """Without order: right-to-left letters come as they are drawn."""
    return sorted(re.sub(r"\W+", "", text))


def _shared(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """The area both have, as a share of the smaller."""
    width = min(one[2], other[2]) - max(one[0], other[0])
    height = min(one[3], other[3]) - max(one[1], other[1])
    if width <= 0 or height <= 0:
        return 0.0
    return width * height / min((b[2] - b[0]) * (b[3] - b[1]) for b in (one, other))


def _drawn(document: Document, key: tuple[int, int]) -> set[int]:
    """The glyphs that the embedded font has, beside the empty box at 0."""
    descriptor = document.pdf.get_object(*key).DescendantFonts[0].FontDescriptor
    program = descriptor.get("/FontFile2") or descriptor.get("/FontFile3")
    with TTFont(io.BytesIO(program.read_bytes()), lazy=True) as font:
        return set(range(1, font["maxp"].numGlyphs))


def said(path: Path) -> str:
    """The text of a PDF in one line, in the order in which it is read aloud."""
    document = Document(str(path))
    cells = document.elements_of("H1", "H2", "P", "LI", "TH", "TD")
    text = " ".join(text_of(document, cell) for cell in cells)
    document.close()
    return " ".join(text.replace("\xa0", " ").split())
