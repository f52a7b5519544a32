"""Cells of one file into typed columns, with a fault for every cell that cannot be read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.account.faults import Faults
from pipeline.intake.parse import dates
from pipeline.intake.parse.pain import pain_of
from pipeline.intake.parse.values import (
    Style,
    Words,
    blank_words,
    chosen,
    numbers,
    put,
    quick_numbers,
    read_numbers,
    read_words,
    settle_style,
    whole_numbers,
)
from pipeline.intake.recognise.kinds import Column
from pipeline.intake.recognise.tables import Table
from schemas.columns import COLUMNS, named

DATE_COLUMNS, NUMBER_COLUMNS = frozenset(named("day")), frozenset(named("number"))
MANY = 40  # distinct impossible values for which another unit is tried
NO_PAIN = (
    "none",
    "nil",
)  # in a column of pain these say something; elsewhere, that nothing is there
NOT_PAIN = "does not say how much it hurts; expected a number from {:g} to {:g}".format(
    *COLUMNS["pain"].within
)


@dataclass(frozen=True)
class Reader:
    """How one file writes its dates and decimals."""

    order: dates.Order
    style: Style
    delimiter: str

    def words(self, table: Table, name: str) -> Words:
        """Distinct texts of a column; blank throughout where the table lacks it."""
        column = table.column(name)
        if column is None:
            return blank_words(table.cells.height)
        return read_words(table.text(column), column.header, NO_PAIN if name == "pain" else ())

    def choice(self, column: Column, words: Words, faults: Faults) -> pl.Series:
        """One of the few words of the column (String), in our spelling."""
        holds = COLUMNS[column.name]
        known = chosen(words.texts, catalogue().headers.words[holds.words])
        reasons = _because(known.is_null(), words.texts, f"is not known; expected {holds.expected}")
        faults.add_words(column, words, reasons)
        return words.spread(known)

    def first_word(self, column: Column, words: Words, faults: Faults) -> pl.Series:
        """One of a few words (String); of several words the first decides: "modified (knee)"."""
        holds = COLUMNS[column.name]
        known = catalogue().headers.words[holds.words]
        first = words.texts.str.extract(r"^\W*(\w+)", 1)
        found = chosen(words.texts, known)
        found = found.zip_with(found.is_not_null(), chosen(first, known))
        reasons = _because(found.is_null(), words.texts, f"is not known; expected {holds.expected}")
        faults.add_words(column, words, reasons)
        return words.spread(found)

    def dates(
        self, column: Column, words: Words, faults: Faults, *, births: bool = False
    ) -> pl.Series:
        """Days (Date), read in the order that the whole file settles."""
        span = dates.BIRTHS if births else dates.TESTS
        read = dates.read_dates(words.texts, self.order, span, not self.delimiter)
        faults.add_words(column, words, read["fault"])
        return words.spread(read["date"])

    def measured(
        self,
        column: Column,
        cells: pl.Series,
        faults: Faults,
        factor: pl.Series | None = None,
    ) -> pl.Series:
        """Numbers in the unit of the column (Float64), null and a fault outside its limits.

        `factor` is what one of the unit in a column of its own is in that unit, by row.
        """
        unit, limits = COLUMNS[column.name].unit, COLUMNS[column.name].within
        read = read_numbers(cells, self.style, self.delimiter)
        bad = read.faults
        expected = pl.Series([f"; expected a number in {unit}"], dtype=pl.String)
        faults.add(column, bad["row"], bad["text"], bad["fault"] + expected)
        factor_ = self._header_factor(column, read.values, unit, faults)
        values = (read.values * factor_).fill_nan(None)
        if factor is not None:
            values = values * factor.fill_null(1.0)
        typed = read.look.filter(pl.col("fault").is_null())
        if typed.height:
            values = self._as_typed(column, typed, values, unit, faults)
        rows = (~values.is_between(*limits)).fill_null(False).arg_true()
        outside = values.gather(rows)
        said = {value: _outside(value, unit, limits) for value in outside.unique().head(MANY)}
        reasons = outside.replace_strict(
            said, default=_outside(None, unit, limits), return_dtype=pl.String
        )
        texts = cells.cast(pl.String).str.strip_chars().gather(rows)
        faults.add(column, rows, texts, reasons)
        return put(values, rows, None)

    def _header_factor(self, column: Column, values: pl.Series, unit: str, faults: Faults) -> float:
        """What one of the unit in the header is in the wanted one."""
        factor = factor_of(column.unit, unit) if column.unit else 1.0
        if factor is None:
            rows = values.is_not_null().arg_true()
            reason = f"is in {column.unit} according to its header; expected {unit}"
            texts = values.gather(rows).cast(pl.String)
            faults.add(column, rows, texts, _repeat(reason, len(rows)))
            return float("nan")
        return factor

    def _as_typed(
        self, column: Column, look: pl.DataFrame, values: pl.Series, unit: str, faults: Faults
    ) -> pl.Series:
        """Values with a unit typed behind the number, turned into the wanted unit."""
        factors = {text: factor_of(text, unit) for text in look["unit"].unique()}
        factor = look["unit"].replace_strict(factors, return_dtype=pl.Float64)
        wrong = look.filter(factor.is_null())
        reason = _repeat(f"is in another unit; expected {unit}", wrong.height)
        faults.add(column, wrong["row"], wrong["text"], reason)
        values = put(values, wrong["row"], None)
        known = look.filter(factor.is_not_null())
        return put(values, known["row"], known["number"] * factor.drop_nulls())

    def scale(self, column: Column, words: Words, faults: Faults) -> pl.Series:
        """Ratings such as effort from 0 to 10 (Float64); 4/10 counts as 4."""
        low, high = COLUMNS[column.name].within
        texts = words.texts.str.to_lowercase().str.replace(r"\s*/\s*10$", "")
        rated = numbers(texts, self.style, self.delimiter)
        value = rated["number"]
        is_bad = (~value.is_between(low, high)).fill_null(True) | rated["unit"].is_not_null()
        reason = f"is not a rating; expected a number from {low:g} to {high:g}"
        faults.add_words(column, words, _because(is_bad, words.texts, reason))
        return words.spread(value.set(is_bad, None))

    def pain(self, table: Table, words: Words, faults: Faults) -> pl.Series:
        """Pain from 0 to 10 (Float64) of each row, read as generously as people write it."""
        column = table.column("pain")
        if column is None:
            return words.codes.cast(pl.Float64)
        value = pain_of(words.texts)
        is_bad = value.is_null()
        faults.add_words(column, words, _because(is_bad, words.texts, NOT_PAIN))
        return words.spread(value)

    def counts(self, column: Column, words: Words, expected: str, faults: Faults) -> pl.Series:
        """Whole numbers from 1 (Int64), null where a text is none."""
        numbers_ = whole_numbers(words.texts)
        is_bad = (numbers_ < 1).fill_null(True)
        numbers_ = numbers_.set(is_bad, None)
        faults.add_words(
            column, words, _because(is_bad, words.texts, f"is not {expected}; expected 1, 2, 3 …")
        )
        return words.spread(numbers_)


def open_reader(tables: Sequence[Table], delimiter: str) -> tuple[Reader, list[Table]]:
    """Settles, from all tables of one file, how it writes dates and decimals.

    Also the tables with the numbers that were read for it on the way.
    """
    days = [pl.Series([], dtype=pl.String)]
    odd = [pl.Series([], dtype=pl.String)]
    seen: list[Table] = []
    for table in tables:
        quick: dict[int, pl.Series] = {}
        for column in table.reading.columns:
            if column.name in DATE_COLUMNS:
                days.append(read_words(table.text(column)).texts)
            elif column.name in NUMBER_COLUMNS:
                cells = table.text(column).cast(pl.String)
                quick[column.place] = quick_numbers(cells)
                if quick[column.place].null_count() > cells.null_count():
                    odd.append(cells.drop_nulls().unique())
        seen.append(replace(table, quick=quick))
    texts = pl.concat(odd)
    style: Style = settle_style(texts, delimiter) if len(texts) else "point"
    return Reader(dates.settle_order(pl.concat(days).unique()), style, delimiter), seen


def factor_of(text: str, unit: str) -> float | None:
    """What one of a unit as written is in the wanted unit of the same quantity."""
    known = catalogue()
    given = known.find_unit(text)
    if given is None or known.units[given].quantity != known.units[unit].quantity:
        return None
    return known.factor(given, unit)


def _outside(value: float | None, unit: str, limits: tuple[float, float]) -> str:
    """Why a value is refused, and the unit in which it would not be."""
    low, high = limits
    known = catalogue().units
    for given in sorted(known):
        factor = factor_of(given, unit)
        if value and factor not in (None, 1.0) and low <= value * (factor or 0) <= high:
            fits = f"; in {given} it would be {value * (factor or 0):.4g} {unit}"
            return f"is outside {low:g} to {high:g} {unit}{fits}: is the unit missing?"
    return f"is outside {low:g} to {high:g} {unit}"


def _because(is_bad: pl.Series, texts: pl.Series, reason: str) -> pl.Series:
    """The reason where a text is bad, null where it is fine."""
    return pl.select(pl.when(is_bad & texts.is_not_null()).then(pl.lit(reason))).to_series()


def _repeat(text: str, count: int) -> pl.Series:
    return pl.Series([text], dtype=pl.String).new_from_index(0, count)


def holds_anything(columns: Iterable[Words]) -> pl.Series:
    """Which rows hold anything in these columns (Boolean)."""
    first, *rest = (words.codes.is_not_null() for words in columns)
    for mask in rest:
        first = first | mask
    return first
