"""The least that any maker of these PDFs needs: rendering finished HTML with its charts drawn.

python -m tests.benchmarks.floor PAGES FOLDER [WORKERS]

PAGES is a JSON file of finished pages by name, as `finished_pages` makes them.
"""

import json
import sys
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from multiprocessing import get_context
from pathlib import Path

from pipeline.report import render

PAGE_SIZE, AS_OF = "A4", date(2026, 11, 20)


def finished_pages(exports: Path) -> dict[str, str]:
    """HTML of every PDF of a build from these exports, charts drawn, the longest first."""
    from dataclasses import replace

    from pipeline.build import flags_before, newest_day, review
    from pipeline.intake import read_exports
    from pipeline.report.write_pages import pages
    from pipeline.review.week import blocks
    from pipeline.settings import Settings

    intake = read_exports(exports, Settings())
    week = review(intake, newest_day(intake), Settings(), None)
    week = replace(week, flags_before=flags_before(intake, week))
    made = pages(week, blocks(week))
    return {
        name: render._environment()
        .get_template("squad.html" if name.startswith("squad_") else "athlete.html")
        .render(page=page, page_size=PAGE_SIZE)
        for name, page in made.items()
    }


def printed(html: str) -> bytes:
    """The PDF of one finished page, as `render` makes it."""
    import weasyprint
    from weasyprint.text.fonts import FontConfiguration

    render._prepare()
    document = weasyprint.HTML(string=html, url_fetcher=render._assets())
    pdf: bytes = document.write_pdf(
        pdf_variant="pdf/ua-1", font_config=FontConfiguration(), pdf_tags=True
    )
    return pdf


def main() -> None:
    """Render them all, as a build does: in spawned processes that are ready before their work."""
    source, folder = Path(sys.argv[1]), Path(sys.argv[2])
    workers = int(sys.argv[3]) if len(sys.argv) > 3 else 2
    made: dict[str, str] = json.loads(source.read_text(encoding="utf-8"))
    (folder / "athletes").mkdir(parents=True)
    with ProcessPoolExecutor(workers, get_context("spawn"), initializer=render._prepare) as pool:
        for name, pdf in zip(made, pool.map(printed, made.values()), strict=True):
            (folder / name).write_bytes(pdf)


if __name__ == "__main__":
    main()
