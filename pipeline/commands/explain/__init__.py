"""How one figure came about, from the lines of the files to the verdict; or why there is none."""

from pathlib import Path

import polars as pl

from pipeline.catalogue import Measure, full_catalogue
from pipeline.commands.explain.figures import figure_lines
from pipeline.commands.explain.rows import Rows, held_lines, refused_lines, trial_lines
from pipeline.commands.explain.who import find_athlete, naming, shown_refused
from pipeline.commands.explain.without import nothing_at_all, why_no_figure
from pipeline.errors import SquadsidesError
from pipeline.report.text import words
from pipeline.warehouse import Warehouse


def print_explanation(reports: Path, athlete: str, measure_name: str) -> None:
    """Print all that is behind one athlete's figure in one measure.

    `athlete` is an id or a name. Where there is no figure, what was read and why it gives none.
    Raises SquadsidesError where the reports, the athlete or the measure are not there, and where
    nothing at all was read of the two.
    """
    file = reports / "warehouse.duckdb"
    if not file.is_file():
        raise SquadsidesError(f"{reports} holds no warehouse.duckdb; build the reports first.")
    measure = _measure(measure_name)
    with Warehouse(file, read_only=True) as warehouse:
        refused = warehouse.fetch("raw_refused")
        who = find_athlete(athlete, warehouse.fetch("stg_athletes"), refused)
        rows = _rows(warehouse, who["athlete_id"], measure, naming(refused, who))
        lines = [
            f"{measure.name} ({measure.id}), {who['athlete_id']}, {who['name']}, {who['squad']}",
            f"Side: {measure.side_means}. Keep in mind: {measure.caution}",
            "",
            *trial_lines(rows, measure),
            *held_lines(rows),
            *refused_lines(rows),
        ]
        finding = _of(warehouse, "mart_findings", who["athlete_id"], measure)
        if not finding.is_empty():
            days = _of(warehouse, "mart_session_estimates", who["athlete_id"], measure)
            errors = warehouse.fetch("mart_measure_errors", squad=[who["squad"]])
            own = errors.filter(measure=measure.id).row(0, named=True)
            lines += figure_lines(finding.row(0, named=True), days, own, measure)
        elif rows.is_empty():
            raise SquadsidesError(nothing_at_all(warehouse, who, measure))
        else:
            lines += why_no_figure(rows, measure)
    print("\n".join(lines).replace(words.NBSP, " "))


def _measure(text: str) -> Measure:
    book = full_catalogue()
    found = book.find_measure(text)
    if found is None:
        nearest = ", ".join(book.nearest_measures(text, 3))
        raise SquadsidesError(f"{text} is not a measure; nearest: {nearest}.")
    return book.measures[found]


def _rows(warehouse: Warehouse, who: str, measure: Measure, refused: pl.DataFrame) -> Rows:
    """All that was read, kept out or refused of one athlete and measure."""
    scored = _of(warehouse, "stg_trials", who, measure)
    given = _of(warehouse, "raw_trials", who, measure)
    return Rows(
        trials=scored.filter(pl.col("value").is_not_null()).sort("tested_on", "side", "trial"),
        untested=given.filter(pl.col("value").is_null()).sort("tested_on", "side", "trial"),
        doubts=warehouse.fetch("raw_doubts").filter("is_held"),
        refused=shown_refused(refused, warehouse.fetch("raw_files"), measure),
    )


def _of(warehouse: Warehouse, table: str, who: str, measure: Measure) -> pl.DataFrame:
    return warehouse.fetch(table, athlete_id=[who], measure=[measure.id])
