"""Side tests in every layout into one typed row for each attempt of each side."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.attempts import Keys, ValueReader, same
from pipeline.intake.cells import Reader
from pipeline.intake.kinds import LONG, Column
from pipeline.intake.ledger import Faults
from pipeline.intake.named_tests import COLUMNS
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
from pipeline.intake.units import measures
from pipeline.intake.values import Words

MANY_UNKNOWN = 50  # the nearest names are looked up for this many unknown ones
OUTSIDE = {"athlete": pl.UInt32, "day": pl.Date, "measure": pl.UInt32, "value": pl.Float64}
PAIN = (0.0, 10.0)
NO_DAY = "a date such as 2024-03-28"
ONE_SIDE = "is not one side; expected left or right"


@dataclass(frozen=True)
class SideTests:
    """Attempts of one table (`row` counts inside it), its faults, rows read, and remarks."""

    rows: pl.DataFrame
    faults: pl.DataFrame
    read_count: int
    remarks: tuple[str, ...]
    outside: pl.DataFrame  # values beyond the hard limits: athlete, day, measure, value


@dataclass(frozen=True)
class TableReader:
    """Reads one table of side tests; collects faults and remarks on the way."""

    table: Table
    reader: Reader
    people: People
    faults: Faults = field(default_factory=Faults)
    remarks: list[str] = field(default_factory=list)
    outside: list[pl.DataFrame] = field(default_factory=list)
    seen: dict[str, Words] = field(default_factory=dict)

    def read(self) -> SideTests:
        """All attempts of the table."""
        keys = self._keys()
        is_long = self.table.kind == LONG
        attempts = [self._long(keys)] if is_long else list(self._by_column(keys))
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
        outside = pl.concat(self.outside) if self.outside else pl.DataFrame(schema=OUTSIDE)
        kept = rows.drop("is_filled")
        return SideTests(kept, faults, int(is_read.sum()), tuple(self.remarks), outside)

    def _words(self, name: str) -> Words:
        if name not in self.seen:
            self.seen[name] = self.reader.words(self.table, name)
        return self.seen[name]

    def _keys(self) -> Keys:
        athletes, days = self._words("athlete_id"), self._words("tested_on")
        pains, notes = self._words("pain"), self._words("note")
        pain = pains.codes.cast(pl.Float64)
        if column := self.table.column("pain"):
            pain = self.reader.scale(column, pains, PAIN, self.faults)
        measure, places = self._tests()
        return Keys(
            athlete=find_athletes(self.table, athletes, self.people, self.faults),
            day=self.reader.dates(self._column("tested_on"), days, self.faults),
            measure=measure,
            places=places,
            pain=pain,
            note=notes.rows,
            units=self._words("unit"),
        )

    def _column(self, name: str) -> Column:
        column = self.table.column(name)
        if column is None:
            raise KeyError(name)  # only complete tables come here
        return column

    def _tests(self) -> tuple[pl.Series, tuple[int, ...]]:
        """Place in the catalogue of each row's test, and those that occur.

        Where the headers name the tests, the first with sides stands for what is said of a row as
        a whole.
        """
        words = self._words("test")
        if self.table.kind == COLUMNS:
            named = [c.measure for c in self.table.reading.columns if c.measure]
            places = [measures().place_of[measure] for measure in named]
            first = min(places, key=lambda place: measures().is_whole[place])
            return same(first, words.codes, pl.UInt32), (first,)
        known = self._measures(words)
        return words.spread(known), tuple(known.drop_nulls().unique().sort())

    def _measures(self, words: Words) -> pl.Series:
        """Place in the catalogue of each distinct test; faults for those it does not have."""
        known, places = catalogue(), measures().place_of
        ids = [None if text is None else known.find_measure(text) for text in words.texts]
        reasons: list[str | None] = [None] * len(ids)
        unknown = [n for n, key in enumerate(ids) if key is None and words.texts[n] is not None]
        for count, code in enumerate(unknown):
            near = known.nearest_measures(words.texts[code]) if count < MANY_UNKNOWN else []
            hint = f"; nearest: {', '.join(near)}" if near else ""
            reasons[code] = f"is not a known test{hint}"
        self.faults.add_words(self._column("test"), words, pl.Series(reasons, dtype=pl.String))
        return pl.Series([None if key is None else places[key] for key in ids], dtype=pl.UInt32)

    def _long(self, keys: Keys) -> pl.DataFrame:
        column, words = self._column("side"), self._words("side")
        codes = side_codes(words.texts)
        reason = pl.when(codes.is_null() & words.texts.is_not_null()).then(pl.lit(ONE_SIDE))
        self.faults.add_words(column, words, pl.select(reason).to_series())
        trial = same(None, words.codes, pl.Int64)
        if numbers := self.table.column("trial"):
            trials = self._words("trial")
            trial = self.reader.counts(numbers, trials, "a trial number", self.faults)
        side = self._settled(column, words.spread(codes), words, keys)
        return self._values(keys).attempt(self._column("value"), side, trial)

    def _values(self, keys: Keys) -> ValueReader:
        parts = self.table, self.reader, self.people, self.faults, self.remarks
        return ValueReader(*parts, keys, self.outside)

    def _by_column(self, keys: Keys) -> Iterator[pl.DataFrame]:
        """Attempts of each column for one side; those of a column that names its test, of that."""
        for column in self.table.reading.columns:
            if column.name in SIDE_COLUMNS:
                about = keys if column.measure is None else _of_one_test(keys, column.measure)
                code = same(CODE[column.name], keys.day, pl.UInt8)
                header = Words(pl.Series([column.header]), same(0, keys.day, pl.UInt32))
                code = code.set(self.table.text(column).is_null(), None)
                side = self._settled(column, code, header, about)
                trial = same(column.trial, keys.day, pl.Int64)
                yield self._values(about).attempt(column, side, trial)

    def _settled(self, column: Column, codes: pl.Series, words: Words, keys: Keys) -> pl.Series:
        """Sides as LEFT, RIGHT or BOTH (for a test without sides); faults for the others."""
        is_whole = measures().is_whole
        if _reaches(codes, NEEDS_ROSTER):
            codes = self._from_roster(column, codes, words, keys)
        if keys.any_measure(is_whole):
            whole = is_whole.gather(keys.measure).fill_null(False)
            if self.table.kind == LONG:
                codes = codes.set(whole & codes.is_null(), BOTH)
            rows = (whole & (codes != BOTH).fill_null(False)).arg_true()
            reason = "is a side, but this test has none; expected both"
            self.faults.add(column, rows, words.rows.gather(rows), same(reason, rows))
            is_wrong = (codes >= BOTH).fill_null(False) & ~whole
        elif not _reaches(codes, BOTH):
            return codes
        else:
            is_wrong = (codes >= BOTH).fill_null(False)
        rows = is_wrong.arg_true()
        self.faults.add(column, rows, words.rows.gather(rows), same(ONE_SIDE, rows))
        return codes

    def _from_roster(self, column: Column, codes: pl.Series, words: Words, keys: Keys) -> pl.Series:
        by_hand = pl.Series([uses_hand(m) for m in measures().all]).gather(keys.measure)
        sides = roster_sides(codes, keys.athlete, by_hand, self.people)
        is_known = keys.athlete.is_not_null() & keys.measure.is_not_null()
        rows = (sides.is_null() & codes.is_not_null() & is_known).arg_true()
        pairs = list(zip(codes.gather(rows), by_hand.gather(rows), strict=True))
        said = {pair: why_unknown(*pair) for pair in set(pairs)}
        reasons = pl.Series([said[pair] for pair in pairs], dtype=pl.String)
        self.faults.add(column, rows, words.rows.gather(rows), reasons)
        return sides

    def _blank_keys(self, is_read: pl.Series, keys: Keys) -> None:
        expected = {"athlete_id": "an id of the roster", "tested_on": NO_DAY}
        if self.table.kind != COLUMNS:
            expected["test"] = "a test"
        if self.table.kind == LONG:
            expected["side"] = "left or right"
        for name, what in expected.items():
            words = self._words(name)
            if words.has_blanks:
                is_blank = words.codes.is_null() & is_read
                if name == "side":
                    is_blank &= ~measures().is_whole.gather(keys.measure).fill_null(False)
                self.faults.add_blanks(self._column(name), is_blank, what)


def _of_one_test(keys: Keys, measure: str) -> Keys:
    """The same rows, all about one test."""
    place = measures().place_of[measure]
    return replace(keys, measure=same(place, keys.day, pl.UInt32), places=(place,))


def find_athletes(table: Table, words: Words, people: People, faults: Faults) -> pl.Series:
    """Place in the roster of each row's athlete; a fault where the roster has no such id."""
    place = people.find(words.texts)
    column = table.column("athlete_id")
    reasons: list[str | None] = [None] * len(place)
    unknown = (place.is_null() & words.texts.is_not_null()).arg_true()
    for count, code in enumerate(unknown):
        text = words.texts[code]
        is_early = count < MANY_UNKNOWN
        reasons[code] = people.why_unknown(text) if is_early else "is not in the roster"
    if column is not None:
        faults.add_words(column, words, pl.Series(reasons, dtype=pl.String))
    return words.spread(place)


def _any(masks: Iterable[pl.Series]) -> pl.Series:
    first, *rest = masks
    for mask in rest:
        first = first | mask
    return first


def _reaches(codes: pl.Series, code: int) -> bool:
    highest = codes.max()
    return isinstance(highest, int) and highest >= code
