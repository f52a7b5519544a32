"""The account of every row: read, refused with its reason, repeated; and what was remarked."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.intake.account.faults import FAULT, Faults
from pipeline.intake.read.grids import LINE

FILES = {
    "file": pl.String,
    "sheet": pl.String,
    "sha256": pl.String,
    "kind": pl.String,
    "rows_read": pl.Int64,
    "rows_accepted": pl.Int64,
    "rows_refused": pl.Int64,
    "rows_repeated": pl.Int64,
    "remark": pl.String,
}
REFUSED = {
    "row": pl.UInt32,
    "file": pl.String,
    "sheet": pl.String,
    "line": pl.Int64,
    "column": pl.String,
    "value": pl.String,
    "reason": pl.String,
    "original": pl.String,
    "row_kept": pl.Boolean,
    "about": pl.String,
    "kind": pl.String,
}


MOST_SAID = 1_000  # letters of a remark or a reason
MOST_HEADER = 200


@dataclass
class Entry:
    """One file, or one sheet of a workbook."""

    file: str
    sheet: str
    kind: str
    remarks: list[str] = field(default_factory=list)
    read: int = 0
    repeated: int = 0


@dataclass
class Run:
    """A table and the place of its rows among all rows of the intake."""

    entry: int
    start: int
    cells: pl.DataFrame
    delimiter: str


@dataclass
class Ledger:
    """Collects what happens to every row; rows are numbered through the whole intake."""

    entries: list[Entry] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    faults: list[pl.DataFrame] = field(default_factory=list)
    next_row: int = 0

    def open(self, file: str, sheet: str, kind: str) -> int:
        """Begin the account of a file or sheet; its number."""
        self.entries.append(Entry(file, sheet, kind))
        return len(self.entries) - 1

    def enter(self, entry: int, cells: pl.DataFrame, delimiter: str) -> Run:
        """Number the rows of one table."""
        run = Run(entry, self.next_row, cells, delimiter)
        self.runs.append(run)
        self.next_row += cells.height
        return run

    def refuse(self, run: Run, faults: pl.DataFrame) -> None:
        """Refuse rows of one table; several faults of a row become one entry."""
        if faults.height:
            self.faults.append(faults.with_columns(pl.col("row") + pl.lit(run.start, pl.UInt32)))

    def refuse_strays(self, run: Run) -> None:
        """Refuse all rows of a run whose cells carry their reason."""
        rows = pl.int_range(run.cells.height, dtype=pl.UInt32, eager=True)
        faults = Faults(frozenset())
        blank = pl.Series([""], dtype=pl.String).new_from_index(0, len(rows))
        faults.add("", rows, blank, run.cells["reason"])
        self.refuse(run, faults.frame)
        self.entries[run.entry].read += len(rows)

    def names(self, entry: int) -> str:
        """File, and sheet where there is one, as people name it."""
        account = self.entries[entry]
        return f"{account.file}, sheet {account.sheet}" if account.sheet else account.file

    def remark(self, entry: int, text: str) -> None:
        """Say something about a file or sheet."""
        if len(text) > MOST_SAID:  # it quotes a cell or a header beyond all use
            text = f"{text[:MOST_SAID]}…"
        if text and text not in self.entries[entry].remarks:
            self.entries[entry].remarks.append(text)

    def entry_of(self, rows: pl.Series) -> pl.Series:
        """Number of the file or sheet of each row (UInt32)."""
        return self._of_runs(rows, [run.entry for run in self.runs])

    def line_of(self, rows: pl.Series) -> pl.Series:
        """Line of each row in its file or sheet (Int64)."""
        lines = pl.concat(
            [run.cells[LINE] for run in self.runs] or [pl.Series([], dtype=pl.UInt32)]
        )
        return lines.cast(pl.Int64).gather(rows)

    def _of_runs(self, rows: pl.Series, values: Sequence[int]) -> pl.Series:
        starts = pl.Series([run.start for run in self.runs], dtype=pl.UInt32)
        place = starts.search_sorted(rows, side="right") - 1
        return pl.Series(values, dtype=pl.UInt32).gather(place)

    def _in_order(self) -> pl.DataFrame:
        """All faults, each once a cell; `is_refused` says whether one of them costs the row."""
        if not self.faults:
            return pl.DataFrame(schema=FAULT | {"is_refused": pl.Boolean})
        return (
            pl.concat(self.faults)
            .sort("row", "place", maintain_order=True)
            .unique(["row", "place", "reason", "row_kept"], keep="first", maintain_order=True)
            .with_columns((~pl.col("row_kept")).any().over("row").alias("is_refused"))
        )

    def rows_without(self, about: str) -> pl.Series:
        """Rows whose cell in this column of ours could not be read (UInt32)."""
        rows = [part.filter(about=about)["row"] for part in self.faults]
        return pl.concat([pl.Series("row", [], dtype=pl.UInt32), *rows]).unique()

    def refused_rows(self) -> pl.DataFrame:
        """One line for each refused row: the cell that costs it, its reason, then other reasons."""
        return self._refused(self._in_order())

    def _refused(self, in_order: pl.DataFrame) -> pl.DataFrame:
        return (
            in_order.filter("is_refused")
            .sort("row", "row_kept", "place", maintain_order=True)
            .unique(["row", "reason", "row_kept"], keep="first", maintain_order=True)
            .with_columns(said=pl.format("{}: {}", "column", "reason"))
            .group_by("row", maintain_order=True)
            .agg(
                pl.col("place", "column", "value", "reason", "about", "row_kept").first(),
                more=pl.col("said").slice(1).str.join("; "),
            )
            .with_columns(
                pl.when(pl.col("more") == "")
                .then("reason")
                .otherwise(pl.format("{}; {}", "reason", "more"))
                .alias("reason")
            )
            .select(*FAULT)
        )

    def refused(self) -> pl.DataFrame:
        """Refused rows, and cells left blank, as handed over, with the text of their row."""
        found = self._in_order()
        kept = found.filter(~pl.col("is_refused")).select(*FAULT)
        rows = pl.concat([self._refused(found), kept]).sort("row", "place", maintain_order=True)
        if rows.is_empty():
            return pl.DataFrame(schema=REFUSED)
        entries = self.entry_of(rows["row"])
        names = pl.Series([entry.file for entry in self.entries])
        sheets = pl.Series([entry.sheet for entry in self.entries])
        kinds = pl.Series([entry.kind for entry in self.entries], dtype=pl.String)
        return rows.with_columns(
            file=names.gather(entries),
            sheet=sheets.gather(entries),
            kind=kinds.gather(entries),
            line=self.line_of(rows["row"]),
            original=self._originals(rows["row"]),
            reason=_at_most(pl.col("reason"), MOST_SAID),
            column=_at_most(pl.col("column"), MOST_HEADER),
        ).select(pl.col(key).cast(kind) for key, kind in REFUSED.items())

    def _originals(self, rows: pl.Series) -> pl.Series:
        """Text of whole rows, cells joined as their file joins them; rows are ascending."""
        texts: list[pl.Series] = []
        for run in self.runs:
            inside = rows.filter((rows >= run.start) & (rows < run.start + run.cells.height))
            if len(inside):
                texts.append(original_text(run.cells[inside - run.start], run.delimiter))
        return pl.concat(texts)

    def files(self, digests: Sequence[str]) -> pl.DataFrame:
        """One row for each file and sheet with its counts and remarks; digests by entry."""
        refused = self.entry_of(self.refused_rows()["row"]).value_counts(name="n")
        counts = dict(refused.rows())
        rows = [
            (
                entry.file,
                entry.sheet,
                digests[number],
                entry.kind,
                entry.read,
                entry.read - counts.get(number, 0) - entry.repeated,
                counts.get(number, 0),
                entry.repeated,
                "; ".join(entry.remarks),
            )
            for number, entry in enumerate(self.entries)
        ]
        return pl.DataFrame(rows, schema=FILES, orient="row")


def _at_most(text: pl.Expr, letters: int) -> pl.Expr:
    is_long = text.str.len_bytes() > letters
    return pl.when(is_long).then(text.str.slice(0, letters) + "…").otherwise(text)


def original_text(cells: pl.DataFrame, delimiter: str) -> pl.Series:
    """Rows of cells as text, with quotation marks where a cell needs them."""
    mark = delimiter or " | "
    names = [name for name in cells.columns if name.startswith("c") and name[1:].isdigit()]

    def quoted(name: str) -> pl.Expr:
        text = pl.col(name).cast(pl.String).fill_null("")
        needs = text.str.contains(mark, literal=True) | text.str.contains('["\n]')
        doubled = '"' + text.str.replace_all('"', '""', literal=True) + '"'
        return pl.when(needs).then(doubled).otherwise(text)

    joined = pl.concat_str([quoted(name) for name in names], separator=mark)
    return cells.select(joined.str.strip_chars_end(mark)).to_series()
