"""What a person at the keyboard sees: progress while it runs, plain lines at the end."""

import sys
import time
from collections.abc import Mapping
from threading import Timer
from typing import Self

import polars as pl
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Task, TextColumn
from rich.progress import Progress as Bars
from rich.table import Table
from rich.text import Text

from pipeline.control_characters import visible
from pipeline.intake import Intake
from pipeline.report.text.phrases import say

SHOWN_REFUSED = 20
QUIET_SECONDS = 2.0  # a build that is over sooner shows no bar
KEPT = (True, "yes")  # of `row_kept`: the cell cost itself, not its row


class ConsoleProgress:
    """A bar per step on a terminal, in builds that take a while; plain lines elsewhere.

    A step of several parts shows how many of them are done; of others nothing is pretended.
    """

    def __init__(self) -> None:
        self.console = Console(stderr=True, highlight=False)
        self.bars = Bars(
            TextColumn("{task.description}"),
            BarColumn(bar_width=30),
            _PartsColumn(),
            console=self.console,
            disable=not self.console.is_terminal,
        )
        self.shows = Timer(QUIET_SECONDS, self.bars.start)
        self.shows.daemon = True
        self.remarks: list[str] = []
        self.seconds: list[tuple[str, float]] = []
        self.current = "Starting"
        self.begun = time.perf_counter()

    def _close(self) -> None:
        now = time.perf_counter()
        self.seconds.append((self.current, now - self.begun))
        self.begun = now

    def __enter__(self) -> Self:
        if self.console.is_terminal:
            self.shows.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.shows.cancel()
        self.bars.stop()

    def step(self, text: str, total: int = 1) -> None:
        """A new step begins; the last one is over."""
        self._close()
        self.current = f"{text} ({total})" if total > 1 else text
        for task in self.bars.tasks:
            self.bars.update(task.id, total=task.total or 1, completed=task.total or 1)
        self.bars.add_task(text, total=total if total > 1 else None)
        if not self.console.is_terminal:
            self.console.print(f"{text} …")

    def advance(self) -> None:
        """One part of the step is done."""
        self.bars.advance(self.bars.tasks[-1].id)

    def remark(self, text: str) -> None:
        """Something the person at the keyboard should know."""
        self.remarks.append(text)

    def print_timings(self) -> None:
        """Seconds of each step, in their order."""
        self._close()
        for text, spent in self.seconds:
            print(f"{spent:7.2f} s  {text}")


class _PartsColumn(MofNCompleteColumn):
    """How many parts of a step are done, where it has several."""

    def render(self, task: Task) -> Text:
        return super().render(task) if task.total and task.total > 1 else Text("")


def print_intake(intake: Intake) -> None:
    """What a build would do with each file, and the rows it would refuse."""
    width = None if sys.stdout.isatty() else 160
    console = Console(highlight=False, width=width)
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("File", "Kind"):
        table.add_column(title)
    for title in ("Read", "Accepted", "Refused", "Repeated"):
        table.add_column(title, justify="right")
    table.add_column("Remark", overflow="fold")
    for row in intake.files.iter_rows(named=True):
        place = row["file"] + (f" [{row['sheet']}]" if row["sheet"] else "")
        counts = (
            str(row[name])
            for name in ("rows_read", "rows_accepted", "rows_refused", "rows_repeated")
        )
        remark = Text(visible(row["remark"] or ""))
        table.add_row(Text(place), row["kind"] or "not read", *counts, remark)
    console.print(table)
    if intake.refused.is_empty():
        print("No row would be refused.")
        return
    kept = intake.refused.filter("row_kept")
    refused = intake.refused.filter(~pl.col("row_kept"))
    for part, heading in (
        (refused, f"{say('count.row', count=refused.height)} would be refused:"),
        (kept, f"{say('count.cell', count=kept.height)} would be left blank:"),
    ):
        if part.is_empty():
            continue
        print(f"\n{heading}")
        for row in part.head(SHOWN_REFUSED).iter_rows(named=True):
            print(refused_line(row))
        if part.height > SHOWN_REFUSED:
            print(f"… and {part.height - SHOWN_REFUSED} more.")


def refused_line(row: Mapping[str, object]) -> str:
    """One row of `raw_refused`: where it stands, what was found there, and why it was refused."""
    sheet = f", sheet {row['sheet']}" if row["sheet"] else ""
    column = f", column {row['column']}" if row["column"] else ""
    found = f" “{row['value']}”" if row["value"] else ""
    kept = " (left blank; the rest of the row counts)" if row.get("row_kept") in KEPT else ""
    told = f"{row['file']}{sheet}, line {row['line']}{column}{found}: {row['reason']}{kept}"
    return f"  {visible(told)}"
