"""Training logs into one row a set and side, however many sets and sides a row of theirs holds."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.parse.values import Words, numbers, put
from pipeline.intake.recognise.kinds import Column
from pipeline.intake.rows.cells import factor_of
from pipeline.intake.rows.film_review import LogReader, Rows, per_side
from pipeline.intake.rows.side_tests import NO_DAY, find_athletes
from pipeline.intake.rows.sides import BOTH, SIDES
from schemas.catalogue_words import Laterality
from schemas.columns import COLUMNS

LEAST_SETS, MOST_SETS = map(int, COLUMNS["sets"].within)  # of one row
MANY_SETS = f"are more sets than one row can hold; expected {LEAST_SETS} to {MOST_SETS}"
OWN_WEIGHT = ("bw", "bodyweight", "body weight", "body mass", "own weight")
TEMPO = r"(?i)^[0-9x]{1,2}(?:[-/.: ][0-9x]{1,2}){2,3}$|^[0-9x]{3,4}$"
DATE_CELL = "^[0-9]{4}-[0-9]{2}-[0-9]{2}( |$)"
SETS_TIMES_REPS = r"(?i)^([0-9]{1,2})\s*[x×*]\s*([0-9].*)$"  # 3x10
PAIRED = ("reps_left", "reps_right")
LOADS = ("load", "load_left", "load_right")
KEPT = ("load_kg", "rir", "tempo", "exercise_order", "pain", "note")  # columns an export may lack


@dataclass(frozen=True)
class LoadUnits:
    """What one of the unit column is in kg, by row; null where it has none."""

    factor: pl.Series | None
    has_blanks: bool


@dataclass(frozen=True)
class TrainingLogReader(LogReader):
    """Reads one training log."""

    @property
    def is_paired(self) -> bool:
        """Whether both sides of a set stand in one row."""
        return self.table.column("reps") is None

    def training(self) -> Rows:
        """One row a set and side; the value cells are repetitions and load.

        Repetitions are null in a row that says only what hurt or a note.
        """
        exercise, is_known = self.exercises()
        athlete = find_athletes(self.table, self.words("athlete_id"), self.people, self.faults)
        columns = {
            "athlete": athlete,
            "day": self.days("trained_on"),
            "exercise": exercise,
            "known_exercise": is_known,
            "set_number": self.counts("set_number", "a set number"),
            "sets": self._sets(),
            "exercise_order": self.counts("order", "a place in the session"),
            "rir": self._reserve(),
            "tempo": self._tempo(),
            "pain": self.reader.pain(self.table, self.words("pain"), self.faults),
            "note": self.words("note").rows,
        }
        units = self._load_units()
        load = self._load("load", units)
        if self.is_paired:
            rows = self._both_sides(columns, load, units)
        else:
            side = _of_two_sided(self.sides(athlete, exercise), self.words("side"), exercise)
            reps, times = self._reps("reps")
            if self.table.column("done") is not None:
                reps = reps.zip_with(~self._is_as_planned, self._reps("planned_reps")[0])
                is_typed = self.words("load").codes.is_not_null()
                load = load.zip_with(is_typed, self._load("planned_load", units))
            rows = self.rows_of(**columns, side=side, reps=reps, times=times, load_kg=load)
        return self._finished_sets(_each_set(per_side(rows)))

    @cached_property
    def _ticks(self) -> pl.DataFrame:
        """Of each row `is_ticked`, and `is_said`: something but "no" stands in its box."""
        column, words = self.table.column("done"), self.words("done")
        known = catalogue().headers.words["done"]
        cells = words.texts.str.to_lowercase()
        is_yes, is_no = (cells.is_in(list(known[word])).fill_null(False) for word in ("yes", "no"))
        if column is not None:
            reason = "is no tick; expected x where the set was done, or nothing"
            is_odd = ~is_yes & ~is_no & cells.is_not_null()
            said = pl.select(pl.when(is_odd).then(pl.lit(reason))).to_series()
            self.faults.add_words(column, words, said)
        is_ticked, is_not = (words.spread(one).fill_null(False) for one in (is_yes, is_no))
        return pl.DataFrame(
            {"is_ticked": is_ticked, "is_said": words.codes.is_not_null() & ~is_not}
        )

    @cached_property
    def _is_as_planned(self) -> pl.Series:
        """Rows ticked with nothing typed for the repetitions: they are those of the plan."""
        return self._ticks["is_ticked"] & self.words("reps").codes.is_null()

    @property
    def _expected_reps(self) -> str:
        has_box = self.table.column("done") is not None
        return "a number, or a tick where it was done as planned" if has_box else "a number"

    def _finished_sets(self, rows: pl.DataFrame) -> Rows:
        is_done = self.is_filled("reps", *PAIRED, *LOADS) | self._ticks["is_said"]
        is_read = is_done | self.is_filled("pain", "note")
        self.refuse_blanks(
            is_read, athlete_id="an id of the roster", trained_on=NO_DAY, exercise="a name"
        )
        is_planned = self._is_as_planned & ~self.words("planned_reps").codes.is_null()
        self.refuse_blanks(is_done & ~is_planned, reps=self._expected_reps)
        if self.table.column("sets") is None:
            self.refuse_blanks(is_done, set_number="1, 2, 3 …")
        elif self.table.column("set_number") is None:
            self.refuse_blanks(is_done, sets="how many sets")
        has_side = rows.filter(pl.col("side").is_not_null())["row"].unique()
        self.refuse_blanks(put(is_done, has_side, False), side="left, right or both")
        if self.is_paired:  # a cell costs its side's set; where none is left, the row
            with_set = rows.filter(pl.col("reps").is_not_null())["row"].unique()
            unread = pl.concat([self.faults.rows_of(self.table.column(name)) for name in PAIRED])
            lost = unread.filter(~unread.is_in(with_set.implode())).unique()
            self.faults.refuse(lost)
        read = self.finished(rows, is_read)
        said = [
            self.faults.says_something(*map(self.table.column, of)).alias(f"has_{name}")
            for name, of in _SOURCES.items()
        ]
        side = pl.col("side").fill_null(BOTH)  # of rows that only say what hurt
        return replace(read, rows=read.rows.with_columns(side, *said))

    def _both_sides(
        self, columns: dict[str, pl.Series], load: pl.Series, units: LoadUnits
    ) -> pl.DataFrame:
        """Rows whose repetitions, and perhaps loads, stand side by side: a row a side.

        A side without repetitions did no set, and zero repetitions are a set of zero.
        """
        parts = []
        for side, name in enumerate(SIDES[:2]):
            reps, times = self._reps(f"reps_{name}")
            own = self._load(f"load_{name}", units)
            parts.append(
                self.rows_of(
                    **columns,
                    side=pl.Series([side], dtype=pl.UInt8).new_from_index(0, len(reps)),
                    reps=reps,
                    times=times,
                    load_kg=own.zip_with(own.is_not_null(), load),
                )
            )
        rows = pl.concat(parts).sort("row", "side")
        is_done = pl.col("reps").is_not_null()
        return rows.filter(is_done | ~is_done.any().over("row"))

    def _sets(self) -> pl.Series:
        """How many sets a row stands for (Int64), null where it does not say."""
        column, words = self.table.column("sets"), self.words("sets")
        if column is None:
            return self.blank(pl.Int64)
        sets = self.counts("sets", "a number of sets")
        many = (sets > MOST_SETS).fill_null(False).arg_true()
        reason = pl.Series([MANY_SETS])
        self.faults.add(column, many, words.rows.gather(many), reason.new_from_index(0, len(many)))
        return sets

    def _reps(self, name: str) -> tuple[pl.Series, pl.Series]:
        """Repetitions (Float64, whole) and, where "3x10" says it, the number of sets (Int64)."""
        column, words = self.table.column(name), self.words(name)
        if column is None:
            return self.blank(pl.Float64), self.blank(pl.Int64)
        times = words.texts.str.extract(SETS_TIMES_REPS, 1).cast(pl.Int64)
        bare = pl.Series("text", words.texts.str.extract(SETS_TIMES_REPS, 2))
        read = numbers(
            bare.zip_with(bare.is_not_null(), words.texts), self.reader.style, self.reader.delimiter
        )
        number = read["number"]
        low, high = COLUMNS[name].within
        is_other = _other_units(read["unit"], column)
        reason = (
            pl.when(read["fault"].is_not_null())
            .then(pl.lit(read["fault"]) + "; expected a number in reps")
            .when(is_other)
            .then(pl.lit("is in another unit; expected reps"))
            .when(number != number.floor())
            .then(pl.lit("is not a whole number; expected how often the set was done"))
            .when(~number.is_between(low, high))
            .then(pl.lit(f"is outside {low:g} to {high:g} reps"))
            .when(~times.is_between(LEAST_SETS, MOST_SETS))
            .then(pl.lit(MANY_SETS))
        )
        reasons = pl.select(pl.when(words.texts.is_not_null()).then(reason)).to_series()
        self.faults.add_words(column, words, reasons)
        number = number.set(reasons.is_not_null(), None)
        return words.spread(number), words.spread(times.set(reasons.is_not_null(), None))

    def _load_units(self) -> LoadUnits:
        """The unit column; a unit of something else than load costs the row."""
        unit, units = self.table.column("unit"), self.words("unit")
        if unit is None:
            return LoadUnits(None, has_blanks=True)
        factors = [factor_of(text, "kg") if text else None for text in units.texts]
        known = pl.Series(factors, dtype=pl.Float64)
        reason = pl.lit("is not a unit of load; expected kg or lb")
        is_wrong = known.is_null() & units.texts.is_not_null()
        self.faults.add_words(unit, units, pl.select(pl.when(is_wrong).then(reason)).to_series())
        return LoadUnits(units.spread(known), units.has_blanks)

    def _load(self, name: str, units: LoadUnits) -> pl.Series:
        """Load in kg: the unit stands behind the number, in its own column or in the header.

        Null is an unknown load, or the athlete's own weight; it is never zero.
        """
        column = self.table.column(name)
        if column is None:
            return self.blank(pl.Float64)
        cells = self.table.text(column).cast(pl.String)
        is_own_weight = cells.str.strip_chars().str.to_lowercase().is_in(list(OWN_WEIGHT))
        cells = cells.set(is_own_weight, None)
        bare = column if units.has_blanks else replace(column, unit=None)
        return self.reader.measured(bare, cells, self.faults, units.factor)

    def _reserve(self) -> pl.Series:
        """Repetitions in reserve as given, else ten less the rating of effort."""
        given, effort = (self._rating(name) for name in ("rir", "rpe"))
        return given.zip_with(given.is_not_null(), 10 - effort)

    def _rating(self, name: str) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self.blank(pl.Float64)
        return self.reader.scale(column, self.words(name), self.faults)

    def _tempo(self) -> pl.Series:
        column, words = self.table.column("tempo"), self.words("tempo")
        if column is None:
            return words.rows
        is_odd, is_date = ~words.texts.str.contains(TEMPO), words.texts.str.contains(DATE_CELL)
        date = pl.lit("is a date to the spreadsheet; expected a tempo such as 3-1-1 as text")
        other = pl.lit("is not a tempo; expected one such as 3-1-1")
        reasons = pl.select(pl.when(is_date).then(date).when(is_odd).then(other)).to_series()
        self.faults.add_words(column, words, reasons)
        return words.spread(words.texts.set(reasons.is_not_null(), None))


# Which columns of a log a column of the rows is read from.
_SOURCES = {
    "load_kg": (*LOADS, "planned_load"),
    "rir": ("rir", "rpe"),
    "tempo": ("tempo",),
    "exercise_order": ("order",),
    "pain": ("pain",),
    "note": ("note",),
}


def _other_units(units: pl.Series, column: Column) -> pl.Series:
    """Which units behind a number, or in the header, are none of repetitions (Boolean)."""
    names = [text for text in units.unique().drop_nulls() if factor_of(text, "reps") is None]
    if column.unit and factor_of(column.unit, "reps") is None:
        return pl.repeat(True, len(units), eager=True)
    return units.is_in(names).fill_null(False)


def _of_two_sided(side: pl.Series, words: Words, exercise: pl.Series) -> pl.Series:
    """The sides, "both" where a two-sided lift names none."""
    if not words.has_blanks:
        return side
    lifts = [
        key
        for key, known in catalogue().exercises.items()
        if known.laterality == Laterality.BILATERAL
    ]
    return side.set(words.codes.is_null() & exercise.is_in(lifts).fill_null(False), BOTH)


def _each_set(rows: pl.DataFrame) -> pl.DataFrame:
    """A row for each of the sets that a row stands for; several of them carry no number."""
    times = rows.select(pl.coalesce("times", "sets")).to_series().fill_null(1)
    rows = rows.drop("times", "sets")
    if (times == 1).all():
        return rows
    set_number = pl.when(times == 1).then("set_number")
    place = np.repeat(np.arange(rows.height), times.to_numpy())
    return rows.with_columns(set_number)[place]
