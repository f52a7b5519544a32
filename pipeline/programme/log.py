"""An athlete's own week: what is done, on which days, how often, how much and with which load."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue, Doses, Exercise
from schemas.plan_words import CountedIn

USUAL_WEEKS = 8  # back, in which an exercise counts as what the athlete does
LEVEL_WEEKS = 12  # back, in which an exercise of level 3 must have been done
REFERENCE_WEEKS = 4  # logged ones, whose mean is what the side is used to
SECONDS_A_REPETITION = 5.0  # of a hold, or metres of a carry, counted as one repetition
KEYS = ["athlete_id", "exercise", "side"]
Row = Mapping[str, Any]


@dataclass(frozen=True)
class Usual:
    """One exercise as the athlete does it; rows of `usual_work` by side."""

    exercise: Exercise
    by_side: Mapping[str, Row]

    @property
    def is_one_sided(self) -> bool:
        """Whether each side does it by itself."""
        return "left" in self.by_side and "right" in self.by_side

    @property
    def row(self) -> Row:
        """Any of its rows, of the side that did most; days are alike on both."""
        return max(self.by_side.values(), key=lambda row: (row["weekly_reps"], row["side"]))

    @property
    def weekdays(self) -> tuple[int, ...]:
        """The weekdays it is usually done on, 0 is Monday."""
        return tuple(self.row["weekdays"])

    def weekly(self, side: str) -> float:
        """Repetitions of a side in a logged week, two-sided ones counted for each side."""
        rows = (self.by_side.get(side), self.by_side.get("both"))
        return sum(row["weekly_work"] for row in rows if row)


@dataclass(frozen=True)
class Log:
    """What one athlete's training log says up to a day."""

    usual: Mapping[str, Usual] = field(default_factory=dict)
    own_days: tuple[int, ...] = ()  # weekdays trained in at least half of the last weeks
    sessions: Mapping[str, int] = field(default_factory=dict)  # of an exercise, in twelve weeks
    weeks: Mapping[str, int] = field(default_factory=dict)  # of twelve, with the exercise

    def reference(self, region: str, side: str) -> float:
        """Weekly repetitions of a side in a part of the body: the mean of the last logged weeks."""
        return sum(one.weekly(side) for one in self.usual.values() if one.exercise.region == region)

    def has(self, exercise: str) -> bool:
        """Whether an exercise was done in two sessions of the last twelve weeks."""
        return self.sessions.get(exercise, 0) >= 2

    @cached_property
    def has_jumps(self) -> bool:
        """Whether jumps are nothing new: two sessions of them in the last twelve weeks."""
        jumps = (one for one in self.usual.values() if one.exercise.contacts)
        return any(self.has(one.exercise.id) for one in jumps)

    def one_sided(self, exercise: str) -> Usual | None:
        """The exercise where each side does it by itself."""
        one = self.usual.get(exercise)
        return one if one is not None and one.is_one_sided else None

    def two_sided(self, region: str) -> Iterator[Usual]:
        """Lifts of a part of the body done with both sides at once, the most used first."""
        pairs = [
            one
            for one in self.usual.values()
            if "both" in one.by_side and one.exercise.region == region
        ]
        yield from sorted(pairs, key=lambda one: (-one.row["weekly_reps"], one.exercise.id))


def read_logs(sets: pl.DataFrame, as_of: date, book: Catalogue, rules: Doses) -> dict[str, Log]:
    """The log of each athlete in `stg_sets`, by athlete id; sets of later days do not count."""
    held = [
        one.id for one in book.exercises.values() if one.counted_in in (CountedIn.S, CountedIn.M)
    ]
    known = sets.filter((pl.col("trained_on") <= as_of) & (pl.col("reps") > 0)).with_columns(
        pl.col("exercise").is_in(held).alias("is_held")
    )
    rows: dict[str, dict[str, dict[str, Row]]] = {}
    for row in usual_work(known, as_of).iter_rows(named=True):
        if row["exercise"] in book.exercises:
            by = rows.setdefault(row["athlete_id"], {}).setdefault(row["exercise"], {})
            by[row["side"]] = row
    own, counts = _own_days(known, as_of, rules), _counts(known, as_of)
    return {
        who: Log(
            {
                name: Usual(book.exercises[name], by_side)
                for name, by_side in rows.get(who, {}).items()
            },
            own.get(who, ()),
            {name: days for name, (days, _) in counts.get(who, {}).items()},
            {name: weeks for name, (_, weeks) in counts.get(who, {}).items()},
        )
        for who in sorted({*rows, *own, *counts})
    }


def usual_work(sets: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """One row per athlete, exercise and side worked in the last eight weeks.

    `sets` is `stg_sets` with `is_held`, whether repetitions are seconds or metres.
    `per_week`: sessions in a week of training; `typical_sets` and `typical_reps`: medians per
    session and per set, rounded down; `weekly_reps`: repetitions in a week of training;
    `weekly_work`: mean of the last four logged weeks, holds and carries by the five;
    `weekdays`: the usual ones; `rir`: median, null where none was noted; `load_kg`: median load of
    the good sets of the latest session that has any, null without a load. A good set has no pain
    and all of the usual repetitions but one.
    """
    recent = _within(sets, as_of, USUAL_WEEKS)
    typical = (
        recent.group_by(*KEYS, "trained_on")
        .len()
        .group_by(KEYS)
        .agg(pl.col("len").median().floor().alias("typical_sets"))
    )
    weeks = recent.group_by("athlete_id").agg(pl.col("week_on").n_unique().alias("weeks"))
    work = (
        recent.group_by(*KEYS)
        .agg(
            pl.col("trained_on").n_unique().alias("days"),
            pl.len().alias("set_count"),
            pl.col("reps").sum().alias("rep_count"),
            pl.col("reps").median().floor().alias("typical_reps"),
            pl.col("rir").median().alias("rir"),
        )
        .join(typical, on=KEYS)
        .join(weeks, on="athlete_id")
        .with_columns(
            (pl.col("days") / pl.col("weeks")).alias("per_week"),
            (pl.col("rep_count") / pl.col("weeks")).alias("weekly_reps"),
        )
    )
    return (
        work.join(_weekly_work(recent, as_of), on=KEYS, how="left")
        .join(_weekdays(recent), on=KEYS, how="left")
        .join(_good_loads(recent, work), on=KEYS, how="left")
        .with_columns(pl.col("weekly_work").fill_null(0.0))
        .drop("days", "set_count", "rep_count", "weeks")
        .sort(KEYS)
    )


def counted(exercise: Exercise, reps: float, *, in_seconds: bool = False) -> float:
    """What these repetitions, seconds or metres count for in the week of a part of the body."""
    is_long = in_seconds or exercise.counted_in in (CountedIn.S, CountedIn.M)
    return reps / SECONDS_A_REPETITION if is_long else reps


def _within(sets: pl.DataFrame, as_of: date, weeks: int) -> pl.DataFrame:
    since = as_of - timedelta(weeks=weeks)
    day = pl.col("trained_on")
    return sets.filter((day > since) & (day <= as_of) & (pl.col("reps") > 0))


def _weekly_work(recent: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Counted in spans of seven days back from the as-of date, so that no span is a part of one."""
    week = ((pl.lit(as_of) - pl.col("trained_on")).dt.total_days() // 7).alias("week")
    dated = recent.with_columns(week)
    logged = (
        dated.select("athlete_id", "week")
        .unique()
        .sort("athlete_id", "week")
        .group_by("athlete_id", maintain_order=True)
        .head(REFERENCE_WEEKS)
    )
    count = logged.group_by("athlete_id").agg(pl.len().alias("count"))
    return (
        dated.join(logged, on=["athlete_id", "week"], how="semi")
        .join(count, on="athlete_id")
        .with_columns(
            pl.when(pl.col("is_held"))
            .then(pl.col("reps") / SECONDS_A_REPETITION)
            .otherwise(pl.col("reps"))
            .alias("work")
        )
        .group_by(KEYS)
        .agg((pl.col("work").sum() / pl.col("count").first()).alias("weekly_work"))
    )


def _weekdays(recent: pl.DataFrame) -> pl.DataFrame:
    """Weekdays with at least half as many sessions as the most usual one."""
    days = (
        recent.select(*KEYS, "trained_on")
        .unique()
        .with_columns((pl.col("trained_on").dt.weekday() - 1).cast(pl.Int64).alias("weekday"))
        .group_by(*KEYS, "weekday")
        .len()
    )
    usual = days.filter(pl.col("len") * 2 >= pl.col("len").max().over(KEYS))
    return usual.sort(*KEYS, "weekday").group_by(KEYS).agg(pl.col("weekday").alias("weekdays"))


def _good_loads(recent: pl.DataFrame, work: pl.DataFrame) -> pl.DataFrame:
    usual = work.select(*KEYS, (pl.col("rep_count") / pl.col("set_count")).alias("usual"))
    good = recent.join(usual, on=KEYS).filter(
        (pl.col("load_kg") > 0)
        & (pl.col("pain").fill_null(0) == 0)
        & (pl.col("reps") >= pl.col("usual") - 1)
    )
    latest = pl.col("trained_on") == pl.col("trained_on").max().over(KEYS)
    return (
        good.filter(latest)
        .group_by(*KEYS)
        .agg(pl.col("load_kg").median(), pl.col("reps").median().alias("load_reps"))
    )


def _own_days(sets: pl.DataFrame, as_of: date, rules: Doses) -> dict[str, tuple[int, ...]]:
    """Weekdays trained in enough of the last weeks, or of as many weeks as there are."""
    share, weeks_back = rules("own_days", "share"), int(rules("own_days", "weeks"))
    recent = _within(sets, as_of, weeks_back)
    ago = (pl.lit(as_of) - pl.col("trained_on")).dt.total_days() // 7
    weeks = recent.group_by("athlete_id").agg((ago.max() + 1).alias("weeks"))
    days = (
        recent.group_by("athlete_id", (pl.col("trained_on").dt.weekday() - 1).alias("weekday"))
        .agg(pl.col("trained_on").n_unique().alias("count"))
        .join(weeks, on="athlete_id")
        .filter(pl.col("count") >= share * pl.col("weeks"))
        .sort("athlete_id", "weekday")
        .group_by("athlete_id", maintain_order=True)
        .agg(pl.col("weekday"))
    )
    return {who: tuple(map(int, found)) for who, found in days.iter_rows()}


def _counts(sets: pl.DataFrame, as_of: date) -> dict[str, dict[str, tuple[int, int]]]:
    """Days and weeks with an exercise, by athlete and exercise, in twelve weeks."""
    recent = _within(sets, as_of, LEVEL_WEEKS)
    found: dict[str, dict[str, tuple[int, int]]] = {}
    rows = recent.group_by("athlete_id", "exercise").agg(
        pl.col("trained_on").n_unique().alias("days"), pl.col("week_on").n_unique().alias("weeks")
    )
    for who, exercise, days, weeks in rows.iter_rows():
        found.setdefault(who, {})[exercise] = days, weeks
    return found
