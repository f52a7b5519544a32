"""The points of a meeting, each made by itself: of one that fails the figures stand."""

from collections.abc import Mapping
from functools import partial
from typing import Any

import polars as pl

from pipeline.plan.block import Block
from pipeline.report.sections.meeting_points import Point, point
from pipeline.report.text.phrases import say
from pipeline.review.week import Week
from pipeline.unmade import LET_THROUGH, Unmade
from schemas.vocabulary import Reason


def points(
    flags: pl.DataFrame, blocks: Mapping[str, Block], week: Week, unmade: Unmade = LET_THROUGH
) -> list[Point]:
    """The texts of each of these flags of a week, in their order."""
    tests = week.findings.join(flags, on=["athlete_id", "measure"], how="semi")
    found = {(row["athlete_id"], row["measure"]): row for row in tests.iter_rows(named=True)}
    people = week.athletes.join(flags, on="athlete_id", how="semi")
    athletes = {row["athlete_id"]: row for row in people.iter_rows(named=True)}
    return [
        unmade.attempt(
            who,
            f"the sentences of the flag {flag['flag_id']}",
            partial(
                point, flag, found.get((who, flag["measure"])), athletes[who], blocks[who], week
            ),
            partial(_unmade_point, flag),
        )
        for flag in flags.iter_rows(named=True)
        for who in [flag["athlete_id"]]
    ]


def _unmade_point(flag: Mapping[str, Any]) -> Point:
    """In place of sentences that could not be made; medical staff stay first."""
    is_referred = flag["reason"] == Reason.REFER
    return Point(
        test=flag["subject"] or "",
        sentence=say("agenda.point.unmade", flag=flag["flag_id"]),
        sureness="",
        sure_word="",
        detail="",
        suggestion=say(
            "agenda.suggestion.unmade_refer" if is_referred else "agenda.suggestion.unmade_point"
        ),
    )
