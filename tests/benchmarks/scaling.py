"""How time and memory grow: with rows, without PDFs; and with athletes, with their pages.

    python -m tests.benchmarks.scaling [--rows 1000000] [--athletes 160]

Prints a table in Markdown and draws it into scaling.svg beside this file. `wanted` is four times
what polars alone needs to read the files plus what DuckDB needs for the marts.
"""

import argparse
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import altair as alt
import polars as pl

from tests.benchmarks.processes import build, machine, spent
from tests.benchmarks.squads import ROWS_A_DAY, write_squads

DATES = 10
ROWS = (10_000, 100_000, 1_000_000, 10_000_000)
ATHLETES = (10, 40, 160, 1_000)
PICTURE = Path(__file__).with_name("scaling.svg")


def reference(exports: Path) -> tuple[float, float]:
    """Seconds polars takes to read the files alone, and DuckDB to build all marts from them."""
    from pipeline.catalogue import full_catalogue
    from pipeline.intake import read_exports
    from pipeline.settings import Settings
    from pipeline.warehouse import Warehouse
    from pipeline.warehouse.catalogue_tables import reference_frames
    from pipeline.warehouse.stock import raw_frames

    begin = time.perf_counter()
    for path in sorted(exports.glob("tests_*.csv")):
        pl.read_csv(path, try_parse_dates=True)
    read = time.perf_counter() - begin
    intake = read_exports(exports, Settings())
    frames = raw_frames(intake) | reference_frames(full_catalogue(), Settings().plan)
    with Warehouse(exports.parent / "reference.duckdb") as warehouse:
        for name, frame in frames.items():
            warehouse.load(name, frame)
        begin = time.perf_counter()
        warehouse.build()
    return read, time.perf_counter() - begin


def by_rows(most: int) -> pl.DataFrame:
    """One row a size: seconds and peak memory of a build without PDFs."""
    found = []
    for rows in (rows for rows in ROWS if rows <= most):
        with tempfile.TemporaryDirectory() as name:
            exports, reports = Path(name) / "exports", Path(name) / "reports"
            athletes = max(1, rows // (ROWS_A_DAY * DATES))
            write_squads(exports, athletes, DATES)
            ours = build(exports, reports, "--skip-pdf", "--timings")
            shutil.rmtree(reports)
            alone = spent("-m", "tests.benchmarks.scaling", "reference", exports)
        read, marts = map(float, alone.said.split())
        print(f"\n{rows:,} rows\n{ours.said}", file=sys.stderr, flush=True)
        found.append((rows, athletes, ours.wall, ours.cores, 4 * read + marts, ours.peak))
    names = ["rows", "athletes", "seconds", "processor", "wanted", "peak"]
    return pl.DataFrame(found, schema=names, orient="row")


def by_athletes(most: int) -> pl.DataFrame:
    """One row a size: seconds and peak memory of a build with all its PDFs."""
    found = []
    for athletes in (athletes for athletes in ATHLETES if athletes <= most):
        with tempfile.TemporaryDirectory() as name:
            exports = Path(name) / "exports"
            write_squads(exports, athletes, DATES)
            ours = build(exports, Path(name) / "reports")
        print(f"{athletes:,} athletes: {ours.wall:.1f} s", file=sys.stderr, flush=True)
        found.append((athletes, ours.wall, ours.cores, ours.peak))
    names = ["athletes", "seconds", "processor", "peak"]
    return pl.DataFrame(found, schema=names, orient="row")


def drawn(rows: pl.DataFrame, athletes: pl.DataFrame) -> alt.HConcatChart:
    """Seconds by rows and by athletes, memory by rows; all axes logarithmic."""

    def panel(frame: pl.DataFrame, x: str, y: str, title: str) -> Any:
        base = alt.Chart(frame, title=title, width=200, height=200).encode(
            x=alt.X(x, scale=alt.Scale(type="log"), title=x, axis=alt.Axis(format="~s")),
            y=alt.Y(y, scale=alt.Scale(type="log"), title=None),
        )
        return alt.layer(base.mark_line(), base.mark_point(filled=True, size=60))

    return alt.hconcat(
        panel(rows, "rows", "seconds", "Seconds without PDFs"),
        panel(rows, "rows", "peak", "Peak memory without PDFs, MiB"),
        panel(athletes, "athletes", "seconds", "Seconds with all pages"),
    )


def main() -> None:
    """Both tables and the picture."""
    if sys.argv[1:2] == ["reference"]:
        print(*reference(Path(sys.argv[2])))
        return
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=ROWS[-2])
    parser.add_argument("--athletes", type=int, default=ATHLETES[-2])
    options = parser.parse_args()
    rows, athletes = by_rows(options.rows), by_athletes(options.athletes)
    drawn(rows, athletes).save(PICTURE)
    print(f"{machine()}\n")
    print("| rows | athletes | seconds | processor | 4 x polars + marts | peak MiB |")
    print("| ---: | ---: | ---: | ---: | ---: | ---: |")
    for size, people, wall, cores, wanted, peak in rows.iter_rows():
        print(f"| {size:,} | {people:,} | {wall:.1f} | {cores:.1f} | {wanted:.1f} | {peak:,.0f} |")
    print("\n| athletes, with pages | seconds | processor | seconds an athlete |")
    print("| ---: | ---: | ---: | ---: |")
    for size, wall, cores, _ in athletes.iter_rows():
        print(f"| {size:,} | {wall:.1f} | {cores:.1f} | {wall / size:.2f} |")


if __name__ == "__main__":
    main()
