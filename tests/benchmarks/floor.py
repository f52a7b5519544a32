"""The least that any maker of these PDFs needs: rendering finished HTML with its charts drawn.

python -m tests.benchmarks.floor PAGES FOLDER [WORKERS]

PAGES is a JSON file of finished pages by name, as `finished_pages` makes them.
"""

import json
import sys
from itertools import repeat
from pathlib import Path

from pipeline.report.pdf import render
from pipeline.report.pdf.typeface import ours
from pipeline.report.pdf.workers import printers, start_early

PAGE_SIZE = "A4"


def finished_pages(exports: Path) -> dict[str, str]:
    """HTML of every PDF of a build from these exports, charts drawn, the longest first."""
    from pipeline.intake import read_exports
    from pipeline.parts.work import flags_before
    from pipeline.plan.blocks import blocks
    from pipeline.report.outputs.write_pages import (
        Left,
        athlete_pages,
        pdf_names,
        squad_packs,
        squad_references,
    )
    from pipeline.review.squads import review
    from pipeline.settings import Settings
    from pipeline.warehouse import Warehouse
    from pipeline.warehouse.parts import squads_of
    from pipeline.warehouse.stock import newest_day, raw_frames, stock

    intake = read_exports(exports, Settings())
    day = newest_day(intake)
    with Warehouse() as warehouse:
        stock(warehouse, raw_frames(intake), day, Settings())
        week = review(warehouse, squads_of(intake.roster), day, Settings())
        before = flags_before(warehouse, week)
    plans = blocks(week)
    names = pdf_names(intake.roster)
    left: Left = {}
    packs = squad_packs(week, plans, before, left)
    made = [(names.squads[squad], sheet) for squad, sheet in packs]
    references = squad_references(week, plans, left)
    made += [(names.references[squad], sheet) for squad, sheet in references]
    made += [(names.athletes[who], sheet) for who, sheet in athlete_pages(week, plans)]
    return {name: render.source_of(sheet.make()) for name, sheet in made}


def main() -> None:
    """Render them all, as a build does: in processes that are ready before their work."""
    source, folder = Path(sys.argv[1]), Path(sys.argv[2])
    workers = int(sys.argv[3]) if len(sys.argv) > 3 else 2
    made: dict[str, str] = json.loads(source.read_text(encoding="utf-8"))
    (folder / "athletes").mkdir(parents=True)
    start_early()
    with printers(workers) as pool:
        pages = pool.map(render.printed, made.values(), repeat(PAGE_SIZE), repeat(ours()))
        for name, (pdf, *_) in zip(made, pages, strict=True):
            (folder / name).write_bytes(pdf)


if __name__ == "__main__":
    main()
