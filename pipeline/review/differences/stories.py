"""One limb, one story: hints of several tests that are told together and drive one plan.

Chances are never multiplied: tests of one limb are not independent. Values computed from parts that
were tested, and further values of one effort, count for nothing; lifts of the log count half: they
may join and never lead.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import polars as pl
from scipy.stats import norm

from pipeline.catalogue import Catalogue, Doses
from pipeline.catalogue.story_rules import WHOLE_LEG
from pipeline.scales import INTERVAL_SD
from pipeline.settings import ReviewSettings
from schemas.vocabulary import Limb, LowerSide, MeasureGroup, Side

Row = Mapping[str, Any]
LEAST = 2.0  # tests that make a story
SIDES: tuple[Side, ...] = (Side.LEFT, Side.RIGHT)


@dataclass(frozen=True)
class Story:
    """What several tests say of one limb.

    `others`: tests that speak clearly the other way, so that none of them drives a plan; `even`: of
    a whole leg, the tests that do not have its side lower.
    """

    quality: str  # of the catalogue's stories, or WHOLE_LEG
    limb: str
    lower_side: Side
    measures: tuple[str, ...]  # the surest first, lifts of the log last
    test_count: int  # kinds of test, without the log
    others: tuple[str, ...] = ()
    even: tuple[str, ...] = ()

    @property
    def is_one(self) -> bool:
        """Whether the tests agree."""
        return not self.others

    def holds(self, measure: str | None) -> bool:
        """Whether a test is one of those it is told from, whatever its side."""
        return measure in self.measures or measure in self.others


def stories(found: Sequence[Row], book: Catalogue, doses: Doses) -> tuple[Story, ...]:
    """The stories of one athlete's findings, each test in at most one; the whole leg comes first.

    Rows need measure, lower_side, chance_over_line and last_tested_on; accepted ones are silent.
    """
    teller = _Teller(book, doses, _counted(found, book))
    told: list[Story] = []
    whole = [one for side in SIDES if (one := teller.whole_leg(side)) is not None]
    several = (
        teller.story(name, side) for name in book.stories.qualities for side in SIDES
    )  # fmt: skip
    ranked = sorted(
        filter(None, several),
        key=lambda one: (one.is_one, -len(one.measures), -teller.chance[one.measures[0]]),
    )
    if len(whole) > 1:  # as much on one side as on the other is the story of neither
        whole = []
    for one in (*whole, *ranked):
        taken = {name for other in told for name in (*other.measures, *other.others)}
        if not taken & {*one.measures, *one.others}:
            told.append(one)
    return tuple(told)


def story_of(told: Sequence[Story], measure: str | None, side: str | None = None) -> Story | None:
    """The story that a test is part of; with a side, only where that side is its lower one."""
    holding = (one for one in told if one.holds(measure))
    return next((one for one in holding if side is None or one.lower_side == side), None)


def found_then(
    days: pl.DataFrame, begun: pl.DataFrame, review: ReviewSettings
) -> dict[str, list[Row]]:
    """What was said of each test on the day on which a running block began, by athlete.

    `days` as `estimates.days`, whose chances know the tests up to each day; `begun` has athlete_id
    and started_on.
    """
    known = (
        days.join(begun.select("athlete_id", "started_on"), on="athlete_id")
        .filter((pl.col("tested_on") <= pl.col("started_on")) & pl.col("d").is_not_null())
        .sort("athlete_id", "measure", "tested_on")
        .unique(["athlete_id", "measure"], keep="last", maintain_order=True)
    )
    z = pl.col("estimate") * INTERVAL_SD / (pl.col("high") - pl.col("low"))
    sure = float(norm.ppf(review.side_chance))
    sided = known.select(
        "athlete_id", "measure", "chance_over_line", pl.col("tested_on").alias("last_tested_on"),
        pl.when(z >= sure).then(pl.lit(LowerSide.LEFT))
        .when(z <= -sure).then(pl.lit(LowerSide.RIGHT)).otherwise(pl.lit(LowerSide.EVEN))
        .alias("lower_side"),
    )  # fmt: skip
    rows: dict[str, list[Row]] = {}
    for row in sided.iter_rows(named=True):
        rows.setdefault(row["athlete_id"], []).append(row)
    return rows


def _counted(found: Sequence[Row], book: Catalogue) -> list[Row]:
    """The surest value of each effort, without those computed from parts that were tested."""
    tested = {row["measure"] for row in found}
    best: dict[object, Row] = {}
    for row in sorted(found, key=lambda one: (-one["chance_over_line"], one["measure"])):
        parts = book.measures[row["measure"]].parts
        if (parts is None or not tested & {*parts.of}) and not row.get("is_accepted"):
            best.setdefault(book.stories.effort_of.get(row["measure"], row["measure"]), row)
    return list(best.values())


@dataclass(frozen=True)
class _Teller:
    """The findings of one athlete that count, the surest first."""

    book: Catalogue
    doses: Doses
    found: Sequence[Row]

    @property
    def chance(self) -> dict[str, float]:
        """Of each test, the chance that it is over its line."""
        return {row["measure"]: row["chance_over_line"] for row in self.found}

    def story(self, name: str, side: Side) -> Story | None:
        """The story of one quality with this side lower; None where there is none."""
        quality = self.book.stories.qualities[name]
        about = [
            row for row in self.found
            if row["measure"] in quality.measures or self._group(row) in quality.groups
        ]  # fmt: skip
        spoken = self._near([row for row in about if self._speaks(row)])
        own = [row for row in spoken if row["lower_side"] == side]
        others = [row for row in spoken if row["lower_side"] != side]
        if not self._is_story(others):  # else as many tests say it of the other side
            others = [row for row in others if self._is_clear(row)]
        if not self._is_story(own) and not (others and any(map(self._is_clear, own))):
            return None
        return self._told(name, quality.limb, side, own, others)

    def whole_leg(self, side: Side) -> Story | None:
        """The story of a leg: most kinds of test of one side, and none clearly the other way."""
        rules = self.book.stories.whole_leg
        about = [row for row in self.found if self._group(row) in rules.groups]
        spoken = self._near([row for row in about if self._speaks(row)])
        own = [row for row in spoken if row["lower_side"] == side]
        others = [row for row in spoken if row["lower_side"] != side and self._is_clear(row)]
        weights: dict[str, float] = {}
        for row in own:
            group = self._group(row)
            weights[group] = max(weights.get(group, 0.0), self._weight(row))
        if others or sum(weights.values()) < rules.least or not any(map(self._leads, own)):
            return None
        even = [row["measure"] for row in about if row not in own and self._weight(row) == 1]
        return self._told(WHOLE_LEG, Limb.LEG, side, own, others, tuple(sorted(even)))

    def _is_story(self, rows: Sequence[Row]) -> bool:
        return sum(map(self._weight, rows)) >= LEAST and any(map(self._leads, rows))

    def _told(
        self, name: str, limb: str, side: Side, own: Sequence[Row], others: Sequence[Row],
        even: tuple[str, ...] = (),
    ) -> Story:  # fmt: skip
        ranked = sorted(own, key=lambda row: (not self._is_test(row), not self._leads(row)))
        return Story(
            quality=name,
            limb=limb,
            lower_side=side,
            measures=tuple(row["measure"] for row in ranked),
            test_count=sum(map(self._is_test, own)),
            others=tuple(row["measure"] for row in others),
            even=even,
        )

    def _speaks(self, row: Row) -> bool:
        chance = row["chance_over_line"]
        return row["lower_side"] in SIDES and chance >= self.doses("one_story", "counts_from")

    def _is_clear(self, row: Row) -> bool:
        is_sure = row["chance_over_line"] >= self.doses("one_story", "other_way_from")
        return bool(is_sure and self._leads(row))

    def _near(self, rows: Sequence[Row]) -> list[Row]:
        """Those of the last weeks before the newest of them."""
        newest: date = max((row["last_tested_on"] for row in rows), default=date.min)
        weeks = timedelta(weeks=float(self.doses("one_story", "weeks")))
        return [row for row in rows if newest - row["last_tested_on"] <= weeks]

    def _group(self, row: Row) -> str:
        measure = self.book.measures[row["measure"]]
        return self.book.coaching.group_of(measure, self.book.exercises).id

    def _is_test(self, row: Row) -> bool:
        return not self.book.measures[row["measure"]].is_record

    def _leads(self, row: Row) -> bool:
        """Whether a plan may go by it: neither a lift of the log nor size alone."""
        return self._is_test(row) and self.book.measures[row["measure"]].group != MeasureGroup.SIZE

    def _weight(self, row: Row) -> float:
        share = float(self.doses("one_story", "record_share"))
        return 1.0 if self._is_test(row) else share


__all__ = ["WHOLE_LEG", "Story", "found_then", "stories", "story_of"]
