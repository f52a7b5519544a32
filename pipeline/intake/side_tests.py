"""Side tests, long and wide, into one typed row for each attempt of each side."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.cells import Reader
from pipeline.intake.kinds import LONG, Column
from pipeline.intake.ledger import Faults
from pipeline.intake.people import People
from pipeline.intake.sides import (
    BOTH,
    CODE,
    NEEDS_ROSTER,
    roster_sides,
    side_codes,
    uses_hand,
    why_unknown,
)
from pipeline.intake.tables import SIDE_COLUMNS, Table
from pipeline.intake.units import (
    AS_WEIGHT,
    OF_BODY,
    OF_LIMB,
    accepted_units,
    conversions,
    measures,
)
from pipeline.intake.values import Numbers, Words, read_words

MANY_UNKNOWN = 50  # the nearest names are looked up for this many unknown ones
PAIN = (0.0, 10.0)
NO_DAY = "a date such as 2024-03-28"
ONE_SIDE = "is not one side; expected left or right"


@dataclass(frozen=True)
class Keys:
    """What each row of a table is about; one value a row, null where not readable."""

    athlete: pl.Series  # place in the roster
    day: pl.Series
    measure: pl.Series  # place in the catalogue
    pain: pl.Series
    note: pl.Series
    units: Words


@dataclass(frozen=True)
class SideTests:
    """Attempts of one table (`row` counts inside it), its faults, rows read, and remarks."""

    rows: pl.DataFrame
    faults: pl.DataFrame
    read_count: int
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class TableReader:
    """Reads one table of side tests; collects faults and remarks on the way."""

    table: Table
    reader: Reader
    people: People
    faults: Faults
    remarks: list[str]

    def read(self) -> SideTests:
        """All attempts of the table."""
        keys = self._keys()
        is_long = self.table.kind == LONG
        attempts = [self._long(keys)] if is_long else list(self._wide(keys))
        is_read = _any(attempt["is_filled"] for attempt in attempts)
        self._blank_keys(is_read, keys)
        faults = self.faults.frame
        if not is_read.all():
            faults = faults.filter(is_read.gather(faults["row"]))
        rows = (
            pl.concat(attempts).filter("is_filled")
            if not is_read.all() or len(attempts) > 1
            else attempts[0]
        )
        if faults.height:
            rows = rows.filter(~pl.col("row").is_in(faults["row"].unique().to_list()))
        return SideTests(rows.drop("is_filled"), faults, int(is_read.sum()), tuple(self.remarks))

    def _words(self, name: str) -> Words:
        return self.reader.words(self.table, name)

    def _keys(self) -> Keys:
        athletes, tests, days = (self._words(n) for n in ("athlete_id", "test", "tested_on"))
        pains, notes = self._words("pain"), self._words("note")
        pain = pains.codes.cast(pl.Float64)
        if column := self.table.column("pain"):
            pain = self.reader.scale(column, pains, PAIN, self.faults)
        return Keys(
            athlete=find_athletes(self.table, athletes, self.people, self.faults),
            day=self.reader.dates(self._column("tested_on"), days, self.faults),
            measure=self._measures(tests),
            pain=pain,
            note=notes.rows,
            units=self._words("unit"),
        )

    def _column(self, name: str) -> Column:
        column = self.table.column(name)
        if column is None:
            raise KeyError(name)  # only complete tables come here
        return column

    def _measures(self, words: Words) -> pl.Series:
        known = catalogue()
        places = {key: place for place, key in enumerate(known.measures)}
        ids = [None if text is None else known.find_measure(text) for text in words.texts]
        present = set(words.codes.unique().drop_nulls())
        unknown = [code for code, key in enumerate(ids) if key is None and code in present]
        reasons: list[str | None] = [None] * len(ids)
        for count, code in enumerate(unknown):
            near = known.nearest_measures(words.texts[code]) if count < MANY_UNKNOWN else []
            hint = f"; nearest: {', '.join(near)}" if near else ""
            reasons[code] = f"is not a known test{hint}"
        self.faults.add_words(self._column("test"), words, pl.Series(reasons, dtype=pl.String))
        place = pl.Series([None if key is None else places[key] for key in ids], dtype=pl.UInt32)
        return words.spread(place)

    def _long(self, keys: Keys) -> pl.DataFrame:
        column, words = self._column("side"), self._words("side")
        codes = side_codes(words.texts)
        reason = pl.when(codes.is_null() & words.texts.is_not_null()).then(pl.lit(ONE_SIDE))
        self.faults.add_words(column, words, pl.select(reason).to_series())
        trials, trial = self._words("trial"), None
        if trial_column := self.table.column("trial"):
            trial = self.reader.counts(trial_column, trials, "a trial number", self.faults)
        side = self._settled(column, words.spread(codes), words.rows, keys)
        return self._attempt(self._column("value"), side, trial, keys)

    def _wide(self, keys: Keys) -> Iterator[pl.DataFrame]:
        height = self.table.cells.height
        for column in self.table.reading.columns:
            if column.name in SIDE_COLUMNS:
                code = pl.Series([CODE[column.name]], dtype=pl.UInt8).new_from_index(0, height)
                header = pl.Series([column.header]).new_from_index(0, height)
                side = self._settled(column, code, header, keys)
                trial = pl.Series([column.trial], dtype=pl.Int64).new_from_index(0, height)
                yield self._attempt(column, side, trial, keys)

    def _settled(self, column: Column, codes: pl.Series, texts: pl.Series, keys: Keys) -> pl.Series:
        """Sides as LEFT, RIGHT or BOTH (for a test without sides); faults for the others."""
        whole = measures().is_whole.gather(keys.measure)
        if self.table.kind == LONG and whole.any():
            codes = codes.zip_with(~(whole.fill_null(False) & codes.is_null()), _same(BOTH, codes))
        if codes.max() is not None and codes.max() >= NEEDS_ROSTER:  # type: ignore[operator]
            codes = self._from_roster(column, codes, texts, keys)
        is_one = codes < BOTH
        is_wrong = (is_one == whole).fill_null(False) | (codes > BOTH).fill_null(False)
        rows = is_wrong.arg_true()
        if len(rows):
            said = pl.Series([f"{ONE_SIDE}", "is a side, but this test has none; expected both"])
            reasons = said.gather(whole.gather(rows).cast(pl.UInt8))
            self.faults.add(column, rows, texts.gather(rows), reasons)
        return codes

    def _from_roster(
        self, column: Column, codes: pl.Series, texts: pl.Series, keys: Keys
    ) -> pl.Series:
        by_hand = pl.Series([uses_hand(m) for m in measures().all]).gather(keys.measure)
        sides = roster_sides(codes, keys.athlete, by_hand, self.people)
        is_known = keys.athlete.is_not_null() & keys.measure.is_not_null()
        rows = (sides.is_null() & codes.is_not_null() & is_known).arg_true()
        pairs = zip(codes.gather(rows), by_hand.gather(rows), strict=True)
        said = {pair: why_unknown(*pair) for pair in set(pairs)}
        reasons = [
            said[pair] for pair in zip(codes.gather(rows), by_hand.gather(rows), strict=True)
        ]
        self.faults.add(column, rows, texts.gather(rows), pl.Series(reasons, dtype=pl.String))
        return sides

    def _attempt(
        self, column: Column, side: pl.Series, trial: pl.Series | None, keys: Keys
    ) -> pl.DataFrame:
        """One value column as rows of attempts; is_filled: something stood in the cell."""
        cells = self.table.text(column)
        numbers = self.reader.numbers(column, cells, "a number such as 48.5", self.faults)
        units = _units_of(column, keys.units, numbers)
        value, factor = self._converted(column, numbers.values, units, side, keys)
        is_filled = numbers.values.is_not_null()
        if numbers.faults.height:
            is_filled = is_filled.scatter(numbers.faults["row"], True)
        untested = self._check_limits(column, cells, numbers.values, value, keys)
        is_filled = is_filled.scatter(untested, False) if len(untested) else is_filled
        return pl.DataFrame(
            {
                "row": pl.int_range(len(cells), dtype=pl.UInt32, eager=True),
                "athlete": keys.athlete,
                "day": keys.day,
                "measure": keys.measure,
                "side": side,
                "trial": _same(None, cells, pl.Int64) if trial is None else trial,
                "value": value,
                "factor": factor,
                "pain": keys.pain,
                "note": keys.note,
                "value_given": cells.cast(pl.String),
                "unit_given": units.rows,
                "is_filled": is_filled,
            }
        )

    def _converted(
        self, column: Column, given: pl.Series, units: Words, side: pl.Series, keys: Keys
    ) -> tuple[pl.Series, pl.Series]:
        """Values in the catalogue's unit and the factor of their difference unit."""
        known, one = measures(), _same(1.0, given)
        is_reach = known.is_reach.gather(keys.measure)
        limb = self._limb(side, keys) / 100 if is_reach.any() else one
        factor = (
            pl.select(pl.when(is_reach).then(limb).otherwise(1.0)).to_series()
            if (is_reach.any())
            else one
        )
        if units.codes.null_count() == len(units.codes):
            return given, factor
        times, ways = conversions(keys.measure, units.codes, units.texts.to_list())
        self._wrong_units(column, units, times.is_nan() & given.is_not_null(), keys)
        value = given * times.fill_nan(None)
        if (ways == OF_LIMB).any():
            value = value.zip_with(ways != OF_LIMB, value / factor)
        if (ways == OF_BODY).any():
            value = self._over_body_mass(column, value, ways == OF_BODY, keys)
        if (ways == AS_WEIGHT).any():
            self.remarks.append("kg and lb of a force dial read as the weight of that mass")
        return value, factor

    def _limb(self, side: pl.Series, keys: Keys) -> pl.Series:
        left, right = (limb.gather(keys.athlete) for limb in self.people.limbs)
        guesses = self.people.limb_guess.gather(
            keys.athlete.filter(measures().is_reach.gather(keys.measure).fill_null(False))
        )
        self.remarks.extend(sorted(guesses.drop_nulls().unique()))
        return left.zip_with(side == 0, right)

    def _wrong_units(self, column: Column, units: Words, is_wrong: pl.Series, keys: Keys) -> None:
        rows = is_wrong.fill_null(False).arg_true()
        if not len(rows):
            return
        known = measures()
        said = {
            place: f"does not fit {known.ids[place]}; expected {accepted_units(known.all[place])}"
            for place in keys.measure.gather(rows).unique().drop_nulls()
        }
        reasons = keys.measure.gather(rows).replace_strict(said, return_dtype=pl.String)
        where = self.table.column("unit") or column
        self.faults.add(where, rows, units.rows.gather(rows), reasons)

    def _over_body_mass(
        self, column: Column, value: pl.Series, is_absolute: pl.Series, keys: Keys
    ) -> pl.Series:
        mass = self.people.body_mass.gather(keys.athlete)
        rows = (is_absolute & mass.is_null() & keys.athlete.is_not_null()).arg_true()
        reason = "is not divided by body mass, and the roster has no body_mass_kg to do it with"
        texts = self.table.text(column).cast(pl.String)
        self.faults.add(column, rows, texts.gather(rows), _same(reason, rows))
        self.remarks.append("torque and power divided by the body mass of the roster")
        return value.zip_with(~is_absolute, value / mass.fill_null(1.0))

    def _check_limits(
        self, column: Column, cells: pl.Series, given: pl.Series, value: pl.Series, keys: Keys
    ) -> pl.Series:
        """Refuse impossible values, remark unusual ones; the rows that mean "not tested"."""
        known = measures()
        low, high = (limit.gather(keys.measure) for limit in known.warn)
        odd = ((value < low) | (value > high)).arg_true()
        if not len(odd):
            return odd
        place, unusual = keys.measure.gather(odd), value.gather(odd)
        low, high = (limit.gather(place) for limit in known.hard)
        is_out = (unusual < low) | (unusual > high)
        self._remark_unusual(value, odd.filter(~is_out), keys)
        return self._refuse_outside(column, cells, given, value, odd.filter(is_out), keys)

    def _refuse_outside(
        self,
        column: Column,
        cells: pl.Series,
        given: pl.Series,
        value: pl.Series,
        rows: pl.Series,
        keys: Keys,
    ) -> pl.Series:
        """Faults for impossible values; the rows whose cell is a code for "not tested"."""
        texts = cells.gather(rows).cast(pl.String).str.strip_chars()
        is_code = texts.is_in(list(catalogue().headers.missing_if_impossible))
        if is_code.any():
            shown = ", ".join(sorted(texts.filter(is_code).unique()))
            self.remarks.append(f"{is_code.sum()} cells with {shown} taken as not tested")
        outside = rows.filter(~is_code)
        place = keys.measure.gather(outside)
        frame = pl.DataFrame(
            {
                "said": measures().limits_said.gather(place),
                "unit": measures().units.gather(place),
                "value": value.gather(outside),
                "typed": given.gather(outside),
            }
        )
        reason = (
            pl.when(pl.col("value") == pl.col("typed"))
            .then(pl.format("is {}", "said"))
            .otherwise(pl.format("is {} {}, {}", pl.col("value").round(3), "unit", "said"))
        )
        self.faults.add(column, outside, texts.filter(~is_code), frame.select(reason).to_series())
        return rows.filter(is_code)

    def _remark_unusual(self, value: pl.Series, rows: pl.Series, keys: Keys) -> None:
        if not len(rows):
            return
        first = rows[0]
        measure = measures().all[keys.measure[first]]
        line = self.table.cells["line"][first]
        what = f"{measure.id} {value[first]:g} {measure.unit} in line {line}"
        self.remarks.append(
            f"{len(rows)} unusual values, first {what}" if len(rows) > 1 else f"unusual: {what}"
        )

    def _blank_keys(self, is_read: pl.Series, keys: Keys) -> None:
        expected = {"athlete_id": "an id of the roster", "tested_on": NO_DAY, "test": "a test"}
        if self.table.kind == LONG:
            expected["side"] = "left or right"
        for name, what in expected.items():
            words = self._words(name)
            if words.has_blanks:
                is_blank = words.codes.is_null() & is_read
                if name == "side":
                    is_blank &= ~measures().is_whole.gather(keys.measure).fill_null(False)
                self.faults.add_blanks(self._column(name), is_blank, what)


def find_athletes(table: Table, words: Words, people: People, faults: Faults) -> pl.Series:
    """Place in the roster of each row's athlete; a fault where the roster has no such id."""
    place = people.find(words.texts)
    column = table.column("athlete_id")
    present = set(words.codes.unique().drop_nulls())
    unknown = [code for code in place.is_null().arg_true() if code in present]
    if unknown and column is not None:
        reasons: list[str | None] = [None] * len(place)
        for count, code in enumerate(unknown):
            is_early = count < MANY_UNKNOWN
            text = words.texts[code]
            reasons[code] = people.why_unknown(text) if is_early else "is not in the roster"
        faults.add_words(column, words, pl.Series(reasons, dtype=pl.String))
    return words.spread(place)


def _units_of(column: Column, units: Words, numbers: Numbers) -> Words:
    """The unit of each row: behind the number, else in its own column, else in the header."""
    if column.unit and units.codes.null_count() == len(units.codes):
        units = Words(pl.Series([column.unit]), _same(0, units.codes, pl.UInt32))
    typed = numbers.look.filter(pl.col("unit").is_not_null() & pl.col("fault").is_null())
    if typed.is_empty():
        return units
    words = read_words(typed["unit"])
    codes = units.codes.scatter(typed["row"], words.codes + len(units.texts))
    return Words(pl.concat([units.texts, words.texts]), codes)


def _any(masks: Iterable[pl.Series]) -> pl.Series:
    first, *rest = masks
    for mask in rest:
        first = first | mask
    return first


def _same(value: object, like: pl.Series, dtype: type[pl.DataType] | None = None) -> pl.Series:
    """One value for every row of another series."""
    return pl.Series([value], dtype=dtype).new_from_index(0, len(like))
