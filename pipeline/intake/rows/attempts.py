"""Value cells of side tests into the catalogue's units, within its limits."""

from dataclasses import dataclass

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.account.faults import Faults
from pipeline.intake.parse.units import (
    AS_WEIGHT,
    OF_BODY,
    OF_LIMB,
    accepted_units,
    conversions,
    likely_unit,
    measures,
)
from pipeline.intake.parse.values import Numbers, Words, put, read_numbers, read_words
from pipeline.intake.read.grids import LINE
from pipeline.intake.recognise.kinds import Column
from pipeline.intake.recognise.tables import Table
from pipeline.intake.rows.cells import Reader
from pipeline.intake.rows.people import People

MINUTES = r"^([0-9]{1,2}):([0-5][0-9](?:[.,][0-9]+)?)$"
DIGITS = 12  # of a value in another unit: more than any device has, fewer than a float holds
NEAR_MISSES = 40  # for so many impossible values another unit is tried
WHY = (
    pl.when(pl.col("text").str.contains("^1899-12-3|^1900-01-"))
    .then(pl.format("is a time of day to the spreadsheet; expected a number in {}", "wanted"))
    .when(pl.col("text").str.contains(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}( |$)"))
    .then(pl.format("is a date to the spreadsheet; expected a number in {}", "wanted"))
    .otherwise(pl.format("{}; expected a number in {}", "fault", "wanted"))
    .fill_null(pl.format("{}; expected a number", "fault"))
)


@dataclass(frozen=True)
class Keys:
    """What each row of a table is about; one value a row, null where not readable."""

    athlete: pl.Series  # place in the roster
    day: pl.Series
    measure: pl.Series  # place in the catalogue
    places: tuple[int, ...]  # the measures that occur
    pain: pl.Series
    note: pl.Series
    is_said: pl.Series  # whether the cell of pain or of the note holds anything
    units: Words

    def untested(self, rows: pl.DataFrame, side: int) -> pl.DataFrame:
        """Attempts without a value on this side; `rows` names row and measure (place)."""
        parts = {name: getattr(self, name) for name in ("athlete", "day", "pain", "note")}
        said = pl.DataFrame({name: all_.gather(rows["row"]) for name, all_ in parts.items()})
        return said.with_columns(
            row=rows["row"], measure=rows["measure"], side=pl.lit(side, pl.UInt8),
            trial=pl.lit(None, pl.Int64), value=pl.lit(None, pl.Float64), factor=pl.lit(1.0),
            value_given=pl.lit(None, pl.String), unit_given=pl.lit(None, pl.String),
            is_filled=pl.lit(True),
        )  # fmt: skip

    def any_measure(self, is_such: pl.Series) -> bool:
        """Whether a measure of this sort occurs; `is_such` goes by place."""
        return any(is_such[place] for place in self.places)


@dataclass(frozen=True)
class Given:
    """One value column as it stands: cells, the numbers in them, and the unit of each."""

    column: Column
    cells: pl.Series
    numbers: Numbers
    units: Words
    typed_from: int  # unit codes from here on were typed behind the number

    @property
    def values(self) -> pl.Series:
        """The numbers, null where there is none."""
        return self.numbers.values


@dataclass(frozen=True)
class ValueReader:
    """Reads the value columns of one table; faults and remarks go where the table's go."""

    table: Table
    reader: Reader
    people: People
    faults: Faults
    remarks: list[str]
    keys: Keys
    outside: list[pl.DataFrame]  # values beyond the hard limits: athlete, day, measure, value

    def attempt(self, column: Column, side: pl.Series, trial: pl.Series) -> pl.DataFrame:
        """One value column as rows of attempts; is_filled: something stood in the cell."""
        given = self._given(column)
        factor = self._factor(side)
        value = self._converted(given, factor)
        is_filled = given.values.is_not_null()
        if given.numbers.faults.height:
            is_filled = put(is_filled, given.numbers.faults["row"], True)
        untested = self._check_limits(given, value)
        value = put(value, untested, None)
        return pl.DataFrame(
            {
                "row": pl.int_range(len(value), dtype=pl.UInt32, eager=True),
                "athlete": self.keys.athlete,
                "day": self.keys.day,
                "measure": self.keys.measure,
                "side": side,
                "trial": trial,
                "value": value,
                "factor": factor,
                "pain": self.keys.pain,
                "note": self.keys.note,
                "value_given": given.cells.cast(pl.String),
                "unit_given": given.units.coded_rows,
                "is_filled": put(is_filled, untested, False),
            }
        )

    def _given(self, column: Column) -> Given:
        """The unit of each row: behind the number, else in its own column, else in the header.

        A column of units speaks of all tests of its row; the header of one test knows better.
        """
        cells, units = self.table.text(column), self.keys.units
        numbers = self._numbers(column, cells)
        if column.unit and (units.is_blank or column.measure):
            units = Words(pl.Series([column.unit]), same(0, units.codes, pl.UInt32))
        typed = numbers.look.filter(pl.col("unit").is_not_null())
        known = len(units.texts)
        if typed.height:
            words = read_words(typed["unit"])
            codes = put(units.codes, typed["row"], words.codes + known)
            units = Words(pl.concat([units.texts, words.texts]), codes)
        return Given(column, cells, numbers, units, known)

    def _numbers(self, column: Column, cells: pl.Series) -> Numbers:
        """The numbers of a column; 1:35 counts as minutes and seconds where seconds are wanted."""
        quick = self.table.quick.get(column.place)
        read = read_numbers(cells, self.reader.style, self.reader.delimiter, quick)
        if not read.faults.height:
            return read
        place = self.keys.measure.gather(read.look["row"])
        look = read.look.with_columns(wanted=measures().units.gather(place))
        minutes = pl.col("text").str.extract_groups(MINUTES).struct
        seconds = minutes.field("1").cast(pl.Float64) * 60 + (
            minutes.field("2").str.replace(",", ".").cast(pl.Float64)
        )
        timed = look.with_columns(number=pl.when(pl.col("wanted") == "s").then(seconds))
        timed = timed.filter(pl.col("fault").is_not_null() & pl.col("number").is_not_null())
        look = look.join(timed.select("row"), on="row", how="anti")
        bad = look.filter(pl.col("fault").is_not_null())
        self.faults.add(column, bad["row"], bad["text"], bad.select(WHY).to_series())
        return Numbers(put(read.values, timed["row"], timed["number"]), look)

    def _factor(self, side: pl.Series) -> pl.Series:
        """Difference unit per unit of each row: cm per percent of limb length for reach, else 1."""
        is_reach = measures().is_reach
        if not self.keys.any_measure(is_reach):
            return same(1.0, side)
        rows = is_reach.gather(self.keys.measure).fill_null(False)
        left, right = (limb.gather(self.keys.athlete) for limb in self.people.limbs)
        limb = left.zip_with((side == 0).fill_null(True), right)
        guesses = self.people.limb_guess.gather(self.keys.athlete.filter(rows)).drop_nulls()
        self.remarks.extend(sorted(guesses.unique()))
        return (limb / 100).zip_with(rows, same(1.0, side))

    def _converted(self, given: Given, factor: pl.Series) -> pl.Series:
        """Values in the catalogue's unit; null where the unit does not fit, which is a fault."""
        value, units, keys = given.values, given.units, self.keys
        if units.is_blank:
            return value
        times, ways = conversions(keys.places, keys.measure, units)
        self._refuse_units(given, times.is_nan() & value.is_not_null())
        if not (times == 1).all():  # 101 mm are 10.1 cm, and not a hair more
            turned = (value * times.fill_nan(None)).round_sig_figs(DIGITS)
            value = value.zip_with(times == 1, turned)
        if (ways == OF_LIMB).any():
            value = value.zip_with(ways != OF_LIMB, value / factor)
        if (ways == OF_BODY).any():
            value = self._over_body_mass(given, value, ways == OF_BODY)
        if (ways == AS_WEIGHT).any():
            self.remarks.append("kg and N turned into each other at standard gravity")
        return value

    def _refuse_units(self, given: Given, is_wrong: pl.Series) -> None:
        rows = is_wrong.fill_null(False).arg_true()
        if not len(rows):
            return
        known = measures()
        said = {
            place: f"does not fit {known.ids[place]}; expected {accepted_units(place)}"
            for place in self.keys.places
        }
        is_typed = given.units.codes.gather(rows) >= given.typed_from
        # Of several tests in a row, a unit that does not fit costs those it does not fit.
        unit_column = None if given.column.measure else self.table.column("unit")
        for typed, column in ((True, given.column), (False, unit_column or given.column)):
            part = rows.filter(is_typed if typed else ~is_typed)
            texts = given.units.rows.gather(part)
            if typed and column.unit is None:
                texts = given.cells.cast(pl.String).str.strip_chars().gather(part)
            place = self.keys.measure.gather(part)
            reasons = place.replace_strict(said, default=None, return_dtype=pl.String)
            self.faults.add(column, part, texts, reasons)

    def _over_body_mass(self, given: Given, value: pl.Series, is_absolute: pl.Series) -> pl.Series:
        mass = self.people.mass_on(self.keys.athlete, self.keys.day)
        rows = (is_absolute & mass.is_null() & self.keys.athlete.is_not_null()).arg_true()
        reason = "is not divided by body mass, and the roster has no body_mass_kg to do it with"
        texts = given.cells.cast(pl.String).gather(rows)
        self.faults.add(given.column, rows, texts, same(reason, rows))
        self.remarks.append("torque and power divided by the body mass in the roster")
        return value.zip_with(~is_absolute.fill_null(False), value / mass)

    def _check_limits(self, given: Given, value: pl.Series) -> pl.Series:
        """Refuse impossible values, remark unusual ones; the rows that mean "not tested"."""
        known, measure = measures(), self.keys.measure
        low, high = (limit.gather(measure) for limit in known.warn)
        odd = ((value < low) | (value > high)).arg_true()
        if not len(odd):
            return odd
        place, unusual = measure.gather(odd), value.gather(odd)
        low, high = (limit.gather(place) for limit in known.hard)
        is_out = (unusual < low) | (unusual > high)
        self._remark_unusual(odd.filter(~is_out), value)
        return self._refuse_outside(given, value, odd.filter(is_out))

    def _refuse_outside(self, given: Given, value: pl.Series, rows: pl.Series) -> pl.Series:
        """Faults for impossible values; the rows whose cell is a code for "not tested"."""
        texts = given.cells.gather(rows).cast(pl.String).str.strip_chars()
        is_code = texts.is_in(list(catalogue().headers.missing_if_impossible))
        if is_code.any():
            shown = ", ".join(sorted(texts.filter(is_code).unique()))
            self.remarks.append(f"cells with {shown} taken as not tested: {is_code.sum()}")
        outside = rows.filter(~is_code)
        place = self.keys.measure.gather(outside)
        frame = pl.DataFrame(
            {
                "said": measures().limits_said.gather(place),
                "unit": measures().units.gather(place),
                "value": value.gather(outside),
                "typed": given.values.gather(outside),
                "hint": self._hints(place, value.gather(outside)),
            }
        )
        reason = (
            pl.when(pl.col("value") == pl.col("typed"))
            .then(pl.format("is {}{}", "said", "hint"))
            .otherwise(pl.format("is {} {}, {}", _plain(pl.col("value")), "unit", "said"))
        )
        self.outside.append(
            pl.DataFrame(
                {
                    "athlete": self.keys.athlete.gather(outside),
                    "day": self.keys.day.gather(outside),
                    "measure": place,
                    "value": frame["value"],
                }
            ).drop_nulls()
        )
        reasons = frame.select(reason).to_series()
        self.faults.add(given.column, outside, texts.filter(~is_code), reasons)
        return rows.filter(is_code)

    def _hints(self, places: pl.Series, values: pl.Series) -> pl.Series:
        """The unit in which an impossible value would be a usual one, in words."""
        hints = [""] * len(places)
        for number, (place, value) in enumerate(zip(places, values, strict=True)):
            if number == NEAR_MISSES:
                break
            hints[number] = likely_unit(place, value)
        return pl.Series(hints, dtype=pl.String)

    def _remark_unusual(self, rows: pl.Series, value: pl.Series) -> None:
        if not len(rows):
            return
        first = rows[0]
        measure = measures().all[self.keys.measure[first]]
        line = self.table.cells[LINE][first]
        what = f"{measure.id} {value[first]:g} {measure.unit} in line {line}"
        self.remarks.append(
            f"{len(rows)} unusual values, first {what}" if len(rows) > 1 else f"unusual: {what}"
        )


def _plain(number: pl.Expr) -> pl.Expr:
    """A number as people write it: 1450, not 1450.0."""
    return number.round(3).cast(pl.String).str.replace(r"\.0$", "")


def same(value: object, like: pl.Series, dtype: type[pl.DataType] | None = None) -> pl.Series:
    """One value for every row of another series."""
    return pl.Series([value], dtype=dtype).new_from_index(0, len(like))
