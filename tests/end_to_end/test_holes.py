"""Weeks with holes in them: rows lost at random, sides untested, zeros, pain, blank rosters.

Nobody tests both sides of everybody every time; whatever is missing, every page must be made.
"""

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipeline.intake import Intake, read_exports
from pipeline.parts.work import flags_before
from pipeline.plan.blocks import blocks
from pipeline.report.outputs.write_pages import Left, athlete_pages, squad_packs, squad_references
from pipeline.report.pdf.render import source_of
from pipeline.review.squads import review
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.parts import squads_of
from pipeline.warehouse.stock import newest_day, raw_frames, stock
from tests.conftest import SAMPLE

WEEKS = 9
MAY_BE_BLANK = [
    "sex", "birth_date", "dominant_hand", "dominant_foot", "availability", "known_difference",
    "known_side", "height_cm", "body_mass_kg", "left_limb_length_cm", "right_limb_length_cm",
]  # fmt: skip
# What a number or a text that is not there looks like on a page.
NOTHING = re.compile(r"(?<![\w-])(nan|None|null|inf)(?![\w-])")


@pytest.fixture(scope="module")
def intake() -> Intake:
    return read_exports(SAMPLE, Settings())


def with_holes(intake: Intake, squad: str, chance: np.random.Generator) -> Intake:
    """One squad's rows, many of them lost, some of them odd."""

    def some(frame: pl.DataFrame, share: Any) -> pl.DataFrame:
        return frame.filter(pl.Series(chance.random(frame.height) < share, dtype=pl.Boolean))

    roster = intake.roster.filter(squad=squad)
    own = pl.col("athlete_id").cast(pl.String).is_in(roster["athlete_id"].to_list())
    trials = some(intake.trials.filter(own), chance.choice([0.03, 0.3, 0.7]))
    draw = pl.Series(chance.random(trials.height))
    is_left = trials["side"].cast(pl.String) == "left"
    trials = trials.with_columns(
        value=pl.when(draw < 0.01).then(0.0).when(draw < 0.02).then(3 * pl.col("value"))
        .otherwise("value"),
        pain=pl.when(draw.is_between(0.02, 0.03)).then(4.0).otherwise("pain"),
    ).filter(~is_left | (draw < chance.choice([0.5, 1.0])))  # fmt: skip
    blank = pl.Series(chance.random(roster.height) < 0.3)
    return replace(
        intake,
        roster=roster.with_columns(
            pl.when(blank).then(None).otherwise(pl.col(name)).alias(name) for name in MAY_BE_BLANK
        ),
        trials=trials,
        sets=some(intake.sets.filter(own), chance.choice([0.0, 0.5, 1.0])),
        film=some(intake.film.filter(own), 0.5),
        decisions=some(intake.decisions, 0.5),
    )


@pytest.mark.parametrize("seed", range(WEEKS))
def test_every_page_is_made_whatever_is_missing(intake: Intake, seed: int) -> None:
    chance = np.random.default_rng(seed)
    squads = squads_of(intake.roster)
    squad = squads[seed % len(squads)]
    holed = with_holes(intake, squad, chance)
    day = newest_day(intake) - timedelta(days=int(chance.choice([0, 7, 40])))
    with Warehouse() as warehouse:
        stock(warehouse, raw_frames(holed), day, Settings())
        known = review(warehouse, [squad], day, Settings())
        before = flags_before(warehouse, known)
    plans = blocks(known)
    left: Left = {}
    packs, references = (
        squad_packs(known, plans, before, left),
        squad_references(known, plans, left),
    )
    pages = [*packs, *references, *athlete_pages(known, plans)]
    assert len(pages) == 2 + holed.roster.height
    for name, sheet in pages:
        source = source_of(sheet.make())
        shown = re.sub(r"data:[^\"]*|<style.*?</style>", "", source, flags=re.DOTALL)
        assert NOTHING.findall(shown) == [], name
