"""Literal rows for the warehouse: what a test does not name is a plain default."""

from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import full_catalogue
from pipeline.intake import Intake
from pipeline.intake.rows.decisions import day_in_name, decision_of, step_of
from pipeline.plan.blocks import blocks
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.review.squads import review
from pipeline.review.week import Week
from pipeline.settings import Settings
from pipeline.warehouse import Warehouse
from pipeline.warehouse.catalogue_tables import reference_frames
from pipeline.warehouse.parts import squads_of
from pipeline.warehouse.stock import raw_frames, stock

TEXT, WHOLE, REAL, DAY, TRUTH = pl.String, pl.Int64, pl.Float64, pl.Date, pl.Boolean
SOURCE = {"source_file": TEXT, "source_sheet": TEXT, "source_line": WHOLE}
COLUMNS: dict[str, dict[str, Any]] = {
    "raw_roster": {
        "athlete_id": TEXT, "name": TEXT, "squad": TEXT, "sex": TEXT, "birth_date": DAY,
        "height_cm": REAL, "body_mass_kg": REAL, "dominant_hand": TEXT, "dominant_foot": TEXT,
        "position": TEXT, "availability": TEXT, "known_difference": TEXT, "known_side": TEXT,
        "known_since": DAY, "left_limb_length_cm": REAL, "right_limb_length_cm": REAL,
        "measured_on": DAY, "grew_cm": REAL, **SOURCE,
    },
    "raw_trials": {
        "athlete_id": TEXT, "tested_on": DAY, "measure": TEXT, "side": TEXT, "trial": WHOLE,
        "value": REAL, "factor": REAL, "pain": REAL, "note": TEXT, "value_given": TEXT,
        "unit_given": TEXT, "held": TRUTH, **SOURCE,
    },
    "raw_sets": {
        "athlete_id": TEXT, "trained_on": DAY, "exercise": TEXT, "known_exercise": TRUTH,
        "set_number": WHOLE, "side": TEXT, "reps": REAL, "load_kg": REAL, "exercise_order": WHOLE,
        "rir": REAL, "tempo": TEXT, "pain": REAL, "note": TEXT, "order_file": TEXT,
        "order_line": WHOLE, **SOURCE,
    },
    "raw_film": {
        "athlete_id": TEXT, "filmed_on": DAY, "exercise": TEXT, "side": TEXT, "checkpoint": TEXT,
        "finding": TEXT, "note": TEXT, **SOURCE,
    },
    "raw_decisions": {
        "flag_id": TEXT, "decision": TEXT, "said": TEXT, "step": WHOLE, "owner": TEXT,
        "review_on": DAY, "review_said": TEXT, "note": TEXT, "listed_on": DAY, "decided_on": DAY,
        "listed_decision": TEXT, "is_fresh": TRUTH, **SOURCE,
    },
    "raw_files": {
        "file": TEXT, "sheet": TEXT, "sha256": TEXT, "kind": TEXT, "rows_read": WHOLE,
        "rows_accepted": WHOLE, "rows_refused": WHOLE, "rows_repeated": WHOLE, "remark": TEXT,
    },
    "raw_refused": {
        "file": TEXT, "sheet": TEXT, "line": WHOLE, "column": TEXT, "value": TEXT, "reason": TEXT,
        "original": TEXT, "row_kept": TRUTH, "about": TEXT, "kind": TEXT, "who": TEXT,
        "athlete_id": TEXT, "noted_on": DAY, "bears_on": TEXT,
    },
    "raw_doubts": {
        "file": TEXT, "sheet": TEXT, "kind": TEXT, "message": TEXT, "is_held": TRUTH,
    },
}  # fmt: skip
DEFAULTS: dict[str, Any] = {
    "athlete_id": "A1", "name": "Ada A.", "squad": "Squad", "tested_on": date(2026, 9, 1),
    "trained_on": date(2026, 9, 1), "filmed_on": date(2026, 9, 1), "measure": "single_hop",
    "side": "left", "trial": 1, "value": 100.0, "factor": 1.0, "held": False, "value_given": "100",
    "exercise": "split_squat", "known_exercise": True, "set_number": 1, "reps": 8.0,
    "source_file": "made_up.csv", "source_sheet": "", "source_line": 2, "rows_read": 1,
    "rows_accepted": 1, "rows_refused": 0, "rows_repeated": 0, "sheet": "",
}  # fmt: skip

# Each row is in one file only, which shows its order.
ORDER = {"order_file": "source_file", "order_line": "source_line"}


def frame_of(name: str, rows: list[dict[str, Any]]) -> pl.DataFrame:
    """Literal rows as the raw table of that name."""

    def cell(row: dict[str, Any], column: str) -> Any:
        column = ORDER.get(column, column)
        return row.get(column, DEFAULTS.get(column))

    if name == "raw_decisions":
        rows = list(map(decided, rows))
    filled = [{c: cell(row, c) for c in COLUMNS[name]} for row in rows]
    return pl.DataFrame(filled, schema=COLUMNS[name])


def decided(row: dict[str, Any]) -> dict[str, Any]:
    """A row of a decision sheet as the intake reads it, from what somebody typed."""
    said = row.get("decision")
    named = day_in_name(row.get("source_file", ""))
    day = row.get("listed_on") or named or row.get("decided_on") or DEFAULTS["tested_on"]
    return {
        "said": said, "is_fresh": False, **row, "listed_on": day, "decision": decision_of(said),
        "step": step_of(said) or step_of(row.get("note")),
        "listed_decision": decision_of(row.get("listed_decision")),
    }  # fmt: skip


def warehouse(**rows: list[dict[str, Any]]) -> Warehouse:
    """A built warehouse in memory from literal rows: `warehouse(trials=[{...}], sets=[...])`.

    Athletes that rows name are on the roster unless `roster` says who is.
    """
    named = {row.get("athlete_id", "A1") for part in rows.values() for row in part}
    rows.setdefault("roster", [{"athlete_id": athlete} for athlete in sorted(named)])
    house = Warehouse()
    for name in COLUMNS:
        house.load(name, frame_of(name, rows.get(name.removeprefix("raw_"), [])))
    for name, frame in reference_frames(full_catalogue()).items():
        house.load(name, frame)
    house.build()
    return house


class Rows:
    """What intake would hand over, from literal rows."""

    def __init__(self, **rows: list[dict[str, Any]]) -> None:
        named = {row.get("athlete_id", "A1") for part in rows.values() for row in part}
        rows.setdefault("roster", [{"athlete_id": athlete} for athlete in sorted(named)])
        for name in COLUMNS:
            kind = name.removeprefix("raw_")
            setattr(self, kind, frame_of(name, rows.get(kind, [])))


def week(as_of: date, settings: Settings | None = None, **rows: list[dict[str, Any]]) -> Week:
    """Everything known at a day from literal rows, through warehouse, estimate and review."""
    intake: Any = Rows(**rows)
    return reviewed(intake, as_of, settings or Settings())


def reviewed(intake: Intake, as_of: date, settings: Settings) -> Week:
    """Everything known at a day, of all squads at once."""
    with Warehouse() as warehouse:
        stock(warehouse, raw_frames(intake), as_of, settings)
        return review(warehouse, squads_of(intake.roster), as_of, settings)


def of_kind(known: Week, kind: str) -> pl.DataFrame:
    """The flags of a kind on the list, with what their own relation says of them beside."""
    own = known.kinds[f"flag_{kind}"]
    return known.flags.filter(kind=kind).join(
        own, on=["athlete_id", "topic"], maintain_order="left", suffix="_own"
    )


def pages_of(known: Week) -> dict[str, Any]:
    """The page model of each athlete's report, by id."""
    return {who: sheet.make() for who, sheet in athlete_pages(known, blocks(known))}


def trials_of(
    measure: str, days: list[date], left: float, right: float, **more: Any
) -> list[dict[str, Any]]:
    """Three plain trials a side on each of the days, a hundredth up and down."""
    return [
        {"measure": measure, "tested_on": day, "side": side, "trial": n, "value": value, **more}
        for day in days
        for side, level in (("left", left), ("right", right))
        for n, value in enumerate((level, level * 1.01, level * 0.99), start=1)
    ]
