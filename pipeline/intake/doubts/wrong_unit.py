"""Files whose values look like another unit, a total of both sides, or another athlete's."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from pipeline.catalogue import Measure, catalogue
from pipeline.intake.doubts.compared_sessions import combined
from pipeline.intake.parse.units import measures
from pipeline.intake.rows.people import People
from pipeline.settings import IntakeSettings
from schemas.catalogue_words import MeasureKind, Shape
from schemas.vocabulary import Sex

# Ratios of a value to what it should be when the unit is another; exact factors where there are.
LIKELY = {
    "mass": {"lb": 1 / 0.45359237, "kg turned into lb": 0.45359237, "g": 1000.0, "N": 9.80665},
    "force": {
        "kgf": 1 / 9.80665,
        "lbf": 1 / 4.4482216152605,
        "kN": 0.001,
        "N turned into kgf": 9.80665,
    },
    "length": {"in": 1 / 2.54, "m": 0.01, "mm": 10.0, "ft": 1 / 30.48, "cm turned into in": 2.54},
    "time": {"ms": 1000.0, "min": 1 / 60},
    "angle": {"rad": 1 / 57.29577951308232},
    "torque": {"lb-ft": 1 / 1.3558179483314004, "kgf-m": 1 / 9.80665},
    "torque_per_mass": {"lb-ft": 1 / 1.3558179483314004},
    "share": {"%": 100.0},
    "limb_share": {"share of 1": 0.01},
    "impulse": {"kgf.s": 1 / 9.80665},
}
TOTAL = "total"  # of both sides, or a pair of dumbbells, in a column for one side
CHILD_DAYS = 16 * 365.25  # younger athletes are not held against figures of adults
OLD_DAYS = 50 * 365.25  # nor older ones
# Of natural logs of the ratio: how far off counts, and how near a factor must be.
LEAST_HISTORY, NEAR_HISTORY = float(np.log(1.3)), 0.1
LEAST_CATALOGUE, NEAR_CATALOGUE = float(np.log(1.7)), 0.2
FAR = float(np.log(3.7))
ALIKE = float(np.log(1.7))  # how far apart few people may stand who share a unit
SHARP = 0.2  # spread between people as a share of the mean


@dataclass(frozen=True)
class Misfit:
    """A test in one file whose level is off by a factor that another unit would explain."""

    entry: int
    measure: int
    unit: str  # the unit it looks like, or TOTAL
    ratio: float  # of what stands there to what was expected
    athletes: int
    by_history: bool  # expected from the athletes' other files, else from the catalogue
    off: float  # from the catalogue, in natural logs of the ratio


def find_misfits(rows: pl.DataFrame, people: People, settings: IntakeSettings) -> list[Misfit]:
    """Tests of files whose squad median is off by the factor of another unit.

    The clearest first; what was once found is no longer held against other files, so that a
    wrong file does not cast doubt on the right ones.
    """
    medians = (
        _middles(rows.filter(pl.col("value") > 0))
        .join(_expected(people), on=["measure", "athlete"], how="left")
        .with_columns(age=(pl.col("day") - pl.col("born_on")).dt.total_days())
        .with_columns(
            from_catalogue=pl.when(
                pl.col("age").is_between(CHILD_DAYS, OLD_DAYS).fill_null(True)
            ).then((pl.col("value") / pl.col("usual")).log())
        )
        .sort("entry", "measure", "athlete")
    )
    found: list[Misfit] = []
    while len(found) < settings.most_doubts:
        candidates = [_misfit(row, settings) for row in _summary(medians).to_dicts()]
        clear = [misfit for misfit in candidates if misfit is not None]
        if not clear:
            break
        worst = max(clear, key=lambda misfit: (round(abs(np.log(misfit.ratio)), 1), misfit.off))
        found.append(worst)
        is_found = (pl.col("entry") == worst.entry) & (pl.col("measure") == worst.measure)
        medians = medians.filter(~is_found)
    return sorted(found, key=lambda misfit: (misfit.entry, misfit.measure))


def _middles(rows: pl.DataFrame) -> pl.DataFrame:
    """Geometric mean of an athlete's values in each file and test, and a day of them."""
    part = {
        name: rows[name].to_numpy().astype(np.int64) for name in ("entry", "measure", "athlete")
    }
    number = combined(*part.values())
    last = np.zeros(int(number.max(initial=-1)) + 1, dtype=np.int64)
    last[number] = np.arange(len(number))
    total = np.bincount(number, weights=np.log(rows["value"].to_numpy()))
    return pl.DataFrame(
        {
            "entry": part["entry"][last],
            "measure": pl.Series(part["measure"][last], dtype=pl.UInt32),
            "athlete": pl.Series(part["athlete"][last], dtype=pl.UInt32),
            "value": np.exp(total / np.bincount(number)),
            "day": rows["day"].gather(last),
        }
    )


def _summary(medians: pl.DataFrame) -> pl.DataFrame:
    """One row a file and test: how far its athletes are from their other files and from usual."""
    others = (
        medians.select("entry", "measure", "athlete")
        .join(medians, on=["measure", "athlete"], suffix="_other")
        .filter(pl.col("entry") != pl.col("entry_other"))
        .group_by("entry", "measure", "athlete")
        .agg(pl.col("value").median().alias("history"))
    )
    return (
        medians.join(others, on=["entry", "measure", "athlete"], how="left")
        .with_columns(from_history=(pl.col("value") / pl.col("history")).log())
        .group_by("entry", "measure")
        .agg(
            pl.col("from_history").median().alias("history"),
            (pl.col("from_history").std().fill_null(0.0) / pl.len().sqrt()).alias("spread"),
            pl.col("from_history").count().alias("history_count"),
            pl.col("from_catalogue").median().alias("catalogue"),
            pl.col("from_catalogue").count().alias("catalogue_count"),
            (pl.col("from_catalogue").max() - pl.col("from_catalogue").min()).alias("apart"),
        )
        .sort("entry", "measure")
    )


def _expected(people: People) -> pl.DataFrame:
    """The usual value of every measure for each athlete, by the catalogue and the athlete's sex."""
    known = pl.DataFrame(
        {
            "measure": pl.Series(range(len(measures().all)), dtype=pl.UInt32),
            "female": [measure.expected_women[0] for measure in measures().all],
            "male": [measure.expected_men[0] for measure in measures().all],
        }
    )
    athletes = pl.DataFrame(
        {
            "athlete": pl.Series(range(len(people.ids)), dtype=pl.UInt32),
            "sex": people.sex,
            "born_on": people.born_on,
        }
    )
    usual = (
        pl.when(pl.col("sex") == Sex.FEMALE)
        .then("female")
        .when(pl.col("sex") == Sex.MALE)
        .then("male")
        .otherwise((pl.col("female") * pl.col("male")).sqrt())
    )
    return athletes.join(known, how="cross").select("athlete", "measure", "born_on", usual=usual)


def _misfit(row: dict[str, Any], settings: IntakeSettings) -> Misfit | None:
    """The verdict on one test of one file: by the athletes' other files, else by the catalogue."""
    entry, place = int(row["entry"]), int(row["measure"])
    off = 0.0 if row["catalogue"] is None else abs(row["catalogue"])
    # A squad's own values move together by far less than the smallest factor.
    if row["history_count"] >= settings.least_athletes:
        shift, count = row["history"], int(row["history_count"])
        if abs(shift) > max(LEAST_HISTORY, 4 * row["spread"]):
            unit = _nearest(measures().all[place], shift, NEAR_HISTORY, by_history=True)
            if unit:
                return Misfit(entry, place, unit, float(np.exp(shift)), count, True, off)
    # Another unit is everybody's; of two or three, one typing error would move the middle.
    is_alike = row["catalogue_count"] >= settings.least_athletes or (row["apart"] or 0) <= ALIKE
    if row["catalogue_count"] >= 2 and off > LEAST_CATALOGUE and is_alike:
        shift, count = row["catalogue"], int(row["catalogue_count"])
        unit = _nearest(measures().all[place], shift, NEAR_CATALOGUE, by_history=False)
        if unit:
            return Misfit(entry, place, unit, float(np.exp(shift)), count, False, off)
    return None


def _nearest(measure: Measure, shift: float, tolerance: float, *, by_history: bool) -> str:
    """The unit whose factor a shift (natural log of a ratio) is nearest to; empty if none is."""
    near = {
        unit: abs(shift - float(np.log(factor)))
        for unit, factor in _candidates(measure).items()
        if by_history or _tells(measure, factor)
    }
    unit = min(near, key=lambda name: near[name], default="")
    return unit if unit and near[unit] <= tolerance else ""


def _candidates(measure: Measure) -> dict[str, float]:
    quantity = catalogue().units[measure.unit].quantity
    factors = dict(LIKELY.get(quantity, {}))
    if measure.kind == MeasureKind.BILATERAL_PER_LIMB or measure.id.startswith("db_"):
        factors[TOTAL] = 2.0
    return factors


def _tells(measure: Measure, factor: float) -> bool:
    """Whether the catalogue's usual value is sharp enough to tell this factor from people.

    Beginners lift half of what the catalogue expects, nobody twice as much.
    """
    spread = measure.expected_men[1] / measure.expected_men[0]
    is_sharp = spread <= SHARP or factor > 1
    return abs(np.log(factor)) >= FAR or (is_sharp and measure.shape == Shape.NORMAL)
