"""Values that are the same too often: one side copied to the other, one day copied to another."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.intake.doubts.compared_sessions import Floats, Ints, Sessions, combined, figures
from pipeline.intake.parse.units import measures
from pipeline.settings import IntakeSettings
from schemas.vocabulary import MeasureGroup

MOST_BY_CHANCE = 0.95
# Loads are chosen by the coach, often alike for both sides, whatever the error of the test.
CHOSEN_LOAD = 0.6
NOT_QUITE = 0.02  # share of sessions that may differ although a column was copied
SAME = 1e-9  # a difference up to this is none
SAMPLE = 50_000  # rows that are enough to see in what steps values are written
MIXERS = (0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9)  # odd constants of a well-known bit mixer


@dataclass(frozen=True)
class Copy:
    """Rows of a file on some days that repeat others: `same` of `compared` are equal."""

    entry: int
    days: tuple[int, ...]
    same: int
    compared: int
    athletes: int
    of_day: int | None = None  # the day whose values they are; None: the other side's


def find_copied_sides(
    sessions: Sessions, rows: pl.DataFrame, settings: IntakeSettings
) -> list[Copy]:
    """Days of files on which left and right are equal far more often than chance lets them."""
    s = sessions
    if not len(s.d):
        return []
    chance = _chance_of_ties(rows)[s.entry, s.measure]
    is_same = np.abs(s.d) < SAME
    evidence = np.where(is_same, np.log((1 - NOT_QUITE) / chance), np.log(NOT_QUITE / (1 - chance)))
    group = combined(s.entry, s.day)
    person = combined(group, s.athlete)
    group_of = np.zeros(int(person.max()) + 1, dtype=np.int64)
    group_of[person] = group
    athletes = np.bincount(group_of)
    is_copied = (np.bincount(group, weights=evidence) > settings.copy_evidence) & (
        athletes >= settings.least_athletes
    )
    found: list[Copy] = []
    for entry in np.unique(s.entry[is_copied[group]]):
        inside = is_copied[group] & (s.entry == entry)
        days = tuple(int(day) for day in np.unique(s.day[inside]))
        people = len(np.unique(s.athlete[inside]))
        same, compared = int(is_same[inside].sum()), int(inside.sum())
        found.append(Copy(int(entry), days, same, compared, people))
    return found


def _chance_of_ties(rows: pl.DataFrame) -> Floats:
    """How often two values of a test are equal by chance, by file (rows) and measure (columns).

    Two rounded values whose difference has SD s are equal in about step / (s √(2π)) of cases
    (own derivation: the density of their difference at 0 times the step).
    """
    fig = figures()
    sample = rows.gather_every(max(1, rows.height // SAMPLE))
    steps = sample.group_by("entry", "measure").agg(
        pl.col("value").round(6).unique().sort().diff().min().fill_null(float("inf")).alias("step"),
        pl.col("value").mean().abs().alias("mean"),
        pl.col("factor").mean(),
    )
    entry, place = (steps[name].to_numpy().astype(np.int64) for name in ("entry", "measure"))
    spread = np.sqrt(fig.side_sd[place] ** 2 + 2 * fig.error[place] ** 2)
    mean, factor, step = (steps[name].to_numpy() for name in ("mean", "factor", "step"))
    in_unit = np.where(fig.is_log[place], spread * mean, spread / factor)
    by_chance = np.clip(step / (in_unit * np.sqrt(2 * np.pi)), 1e-4, MOST_BY_CHANCE)
    chosen = np.array([m.unit == "kg" and m.id.endswith("_rm") for m in measures().all])
    least = np.where(chosen[place], CHOSEN_LOAD, 0.0)
    chance = np.full((int(entry.max(initial=0)) + 1, len(fig.error)), MOST_BY_CHANCE)
    chance[entry, place] = np.maximum(by_chance, least)
    return chance


def find_copied_days(rows: pl.DataFrame, settings: IntakeSettings) -> list[Copy]:
    """Days whose values are those of another day, athlete by athlete, to the last digit.

    Of two such days the later one is doubted: by file, then by day.
    """
    # Structure is not measured anew each time: the same leg length twice is no copy.
    structure = [
        n for n, measure in enumerate(measures().all) if measure.group == MeasureGroup.STRUCTURE
    ]
    rows = rows.filter(~pl.col("measure").is_in(structure))
    if rows.is_empty():
        return []
    prints = _prints(rows)
    first = (pl.col("entry") > pl.col("entry_first")) | (
        (pl.col("entry") == pl.col("entry_first")) & (pl.col("day") > pl.col("day_first"))
    )
    twins = (
        prints.join(prints, on=["athlete", "print", "count"], suffix="_first")
        .filter((pl.col("day") != pl.col("day_first")) & first)
        .group_by("entry", "day", "entry_first", "day_first")
        .agg(pl.col("evidence").sum(), pl.len().alias("same"))
    )
    present = prints.group_by("entry", "day").agg(pl.len().alias("athletes"))
    found = (
        twins.join(present, on=["entry", "day"])
        .filter(
            (pl.col("same") >= settings.least_athletes)
            & (pl.col("same") >= settings.copy_share * pl.col("athletes"))
            & (pl.col("evidence") > settings.copy_evidence)
        )
        .sort("entry", "day", "entry_first", "day_first")
        .unique(["entry", "day"], keep="first", maintain_order=True)
        .select("entry", "day", "same", "athletes", "day_first")
    )
    return [
        Copy(entry, (day,), same, athletes, athletes, first_day)
        for entry, day, same, athletes, first_day in found.rows()
    ]


def _prints(rows: pl.DataFrame) -> pl.DataFrame:
    """One number for all values of an athlete on one day of a file, whatever their order.

    `evidence` is how unlikely it is that two days have the same values by chance.
    """
    part = {
        name: rows[name].to_physical().to_numpy().astype(np.int64)
        for name in ("entry", "day", "athlete", "measure", "side", "trial")
    }
    chance = _chance_of_ties(rows)[part["entry"], part["measure"]]
    number = combined(part["entry"], part["day"], part["athlete"])
    last = np.zeros(int(number.max()) + 1, dtype=np.int64)
    last[number] = np.arange(len(number))
    cell = (part["measure"] * 4 + part["side"]) * 1000 + part["trial"]
    mark = _mixed(cell, rows["value"].to_numpy())
    return pl.DataFrame(
        {
            **{name: part[name][last] for name in ("entry", "day", "athlete")},
            "print": np.bincount(number, weights=mark).astype(np.int64),
            "count": np.bincount(number),
            "evidence": np.bincount(number, weights=-np.log(chance)),
        }
    )


def _mixed(cell: Ints, value: Floats) -> Floats:
    """A whole number below 2^33 for each cell and value; sums of 2^20 of them stay exact."""
    bits = np.round(value, 6).view(np.uint64) ^ (cell.astype(np.uint64) * np.uint64(MIXERS[0]))
    bits = (bits ^ (bits >> np.uint64(29))) * np.uint64(MIXERS[1])
    return (bits >> np.uint64(31)).astype(np.float64)
