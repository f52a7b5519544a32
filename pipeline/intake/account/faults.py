"""Cells that cannot be read, with why: what a table is refused row by row.

A cell costs itself, not its row: a row is refused only where a cell that it needs cannot be read.
"""

from dataclasses import dataclass, field

import polars as pl

from pipeline.intake.parse.values import Words
from pipeline.intake.recognise.kinds import Column

FAULT = {
    "row": pl.UInt32,  # of the whole intake, or of one table until it is entered
    "place": pl.Int32,
    "column": pl.String,
    "value": pl.String,
    "reason": pl.String,
    "about": pl.String,  # our name of the column, blank where no column is to blame
    "row_kept": pl.Boolean,  # the cell is left blank, the row is accepted without it
}


@dataclass
class Faults:
    """Cells of one table that cannot be read; rows are counted inside the table.

    `needed` names the columns whose cells refuse their row; any other cell costs itself only.
    """

    needed: frozenset[str]
    found: list[pl.DataFrame] = field(default_factory=list)

    def add(
        self, column: Column | str, rows: pl.Series, values: pl.Series, reasons: pl.Series
    ) -> None:
        """One fault a row; the three series are of equal length."""
        if rows.is_empty():
            return
        name, place, about = (
            (column, 999, "")
            if isinstance(column, str)
            else (column.header, column.place, column.name)
        )
        frame = pl.DataFrame({"row": rows, "value": values, "reason": reasons}).with_columns(
            place=pl.lit(place),
            column=pl.lit(name),
            about=pl.lit(about),
            row_kept=pl.lit(bool(about) and about not in self.needed),
        )
        self.found.append(frame.select(pl.col(key).cast(kind) for key, kind in FAULT.items()))

    def add_words(self, column: Column, words: Words, reasons: pl.Series) -> None:
        """Faults of distinct texts; `reasons` is null where a text is fine."""
        if reasons.null_count() == len(reasons):
            return
        spread = words.spread(reasons)
        rows = spread.is_not_null().arg_true()
        self.add(column, rows, words.rows.gather(rows), spread.gather(rows))

    def add_blanks(self, column: Column | str, is_missing: pl.Series, expected: str) -> None:
        """Cells that must not be blank."""
        rows = is_missing.arg_true()
        reason = pl.Series([f"is blank; expected {expected}"]).new_from_index(0, len(rows))
        self.add(column, rows, pl.Series([""]).new_from_index(0, len(rows)), reason)

    @property
    def frame(self) -> pl.DataFrame:
        """All faults found so far."""
        return pl.concat(self.found) if self.found else pl.DataFrame(schema=FAULT)

    def refuse(self, rows: pl.Series) -> None:
        """From now on every fault found in these rows costs the row."""
        self.found = [
            part.with_columns(pl.col("row_kept") & ~pl.col("row").is_in(rows.implode()))
            for part in self.found
        ]

    def says_something(self, *columns: Column | None) -> pl.Expr:
        """Of each `row`, whether the table has one of these columns and its cells can be read.

        A blank cell says something: that nothing is there.
        """
        present = [column for column in columns if column is not None]
        unread = [self.rows_of(column) for column in present]
        if not sum(map(len, unread)):
            return pl.lit(bool(present))
        return ~pl.col("row").is_in(pl.concat(unread).implode())

    def rows_of(self, column: Column | None) -> pl.Series:
        """Rows whose cell in this column cannot be read (UInt32)."""
        place = None if column is None else column.place
        rows = [part["row"] for part in self.found if part["place"][0] == place]  # of one column
        return pl.concat([pl.Series("row", [], dtype=pl.UInt32), *rows]).unique()
