"""What each stage of a build costs beside a fixed piece of work of its kind, in the same run.

    python -m tests.benchmarks.stages            # measured ratio, recorded ratio; 1 where one grew
    python -m tests.benchmarks.stages --record   # write what was measured into budget.toml

Processor time, so that a busy machine disturbs little; stage and reference in turn, and the least
of each. Record on a machine that is not busy, after a change that is worth its price.
"""

import gc
import pickle
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path

import duckdb
import numpy as np
import polars as pl

from pipeline.catalogue import full_catalogue
from pipeline.estimate import estimate
from pipeline.intake import read_exports
from pipeline.plan.blocks import blocks
from pipeline.report.charts.balance import balance_blocks
from pipeline.report.charts.trend import trend_panels
from pipeline.report.outputs.write_pages import Left, athlete_pages, squad_packs, squad_references
from pipeline.report.pdf.render import render
from pipeline.review.decisions.earlier_days import asked_about, known_then
from pipeline.review.differences.verdicts import findings
from pipeline.review.flags.agenda import agenda
from pipeline.review.flags.flag_inputs import Evidence, what_is_known
from pipeline.review.flags.notes import noted_signs
from pipeline.review.squads import flagged, trials_to_estimate, warehouse_of_part
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import squads_of
from pipeline.warehouse.stock import newest_day, raw_frames, stock
from tests.end_to_end.small import write_small_exports
from tests.raw import reviewed

BUDGET = Path(__file__).with_name("budget.toml")
HEAD = """\
# Processor time of each stage as a multiple of its reference (tests/benchmarks/stages.py).
# `make bench` fails where one has grown by half. Renew: python -m tests.benchmarks.stages --record
"""
ROUNDS = 3
READ = (
    "stg_athletes", "stg_trials", "stg_sets", "stg_log_remarks", "mart_test_coverage",
    "ref_measures", "ref_exercises",
)  # fmt: skip
MOST_GROWTH, ATTEMPTS = 1.5, 3
Work = Callable[[], object]


def recorded() -> dict[str, float]:
    """The ratio of each stage when it was last written down."""
    return tomllib.loads(BUDGET.read_text(encoding="utf-8"))["ratios"]


def ratio(work: Work, reference: Work, rounds: int = ROUNDS) -> float:
    """Least processor time of the work over the least of its reference, taken in turn."""
    spent: dict[Work, list[float]] = {work: [], reference: []}
    work(), reference()  # what only the first call costs
    gc.collect()
    was_on = gc.isenabled()
    gc.disable()
    try:
        for _ in range(rounds):
            for one, times in spent.items():
                begin = time.process_time()
                one()
                times.append(time.process_time() - begin)
    finally:
        if was_on:
            gc.enable()
    return min(spent[work]) / min(spent[reference])


def stages(folder: Path) -> dict[str, tuple[Work, Work]]:
    """Each stage on a small squad, all that it needs prepared, and its reference."""
    settings, book = Settings(), full_catalogue()
    exports = write_small_exports(folder / "exports")
    intake = read_exports(exports, settings)
    day = newest_day(intake)
    with Warehouse() as warehouse:
        stock(warehouse, raw_frames(intake), day, settings)
        seen = flagged(warehouse, squads_of(intake.roster), day, settings)
        read = {name: warehouse.fetch(name) for name in READ}
    trials = trials_to_estimate(seen.trials)
    week = reviewed(intake, day, settings)
    plans = blocks(week)
    page = dict(athlete_pages(week, plans))["BL-3"].make()
    packed = pickle.dumps(page)

    def stored() -> None:
        with Warehouse() as warehouse:
            stock(warehouse, raw_frames(intake), day, settings)

    def judged() -> None:
        found = findings(seen.estimates, seen.sessions, book.measures, settings)
        signs = noted_signs(seen.trials, seen.remarks, seen.film, book.rules)
        asked = asked_about(seen.estimates, found, seen.stood, day, settings.review)
        then = known_then(
            seen.estimates, asked, trials, seen.athletes, book.measures, day, settings
        )
        evidence = Evidence(seen.estimates, found, then, seen.work, signs)
        with warehouse_of_part(read) as house:
            known = what_is_known(evidence, seen.told, seen.athletes, day, settings)
            for name, frame in known.items():
                house.load(name, frame)
            agenda(house, seen.told, book, day, settings)
        blocks(week)

    def drawn() -> None:
        left: Left = {}
        packs = squad_packs(week, plans, week.flags, left)
        for _, sheet in (*packs, *squad_references(week, plans, left), *athlete_pages(week, plans)):
            sheet.make()
        balance_blocks(page.balance)
        trend_panels(page.trends)

    return {
        "intake": (lambda: read_exports(exports, settings), small_frames),
        "warehouse": (stored, small_tables),
        "estimate": (
            lambda: estimate(trials, seen.athletes, book.measures, day, settings),
            small_arrays,
        ),
        "review": (judged, small_frames),
        "pages_and_charts": (drawn, small_frames),
        "rendering": (lambda: render(packed, "A4", date(2026, 3, 2)), plain_pdf),
    }


def small_frames() -> None:
    """What intake, review and pages consist of: many steps on small frames."""
    numbers = pl.DataFrame({"key": [f"a{n % 50}" for n in range(600)], "value": range(600)})
    for step in range(60):
        text = pl.col("value").cast(pl.String) + pl.lit(f" {step}")
        made = numbers.with_columns(text=text.str.to_uppercase().str.strip_chars())
        sums = made.group_by("key", maintain_order=True).agg(pl.col("value").sum(), pl.len())
        made.join(sums, on="key", how="left").filter(pl.col("value") > step).sort("key", "value")


def small_tables() -> None:
    """What the warehouse consists of: tables made from tables."""
    with duckdb.connect(":memory:") as connection:
        connection.execute(
            "create table t0 as select range as n, range % 40 as key from range(900)"
        )
        for step in range(1, 40):
            connection.execute(
                f"create or replace table t{step} as select n, key, avg(n) over (partition by key "
                f"order by n) as mean, (select count(*) from t{step - 1} o where o.key = t.key) c "
                f"from t{step - 1} t"
            )


def small_arrays() -> None:
    """What the estimate consists of: many steps on arrays of some hundred numbers."""
    values = np.linspace(0.1, 2.0, 300)
    places = np.arange(300) // 6
    for _ in range(500):
        weight = np.exp(-(values**2) / 2)
        total = np.bincount(places, weight, minlength=50)
        (np.log(weight + 1)[:, None] * np.ones(4)).sum(axis=1)
        np.where(total[places] > 0.5, weight / total[places], 0.0).cumsum()


@cache
def _plain_html() -> str:
    rows = "".join(f"<tr>{''.join(f'<td>{n * m}</td>' for m in range(6))}</tr>" for n in range(30))
    return f"<html><body><h1>Table</h1><table>{rows}</table></body></html>"


def plain_pdf() -> None:
    """What rendering consists of: a page with a table of text."""
    import weasyprint

    weasyprint.HTML(string=_plain_html()).write_pdf()


def growth(work: Work, reference: Work, before: float) -> float:
    """Against the recorded ratio; measured again where it is too much, as others use the cores."""
    least = float("inf")
    for _ in range(ATTEMPTS):
        least = min(least, ratio(work, reference) / before)
        if least < MOST_GROWTH:
            break
    return least


def main() -> int:
    """Measure all stages; print, or record. Returns 1 where one has grown by half."""
    with tempfile.TemporaryDirectory() as name:
        pairs = stages(Path(name))
        if "--record" in sys.argv:
            lines = [f"{stage} = {ratio(*pair):.2f}" for stage, pair in pairs.items()]
            text = HEAD + "\n[ratios]\n" + "\n".join(lines) + "\n"
            BUDGET.write_text(text, encoding="utf-8")
            return 0
        grown = {stage: growth(*pair, recorded()[stage]) for stage, pair in pairs.items()}
    for stage, times in grown.items():
        print(f"{stage:<18} {times:.2f} times what is recorded")
    return int(max(grown.values()) >= MOST_GROWTH)


if __name__ == "__main__":
    sys.exit(main())
