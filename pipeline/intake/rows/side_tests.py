"""Side tests in every layout into one typed row for each attempt of each side."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.account.faults import Faults
from pipeline.intake.parse.units import measures
from pipeline.intake.parse.values import Words
from pipeline.intake.recognise.kinds import LONG, Column
from pipeline.intake.recognise.named_tests import COLUMNS, SIDE_COLUMNS
from pipeline.intake.recognise.tables import Table
from pipeline.intake.rows.attempts import Keys, ValueReader, same
from pipeline.intake.rows.cells import Reader
from pipeline.intake.rows.people import People
from pipeline.intake.rows.sides import (
    BOTH,
    CODE,
    LEFT,
    NEEDS_ROSTER,
    RIGHT,
    SIDES,
    roster_sides,
    side_codes,
    uses_hand,
    why_unknown,
)

MANY_UNKNOWN = 50  # the nearest names are looked up for this many unknown ones
OUTSIDE = {"athlete": pl.UInt32, "day": pl.Date, "measure": pl.UInt32, "value": pl.Float64}
NO_DAY = "a date such as 2024-03-28"
ONE_SIDE = "is not one side; expected left or right"
# Columns whose cells cost the whole row; in wide tables each value costs its trial alone.
NEEDED = frozenset({"athlete_id", "tested_on", "test", "side", "value", "unit"})


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
    faults: Faults = field(default_factory=lambda: Faults(NEEDED))
    remarks: list[str] = field(default_factory=list)
    outside: list[pl.DataFrame] = field(default_factory=list)
    seen: dict[str, Words] = field(default_factory=dict)

    def read(self) -> SideTests:
        """All attempts of the table; what is said of a side without a value is one without it."""
        keys = self._keys()
        is_long = self.table.kind == LONG
        attempts = list(self._long(keys) if is_long else self._by_column(keys))
        is_read = _any(attempt["is_filled"] for _, attempt in attempts) | keys.is_said
        self._blank_keys(is_read, keys)
        if is_long:
            rows = attempts[0][1]
            if not rows["is_filled"].all():
                rows = rows.filter(pl.col("is_filled") | keys.is_said)
        else:
            lost = {column: self.faults.rows_of(column) for column, _ in attempts}
            valued = pl.concat(
                attempt.filter(pl.col("is_filled") & ~pl.col("row").is_in(lost[column].implode()))
                for column, attempt in attempts
            )
            self._refuse_without_value(valued)
            rows = pl.concat([valued, *self._untested(valued, keys)])
        faults = self.faults.frame
        if not is_read.all():
            faults = faults.filter(is_read.gather(faults["row"]))
        refused = faults.filter(~pl.col("row_kept"))["row"]
        if len(refused):
            rows = rows.filter(~pl.col("row").is_in(refused.unique().implode()))
        rows = rows.drop("is_filled").with_columns(
            self.faults.says_something(self.table.column(name)).alias(f"has_{name}")
            for name in ("pain", "note")
        )
        outside = pl.concat(self.outside) if self.outside else pl.DataFrame(schema=OUTSIDE)
        return SideTests(rows, faults, int(is_read.sum()), tuple(self.remarks), outside)

    def _refuse_without_value(self, valued: pl.DataFrame) -> None:
        """A cell costs its trial; a row of whose trials none is left is refused."""
        found = self.faults.frame
        lost = found.filter(pl.col("about").is_in(SIDE_COLUMNS))["row"].unique()
        self.faults.refuse(lost.filter(~lost.is_in(valued["row"].implode())))

    def _has_cell(self, side: int, measure: pl.Series) -> pl.Series:
        """Whether the table has a column for this side of each row's test."""
        others = {SIDES[LEFT], SIDES[RIGHT]} - {SIDES[side]}
        cells = [c for c in self.table.reading.columns if c.name in SIDE_COLUMNS]
        tests = [c.measure for c in cells if c.name not in others]
        if None in tests:  # of every test
            return pl.repeat(True, len(measure), eager=True)
        return measure.is_in([measures().place_of[test] for test in tests if test])

    def _untested(self, valued: pl.DataFrame, keys: Keys) -> Iterator[pl.DataFrame]:
        """Pain and note of sides without any value, one row a side: untested is not unsaid."""
        said = keys.is_said.arg_true().cast(pl.UInt32).alias("row").to_frame()
        if said.is_empty():
            return
        tested = valued.select("row", "measure").unique(maintain_order=True)
        if self.table.kind == COLUMNS:  # of the tests that were done; of none, it is the first's
            first = next(c.measure for c in self.table.reading.columns if c.measure)
            place = pl.lit(measures().place_of[first], pl.UInt32)
            said = said.join(tested, on="row", how="left", maintain_order="left")
            said = said.with_columns(pl.col("measure").fill_null(place))
        else:
            said = said.with_columns(keys.measure.gather(said["row"]).alias("measure"))
        is_whole = measures().is_whole.gather(said["measure"]).fill_null(False)
        for side in (LEFT, RIGHT):
            with_value = valued.filter(pl.col("side") == side).select("row", "measure")
            rows = said.filter(~is_whole & self._has_cell(side, said["measure"])).join(
                with_value, on=["row", "measure"], how="anti", maintain_order="left"
            )
            if rows.height:
                yield keys.untested(rows, side).select(valued.columns).cast(valued.schema)

    def _words(self, name: str) -> Words:
        if name not in self.seen:
            self.seen[name] = self.reader.words(self.table, name)
        return self.seen[name]

    def _keys(self) -> Keys:
        athletes, days = self._words("athlete_id"), self._words("tested_on")
        pains, notes = self._words("pain"), self._words("note")
        measure, places = self._tests()
        return Keys(
            athlete=find_athletes(self.table, athletes, self.people, self.faults),
            day=self.reader.dates(self._column("tested_on"), days, self.faults),
            measure=measure,
            places=places,
            pain=self.reader.pain(self.table, pains, self.faults),
            note=notes.rows,
            is_said=pains.codes.is_not_null() | notes.codes.is_not_null(),
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

    def _long(self, keys: Keys) -> Iterator[tuple[Column, pl.DataFrame]]:
        column, words = self._column("side"), self._words("side")
        codes = side_codes(words.texts)
        reason = pl.when(codes.is_null() & words.texts.is_not_null()).then(pl.lit(ONE_SIDE))
        self.faults.add_words(column, words, pl.select(reason).to_series())
        trial = same(None, words.codes, pl.Int64)
        if numbers := self.table.column("trial"):
            trials = self._words("trial")
            trial = self.reader.counts(numbers, trials, "a trial number", self.faults)
        side = self._settled(column, words.spread(codes), words, keys)
        value = self._column("value")
        yield value, self._values(keys).attempt(value, side, trial)

    def _values(self, keys: Keys) -> ValueReader:
        parts = self.table, self.reader, self.people, self.faults, self.remarks
        return ValueReader(*parts, keys, self.outside)

    def _by_column(self, keys: Keys) -> Iterator[tuple[Column, pl.DataFrame]]:
        """Attempts of each column for one side; those of a column that names its test, of that."""
        for column in self.table.reading.columns:
            if column.name in SIDE_COLUMNS:
                about = keys if column.measure is None else _of_one_test(keys, column.measure)
                code = same(CODE[column.name], keys.day, pl.UInt8)
                header = Words(pl.Series([column.header]), same(0, keys.day, pl.UInt32))
                code = code.set(self.table.text(column).is_null(), None)
                side = self._settled(column, code, header, about)
                trial = same(column.trial, keys.day, pl.Int64)
                yield column, self._values(about).attempt(column, side, trial)

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
