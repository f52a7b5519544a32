"""Film reviews into typed rows, and what training logs and meeting decisions share with them."""

from dataclasses import dataclass, field

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.account.faults import Faults
from pipeline.intake.parse.values import Words
from pipeline.intake.recognise.tables import Table
from pipeline.intake.rows.cells import Reader, holds_anything
from pipeline.intake.rows.people import People
from pipeline.intake.rows.side_tests import NO_DAY, find_athletes
from pipeline.intake.rows.sides import CODE, LEFT, RIGHT, roster_sides, side_codes, why_unknown
from schemas.catalogue_words import WrittenSide

ARMS = frozenset({"push", "pull", "grip", "carry", "shoulder", "elbow"})  # words of patterns
# Columns whose cells cost the whole row.
NEEDED = frozenset({
    "athlete_id", "trained_on", "filmed_on", "exercise", "set_number", "sets", "side", "reps",
    "unit", "checkpoint", "finding", "flag_id",
})  # fmt: skip


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
    faults: Faults = field(default_factory=lambda: Faults(NEEDED))
    remarks: list[str] = field(default_factory=list)
    seen: dict[str, Words] = field(default_factory=dict)

    def film(self) -> Rows:
        """One row a checkpoint and side; the value cell is the finding."""
        exercise, _ = self.exercises()
        athlete = find_athletes(self.table, self.words("athlete_id"), self.people, self.faults)
        rows = self.rows_of(
            athlete=athlete,
            day=self.days("filmed_on"),
            exercise=exercise,
            side=self.sides(athlete, exercise),
            checkpoint=self.words("checkpoint").rows,
            finding=self._choice("finding"),
            note=self.words("note").rows,
        )
        is_read = self.is_filled("finding")
        self.refuse_blanks(
            is_read,
            athlete_id="an id of the roster",
            filmed_on=NO_DAY,
            exercise="a name",
            side="left or right",
            checkpoint="what was looked at",
        )
        return self.finished(per_side(rows), is_read)

    def words(self, name: str) -> Words:
        """Distinct texts of one column."""
        if name not in self.seen:
            self.seen[name] = self.reader.words(self.table, name)
        return self.seen[name]

    def is_filled(self, *names: str) -> pl.Series:
        """Which rows of the table hold anything in these columns."""
        return holds_anything(self.words(name) for name in names)

    def rows_of(self, **columns: pl.Series) -> pl.DataFrame:
        """The columns as a frame, with the place of each row in the table."""
        row = pl.int_range(self.table.cells.height, dtype=pl.UInt32, eager=True)
        return pl.DataFrame({"row": row, **columns})

    def refuse_blanks(self, is_read: pl.Series, **needed: str) -> None:
        """Faults for blank cells of these columns, which should hold what is said, in read rows."""
        for name, expected in needed.items():
            column, words = self.table.column(name), self.words(name)
            if column is not None and words.has_blanks:
                self.faults.add_blanks(column, words.codes.is_null() & is_read, expected)

    def finished(self, rows: pl.DataFrame, is_read: pl.Series) -> Rows:
        """The rows that are read and not refused; has_<column>: whether its cell says anything."""
        faults = self.faults.frame
        if not is_read.all():
            faults = faults.filter(is_read.gather(faults["row"]))
            rows = rows.filter(is_read.gather(rows["row"]))
        refused = faults.filter(~pl.col("row_kept"))["row"].unique()
        kept = rows.filter(~pl.col("row").is_in(refused.implode())) if len(refused) else rows
        return Rows(kept, faults, int(is_read.sum()), tuple(self.remarks))

    def blank(self, dtype: type[pl.DataType]) -> pl.Series:
        """A column the table does not have."""
        return pl.Series([None], dtype=dtype).new_from_index(0, self.table.cells.height)

    def days(self, name: str) -> pl.Series:
        """Days of one column (Date)."""
        column = self.table.column(name)
        if column is None:
            return self.blank(pl.Date)
        return self.reader.dates(column, self.words(name), self.faults)

    def counts(self, name: str, what: str) -> pl.Series:
        """Whole numbers of one column (Int64)."""
        column = self.table.column(name)
        if column is None:
            return self.blank(pl.Int64)
        return self.reader.counts(column, self.words(name), what, self.faults)

    def _choice(self, name: str) -> pl.Series:
        column = self.table.column(name)
        if column is None:
            return self.blank(pl.String)
        return self.reader.choice(column, self.words(name), self.faults)

    def exercises(self) -> tuple[pl.Series, pl.Series]:
        """Id of an exercise or a drill, else the name as given in lower snake case; and whether it
        is known."""
        words, known = self.words("exercise"), catalogue()
        ids = [
            None if text is None else known.find_exercise(text) or known.find_drill(text)
            for text in words.texts
        ]
        snake = words.texts.str.to_lowercase().str.replace_all(r"[\W_]+", "_").str.strip_chars("_")
        found = pl.Series(ids, dtype=pl.String)
        present = words.codes.unique().drop_nulls()
        unknown = words.texts.gather(present).filter(found.gather(present).is_null())
        if len(unknown):
            shown = ", ".join(sorted(unknown)[:6]) + (" …" if len(unknown) > 6 else "")
            self.remarks.append(f"exercises not in the dictionary: {shown}")
        names = found.zip_with(found.is_not_null(), snake.set(snake == "", "unnamed"))
        return words.spread(names), words.spread(found.is_not_null())

    def sides(self, athlete: pl.Series, exercise: pl.Series) -> pl.Series:
        """Side codes of sides.py up to "alternating"; faults for what names no side."""
        column, words = self.table.column("side"), self.words("side")
        codes = side_codes(words.texts)
        is_odd = (codes.is_null() | (codes == CODE[WrittenSide.TOTAL])) & words.texts.is_not_null()
        reason = "is not a side; expected left, right or both"
        self.faults.add_words(
            column, words, pl.select(pl.when(is_odd).then(pl.lit(reason))).to_series()
        ) if column else None
        rows = words.spread(codes)
        if column is None or not (rows > CODE[WrittenSide.TOTAL]).any():
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


def per_side(rows: pl.DataFrame) -> pl.DataFrame:
    """ "Each side" becomes a row a side; "alternating" too, with half the repetitions each."""
    is_shared = (
        rows["side"].is_in([CODE[WrittenSide.EACH], CODE[WrittenSide.ALTERNATING]]).fill_null(False)
    )
    if not is_shared.any():
        return rows
    shared = rows.filter(is_shared)
    if "reps" in rows.columns:
        half = pl.when(pl.col("side") == CODE[WrittenSide.ALTERNATING]).then(pl.col("reps") / 2)
        shared = shared.with_columns(half.otherwise("reps").alias("reps"))
    parts = [shared.with_columns(side=pl.lit(side, pl.UInt8)) for side in (LEFT, RIGHT)]
    return pl.concat([rows.filter(~is_shared), *parts]).sort("row", "side")
