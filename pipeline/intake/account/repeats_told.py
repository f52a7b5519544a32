"""What the remarks of files say about repeats and corrections."""

import polars as pl

from pipeline.intake.account.ledger import Ledger

SHOWN = 3  # places named before a remark only counts


def remark_repeats(ledger: Ledger, rows: pl.Series) -> None:
    """Count repeated rows in their files and name their lines."""
    if rows.is_empty():
        return
    frame = pl.DataFrame({"entry": ledger.entry_of(rows), "line": ledger.line_of(rows)})
    for (entry,), part in frame.group_by("entry", maintain_order=True):
        ledger.entries[int(str(entry))].repeated += part.height
        ledger.remark(int(str(entry)), f"{_lines(part['line'])} repeated, counted once")


def remark_corrections(ledger: Ledger, pairs: pl.DataFrame) -> None:
    """Name every correction in the file that makes it and in the file it replaces."""
    if pairs.is_empty():
        return
    frame = pl.DataFrame(
        {
            "new": ledger.entry_of(pairs["later"]),
            "old": ledger.entry_of(pairs["earlier"]),
            "new_line": ledger.line_of(pairs["later"]),
            "old_line": ledger.line_of(pairs["earlier"]),
        }
    ).unique(maintain_order=True)
    for (new, old), part in frame.group_by("new", "old", maintain_order=True):
        newer, older = int(str(new)), int(str(old))
        lines = [
            f"line {line} by line {later}"
            for later, line in part.select("new_line", "old_line").head(SHOWN).rows()
        ]
        shown = ", ".join(lines) + (" …" if part.height > SHOWN else "")
        names = ledger.names(older), ledger.names(newer)
        if newer == older:
            ledger.remark(newer, f"{part.height} corrected further down: {shown}")
            continue
        ledger.remark(newer, f"{part.height} corrected from {names[0]}: {shown}")
        ledger.remark(older, f"{part.height} replaced by {names[1]}: {shown}")


def _lines(lines: pl.Series) -> str:
    shown = ", ".join(str(line) for line in lines.head(5))
    more = " …" if len(lines) > 5 else ""
    return f"{len(lines)} row{'s' if len(lines) > 1 else ''} (line {shown}{more})"
