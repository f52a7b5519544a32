"""Training logs, film reviews and meeting decisions into typed rows."""

from dataclasses import dataclass, replace

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.cells import Reader, factor_of, filled
from pipeline.intake.ledger import Faults
from pipeline.intake.people import People
from pipeline.intake.side_tests import NO_DAY, PAIN, find_athletes
from pipeline.intake.sides import CODE, LEFT, RIGHT, roster_sides, side_codes, why_unknown
from pipeline.intake.tables import Table
from pipeline.intake.values import Words

REPS = (0.0, 500.0)
LOAD_KG = (0.0, 500.0)
RESERVE = (0.0, 10.0)
OWN_WEIGHT = ("bw", "bodyweight", "body weight", "body mass", "own weight")
TEMPO = r"(?i)^[0-9x]{1,2}(?:[-/.: ][0-9x]{1,2}){2,3}$|^[0-9x]{3,4}$"
DATE_CELL = "^[0-9]{4}-[0-9]{2}-[0-9]{2}( |$)"
ARMS = frozenset({"push", "pull", "grip", "carry", "shoulder", "elbow"})  # words of patterns


@dataclass(frozen=True)
class Rows:
    """Typed rows of one table (`row` counts inside it), faults, rows read, and remarks."""

    rows: pl.DataFrame
    faults: pl.DataFrame
    read_count: int
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class LogReader:
    """Reads one table that is no side test; collects faults and remarks on the way."""

    table: Table
    reader: Reader
    people: People
    faults: Faults
    remarks: list[str]

    def training(self) -> Rows:
        """One row a set and side; the value cells are repetitions and load."""
        exercise, is_known = self._exercises()
        athlete = find_athletes(self.table, self.words("athlete_id"), self.people, self.faults)
        rows = self._rows(
            athlete=athlete,
            day=self._days("trained_on"),
            exercise=exercise,
            known_exercise=is_known,
            set_number=self._counts("set_number", "a set number"),
            side=self._sides(athlete, exercise),
            reps=self._measured("reps", "reps", REPS),
            load_kg=self._load(),
            exercise_order=self._counts("order", "a place in the session"),
            rir=self._reserve(),
            tempo=self._tempo(),
            pain=self._scale("pain", PAIN),
            note=self.words("note").rows,
        )
        needed = {
            "athlete_id": "an id of the roster",
            "trained_on": NO_DAY,
            "exercise": "a name",
            "set_number": "1, 2, 3 …",
            "side": "left, right or both",
            "reps": "a number",
        }
        return self._finished(_per_side(rows), ("reps", "load"), needed)

    def film(self) -> Rows:
        """One row a checkpoint and side; the value cell is the finding."""
        exercise, _ = self._exercises()
        athlete = find_athletes(self.table, self.words("athlete_id"), self.people, self.faults)
        rows = self._rows(
            athlete=athlete,
            day=self._days("filmed_on"),
            exercise=exercise,
            side=self._sides(athlete, exercise),
            checkpoint=self.words("checkpoint").rows,
            finding=self._choice("finding", "ok or adjust"),
            note=self.words("note").rows,
        )
        needed = {
            "athlete_id": "an id of the roster",
            "filmed_on": NO_DAY,
            "exercise": "a name",
            "side": "left or right",
            "checkpoint": "what was looked at",
        }
        return self._finished(_per_side(rows), ("finding",), needed)

    def decisions(self) -> Rows:
        """One row a flag and list; the value cells are all that a meeting fills in."""
        rows = self._rows(
            flag_id=self.words("flag_id").rows,
            decision=self.words("decision").rows,
            owner=self.words("owner").rows,
            review_on=self._days("review_on"),
            note=self.words("note").rows,
            listed_on=self._days("listed_on"),
            decided_on=self._days("decided_on"),
            listed_decision=self.words("listed_decision").rows,
        )
        needed = {"flag_id": "the id of a flag", "decision": "what was decided"}
        return self._finished(rows, ("decision", "owner", "review_on", "note"), needed)

    def words(self, name: str) -> Words:
        """Distinct texts of one column."""
        return self.reader.words(self.table, name)

    def _rows(self, **columns: pl.Series) -> pl.DataFrame:
        row = pl.int_range(self.table.cells.height, dtype=pl.UInt32, eager=True)
        return pl.DataFrame({"row": row, **columns})

    def _finished(
        self, rows: pl.DataFrame, values: tuple[str, ...], needed: dict[str, str]
    ) -> Rows:
        is_read = filled(self.words(name) for name in values)
        for name, expected in needed.items():
            column, words = self.table.column(name), self.words(name)
            if column is not None and words.has_blanks:
                self.faults.add_blanks(column, words.codes.is_null() & is_read, expected)
        faults = self.faults.frame
        faults = faults.filter(is_read.gather(faults["row"]))
        is_bad = rows["row"].is_in(faults["row"].unique().to_list())
        kept = rows.filter(is_read.gather(rows["row"]) & ~is_bad)
        kept = kept.with_columns(
            has_pain=pl.lit(self.table.column("pain") is not None),
            has_note=pl.lit(self.table.column("note") is not None),
        )
        return Rows(kept, faults, int(is_read.sum()), tuple(self.remarks))

    def _blank(self, dtype: type[pl.DataType]) -> pl.Series:
        return pl.Series([None], dtype=dtype).new_from_index(0, self.table.cells.height)

    def _days(self, name: str) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self._blank(pl.Date)
        return self.reader.dates(column, self.words(name), self.faults)

    def _counts(self, name: str, what: str) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self._blank(pl.Int64)
        return self.reader.counts(column, self.words(name), what, self.faults)

    def _scale(self, name: str, limits: tuple[float, float]) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self._blank(pl.Float64)
        return self.reader.scale(column, self.words(name), limits, self.faults)

    def _choice(self, name: str, expected: str) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self._blank(pl.String)
        return self.reader.choice(column, self.words(name), name, expected, self.faults)

    def _measured(self, name: str, unit: str, limits: tuple[float, float]) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self._blank(pl.Float64)
        return self.reader.measured(column, self.table.text(column), unit, limits, self.faults)

    def _load(self) -> pl.Series:
        """Load in kg: the unit stands behind the number, in its own column or in the header."""
        column, unit = self.table.column("load"), self.table.column("unit")
        if column is None:
            return self._blank(pl.Float64)
        cells = self.table.text(column).cast(pl.String)
        is_own_weight = cells.str.strip_chars().str.to_lowercase().is_in(list(OWN_WEIGHT))
        cells = cells.set(is_own_weight, None)
        if unit is None:
            return self.reader.measured(column, cells, "kg", LOAD_KG, self.faults)
        units = self.words("unit")
        reason = pl.lit("is not a unit of load; expected kg or lb")
        factors = [text and factor_of(text, "kg") for text in units.texts]
        known = pl.Series(factors, dtype=pl.Float64)
        is_wrong = known.is_null() & units.texts.is_not_null()
        self.faults.add_words(unit, units, pl.select(pl.when(is_wrong).then(reason)).to_series())
        factor = units.spread(known)
        bare = replace(column, unit=None) if units.has_blanks is False else column
        return self.reader.measured(bare, cells, "kg", LOAD_KG, self.faults, factor)

    def _reserve(self) -> pl.Series:
        """Repetitions in reserve as given, else ten less the rating of effort."""
        given, effort = self._scale("rir", RESERVE), self._scale("rpe", RESERVE)
        return given.zip_with(given.is_not_null(), 10 - effort)

    def _tempo(self) -> pl.Series:
        column, words = self.table.column("tempo"), self.words("tempo")
        if column is None:
            return words.rows
        is_odd, is_date = ~words.texts.str.contains(TEMPO), words.texts.str.contains(DATE_CELL)
        date = pl.lit("is a date to the spreadsheet; expected a tempo such as 3-1-1 as text")
        other = pl.lit("is not a tempo; expected one such as 3-1-1")
        reasons = pl.select(pl.when(is_date).then(date).when(is_odd).then(other)).to_series()
        self.faults.add_words(column, words, reasons)
        return words.rows

    def _exercises(self) -> tuple[pl.Series, pl.Series]:
        """Dictionary id, else the name as given in lower snake case; and whether it is known."""
        words, known = self.words("exercise"), catalogue()
        ids = [None if text is None else known.find_exercise(text) for text in words.texts]
        snake = words.texts.str.to_lowercase().str.replace_all(r"[\W_]+", "_").str.strip_chars("_")
        found = pl.Series(ids, dtype=pl.String)
        present = words.codes.unique().drop_nulls()
        unknown = words.texts.gather(present).filter(found.gather(present).is_null())
        if len(unknown):
            shown = ", ".join(sorted(unknown)[:6]) + (" …" if len(unknown) > 6 else "")
            self.remarks.append(f"exercises not in the dictionary: {shown}")
        names = found.zip_with(found.is_not_null(), snake.set(snake == "", "unnamed"))
        return words.spread(names), words.spread(found.is_not_null())

    def _sides(self, athlete: pl.Series, exercise: pl.Series) -> pl.Series:
        """Side codes of sides.py up to "alternating"; faults for what names no side."""
        column, words = self.table.column("side"), self.words("side")
        codes = side_codes(words.texts)
        is_odd = (codes.is_null() | (codes == CODE["total"])) & words.texts.is_not_null()
        reason = "is not a side; expected left, right or both"
        self.faults.add_words(
            column, words, pl.select(pl.when(is_odd).then(pl.lit(reason))).to_series()
        ) if column else None
        rows = words.spread(codes)
        if column is None or not (rows > CODE["total"]).any():
            return rows
        exercises = catalogue().exercises.items()
        arms = {key for key, known in exercises if ARMS & set(known.pattern.split("_"))}
        by_hand = exercise.is_in(list(arms))
        sides = roster_sides(rows, athlete, by_hand, self.people)
        lost = (sides.is_null() & rows.is_not_null() & athlete.is_not_null()).arg_true()
        reasons = [
            why_unknown(code, hand)
            for code, hand in zip(rows.gather(lost), by_hand.gather(lost), strict=True)
        ]
        self.faults.add(column, lost, words.rows.gather(lost), pl.Series(reasons, dtype=pl.String))
        return sides


def _per_side(rows: pl.DataFrame) -> pl.DataFrame:
    """ "Each side" becomes a row a side; "alternating" too, with half the repetitions each."""
    is_shared = rows["side"].is_in([CODE["each"], CODE["alternating"]]).fill_null(False)
    if not is_shared.any():
        return rows
    shared = rows.filter(is_shared)
    if "reps" in rows.columns:
        half = pl.when(pl.col("side") == CODE["alternating"]).then(pl.col("reps") / 2)
        shared = shared.with_columns(half.otherwise("reps").alias("reps"))
    parts = [shared.with_columns(side=pl.lit(side, pl.UInt8)) for side in (LEFT, RIGHT)]
    return pl.concat([rows.filter(~is_shared), *parts]).sort("row", "side")
