"""Units as written into the catalogue's unit of each test, with exact factors."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np
import polars as pl

from pipeline.catalogue import Catalogue, Measure, catalogue
from pipeline.intake.parse.values import Words
from schemas.catalogue_words import MeasureKind

PLAIN, OF_LIMB, OF_BODY, AS_WEIGHT = range(4)
"""How a value converts: by the factor alone; then over limb length; over body mass; as a weight."""


@dataclass(frozen=True)
class Measures:
    """The catalogue's measures by place, as columns of figures."""

    catalogue: Catalogue

    @cached_property
    def all(self) -> list[Measure]:
        """Measures; the place in this list stands for the measure until rows are finished."""
        return list(self.catalogue.measures.values())

    @cached_property
    def ids(self) -> pl.Series:
        """Ids by place."""
        return pl.Series([measure.id for measure in self.all])

    @cached_property
    def place_of(self) -> dict[str, int]:
        """Places by id."""
        return {measure.id: place for place, measure in enumerate(self.all)}

    @cached_property
    def hard(self) -> tuple[pl.Series, pl.Series]:
        """Lowest and highest value accepted, by place."""
        return _pairs([measure.hard for measure in self.all])

    @cached_property
    def warn(self) -> tuple[pl.Series, pl.Series]:
        """Lowest and highest value passed without remark, by place."""
        return _pairs([measure.warn for measure in self.all])

    @cached_property
    def units(self) -> pl.Series:
        """Unit of each measure, by place."""
        return pl.Series([measure.unit for measure in self.all])

    @cached_property
    def is_whole(self) -> pl.Series:
        """Whether the test has no sides, by place."""
        return pl.Series([measure.kind == MeasureKind.WHOLE_BODY for measure in self.all])

    @cached_property
    def is_reach(self) -> pl.Series:
        """Whether the value is in percent of limb length, by place."""
        return pl.Series([measure.unit == "%LL" for measure in self.all])

    @cached_property
    def limits_said(self) -> pl.Series:
        """The hard limits in words, by place."""
        said = [f"outside {m.hard[0]:g} to {m.hard[1]:g} {m.unit} of {m.id}" for m in self.all]
        return pl.Series(said)


@dataclass(frozen=True)
class Conversion:
    """`factor` and the way a value converts; `factor` is NaN where it does not."""

    factor: float
    way: int = PLAIN


@cache
def measures() -> Measures:
    """The measures of the catalogue in the shape the intake works with."""
    return Measures(catalogue())


@lru_cache(maxsize=4096)
def conversion(place: int, text: str) -> Conversion:
    """How a value given in the unit as written becomes one in the unit of the measure here."""
    known, measure = catalogue(), measures().all[place]
    given = known.find_unit(text)
    if given is None:
        return Conversion(np.nan)
    if given == "%" and measure.unit == "%LL":
        return Conversion(1.0)
    factor = known.factor(given, measure.unit)
    if factor is not None:
        crosses = known.units[given].quantity != known.units[measure.unit].quantity
        return Conversion(factor, AS_WEIGHT if crosses else PLAIN)
    if measure.unit == "%LL":
        return _through(given, "cm", OF_LIMB)
    if measure.unit in known.per_body_mass:
        return _through(given, known.per_body_mass[measure.unit], OF_BODY)
    return Conversion(np.nan)


def _through(given: str, absolute: str, way: int) -> Conversion:
    known = catalogue()
    factor = known.factor(given, absolute) if absolute in known.units else None
    return Conversion(np.nan if factor is None else factor, way)


def accepted_units(place: int) -> str:
    """The units a test may be given in, for messages."""
    measure = measures().all[place]
    ids = [unit for unit in catalogue().units if not np.isnan(conversion(place, unit).factor)]
    return ", ".join(sorted(ids, key=lambda unit: (unit != measure.unit, unit)))


def likely_unit(place: int, value: float) -> str:
    """ "; in m it would be 145 cm": the unit that makes a usual value of an impossible one."""
    measure = measures().all[place]
    low, high = measure.warn
    for unit in sorted(catalogue().units):
        turned = conversion(place, unit)
        if turned.way == PLAIN and turned.factor != 1 and low <= value * turned.factor <= high:
            said = f"{value * turned.factor:.4g} {measure.unit}"
            return f"; in {unit} it would be {said}, which is usual: is the unit missing?"
    return ""


def conversions(
    places: Iterable[int], measure: pl.Series, units: Words
) -> tuple[pl.Series, pl.Series]:
    """factor (Float64, NaN where the unit does not fit) and way (UInt8) of each row.

    `places` are the measures that occur in `measure`, the place of each row's measure in the
    catalogue; a row without a unit is in its measure's own.
    """
    width = len(units.texts) + 1
    count = len(measures().all)
    factors = np.ones(count * width)
    ways = np.zeros(count * width, dtype=np.uint8)
    for place in places:
        for code, text in enumerate(units.texts):
            if text is not None:
                turned = conversion(place, text)
                factors[place * width + code] = turned.factor
                ways[place * width + code] = turned.way
    cell = measure * width + units.codes.fill_null(width - 1)
    times = pl.Series(factors).gather(cell)
    is_plain = not ways.any()
    return times, same_way(times) if is_plain else pl.Series(ways).gather(cell)


def same_way(times: pl.Series) -> pl.Series:
    """PLAIN for every row."""
    return pl.Series([PLAIN], dtype=pl.UInt8).new_from_index(0, len(times))


def _pairs(pairs: list[tuple[float, float]]) -> tuple[pl.Series, pl.Series]:
    return pl.Series([low for low, _ in pairs]), pl.Series([high for _, high in pairs])
