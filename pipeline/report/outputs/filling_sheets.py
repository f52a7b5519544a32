"""The workbooks of the next test day and of the coming week, to fill in and drop back."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.report.outputs.workbook import Col, fill, offer, workbook
from pipeline.report.outputs.write_pages import PdfNames
from pipeline.report.text.phrases import say
from pipeline.unmade import Unmade, tests_missing
from pipeline.warehouse import Warehouse
from schemas.catalogue_words import MeasureKind
from schemas.columns import COLUMNS
from schemas.contracts.own_sheets import TESTS_COLUMNS, TRAINING_COLUMNS

WIDTHS = {
    "athlete_id": 13, "name": 22, "tested_on": 12, "trained_on": 12, "test": 26, "exercise": 30,
    "first_side": 10, "note": 34, "planned_reps": 13, "planned_load": 13,
}  # fmt: skip
OTHER_WIDTH = 8.5
LEAST_PAIN, MOST_PAIN = map(int, COLUMNS["pain"].within)
PAIN = tuple(map(str, range(LEAST_PAIN, MOST_PAIN + 1)))
TESTS = tuple(one.id for one in catalogue().measures.values() if one.kind != MeasureKind.WHOLE_BODY)
UNITS = tuple(dict.fromkeys(one.unit for one in catalogue().measures.values()))
EXERCISES = (*catalogue().exercises, *catalogue().coaching.drills)
TICK = "x"
SUFFIX = ".xlsx"


def columns_of_tests() -> list[Col]:
    """The columns of the sheet of tests."""
    choices = {"test": TESTS, "first_side": ("left", "right"), "unit": UNITS, "pain": PAIN}
    told = {
        "tested_on": say("sheet.told.tested_on"),
        "first_side": say("sheet.told.first_side"),
        "pain": say("sheet.told.pain"),
        "note": say("sheet.told.note"),
        **{name: say("sheet.told.trial") for name in TESTS_COLUMNS if name[-1].isdigit()},
    }
    kept = ("athlete_id", "name", "tested_on", "test", "first_side", "unit")
    return _columns(TESTS_COLUMNS, told, choices, kept)


def columns_of_training() -> list[Col]:
    """The columns of the sheet of training."""
    choices = {
        "exercise": EXERCISES,
        "side": ("left", "right", "both"),
        "unit": ("kg", "lb"),
        "done": (TICK,),
        "pain": PAIN,
    }
    told = {
        "trained_on": say("sheet.told.trained_on"),
        "reps": say("sheet.told.reps"),
        "load": say("sheet.told.load"),
        "done": say("sheet.told.done"),
        "rir": say("sheet.told.rir"),
        "tempo": say("sheet.told.tempo"),
        "pain": say("sheet.told.pain"),
        "note": say("sheet.told.note"),
    }
    kept = ("athlete_id", "name", "trained_on", "exercise", "set_number", "side", "unit", "order",
            "planned_reps", "planned_load")  # fmt: skip
    return _columns(TRAINING_COLUMNS, told, choices, kept)


def _columns(
    names: Sequence[str],
    told: Mapping[str, str],
    choices: Mapping[str, tuple[str, ...]],
    kept: Sequence[str],
) -> list[Col]:
    return [
        Col(
            name,
            WIDTHS.get(name, OTHER_WIDTH),
            told.get(name, ""),
            choices.get(name, ()),
            name not in kept,
        )
        for name in names
    ]


def write_sheets(
    folder: Path, names: PdfNames, warehouse: Warehouse, as_of: date, unmade: Unmade
) -> None:
    """Write both workbooks of each squad, beside their print twins.

    Where it could not be worked out who is due there is none: it would read as if nobody were.
    """
    for squad, file in names.tests.items():
        if tests_missing(squad) in unmade.found.get(file, ()):
            continue
        due = warehouse.fetch("mart_next_tests", squad=[squad])
        _write_tests(folder / Path(file).with_suffix(SUFFIX), due, as_of)
    for squad, file in names.training.items():
        planned = warehouse.fetch("mart_next_sets", squad=[squad])
        _write_training(folder / Path(file).with_suffix(SUFFIX), planned, as_of)


def workbooks_of(pdfs: Mapping[str, str]) -> tuple[str, ...]:
    """The names of the workbooks beside these print twins."""
    return tuple(str(Path(file).with_suffix(SUFFIX)) for file in pdfs.values())


def _write_tests(path: Path, due: pl.DataFrame, as_of: date) -> None:
    rows, closed = [], []
    for number, row in enumerate(due.iter_rows(named=True)):
        rows.append({**row, "test": row["measure"]})
        closed += [
            (number, name)
            for name in TESTS_COLUMNS
            if name[-1].isdigit() and int(name[-1]) > row["trial_count"]
        ]
    with workbook(path, as_of, say("sheet.tests.title")) as book:
        columns = columns_of_tests()
        sheet = fill(book, "tests", columns, rows, closed)
        offer(book, {sheet: (columns, len(rows))}, say("sheet.lists"))


def _write_training(path: Path, planned: pl.DataFrame, as_of: date) -> None:
    rows: list[dict[str, Any]] = [
        {
            **row,
            "order": row["exercise_order"],
            "planned_load": row["planned_load_kg"],
            "unit": "kg",
        }
        for row in planned.iter_rows(named=True)
    ]
    with workbook(path, as_of, say("sheet.training.title")) as book:
        columns = columns_of_training()
        sheet = fill(book, "training", columns, rows)
        offer(book, {sheet: (columns, len(rows))}, say("sheet.lists"))
