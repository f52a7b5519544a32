"""What makes two rows of a kind two, and what makes one a version of the other, column by column.

Bea's row lies in every file and is never touched: nothing of Ann's may reach her.
"""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import polars as pl
import pytest

from pipeline.intake import Intake
from tests.intake.exports import counts, intake_of

Cells = dict[str, str]
# Of each kind a row of Ann's, and another cell for each of its columns.
ROWS: dict[str, Cells] = {
    "trials": {"athlete_id": "A1", "tested_on": "2024-03-05", "test": "single_hop", "side": "left",
               "trial": "1", "value": "145", "pain": "3", "note": "wet"},
    "sets": {"athlete_id": "A1", "trained_on": "2024-03-05", "exercise": "split squat",
             "side": "left", "set_number": "1", "reps": "8", "load": "20", "rir": "2",
             "tempo": "3-1-1", "order": "4", "pain": "3", "note": "slow"},
    "film": {"athlete_id": "A1", "filmed_on": "2024-03-05", "exercise": "lunge", "side": "left",
             "checkpoint": "knee", "finding": "ok", "note": "from the front"},
    "decisions": {"flag_id": "A1.single_hop.confirmed", "listed_on": "2024-03-05",
                  "decision": "train", "owner": "Jo", "review_on": "2024-05-01", "note": "later",
                  "decided_on": "2024-03-06"},
    "roster": {"athlete_id": "A1", "name": "Ann Berg", "squad": "Club", "measured_on": "2024-03-05",
               "sex": "female", "birth_date": "1998-12-31", "height_cm": "170",
               "body_mass_kg": "64", "dominant_hand": "left", "dominant_foot": "right",
               "position": "wing", "availability": "full", "known_difference": "leg length",
               "known_side": "left", "known_since": "2020-01-01", "left_limb_length_cm": "90",
               "right_limb_length_cm": "91"},
}  # fmt: skip
OTHERS: dict[str, Cells] = {
    "trials": {"athlete_id": "A3", "tested_on": "2024-03-06", "test": "triple_hop",
               "side": "right", "trial": "2", "value": "146", "pain": "4", "note": "dry"},
    "sets": {"athlete_id": "A3", "trained_on": "2024-03-06", "exercise": "step-up",
             "side": "right", "set_number": "2", "reps": "9", "load": "21", "rir": "1",
             "tempo": "2-1-1", "order": "5", "pain": "4", "note": "fast"},
    "film": {"athlete_id": "A3", "filmed_on": "2024-03-06", "exercise": "squat", "side": "right",
             "checkpoint": "trunk", "finding": "adjust", "note": "from behind"},
    "decisions": {"flag_id": "A3.single_hop.confirmed", "listed_on": "2024-03-12",
                  "decision": "wait", "owner": "Kim", "review_on": "2024-06-01", "note": "sooner",
                  "decided_on": "2024-03-07"},
    "roster": {"athlete_id": "A3", "name": "Ann B. Berg", "squad": "Gym",
               "measured_on": "2024-03-06", "sex": "male", "birth_date": "1999-12-31",
               "height_cm": "171", "body_mass_kg": "65", "dominant_hand": "right",
               "dominant_foot": "left", "position": "back", "availability": "out",
               "known_difference": "scoliosis", "known_side": "right",
               "known_since": "2021-01-01", "left_limb_length_cm": "92",
               "right_limb_length_cm": "93"},
}  # fmt: skip
KEYS = {
    "trials": ("athlete_id", "tested_on", "test", "side", "trial"),
    "sets": ("athlete_id", "trained_on", "exercise", "side", "set_number"),
    "film": ("athlete_id", "filmed_on", "exercise", "side", "checkpoint"),
    "decisions": ("flag_id", "listed_on"),
}
MAY_LACK = {
    "trials": ("pain", "note"),
    "sets": ("load", "rir", "tempo", "order", "pain", "note"),
    "roster": [name for name in ROWS["roster"] if name not in ("athlete_id", "name", "squad",
                                                             "measured_on")],
}  # fmt: skip
VERSIONS = [(kind, name) for kind in ROWS for name in ROWS[kind]
            if name not in (*KEYS.get(kind, ()), "athlete_id", "measured_on")]  # fmt: skip


def bea(kind: str) -> Cells:
    """A row of somebody else, with other cells in every column."""
    row = ROWS[kind] | {"note": "hers"} | OTHERS[kind]
    return {
        name: {"athlete_id": "A2", "flag_id": "A2.single_hop.confirmed", "name": "Bea Holm"}.get(
            name, cell
        )
        for name, cell in row.items()
        if name in ROWS[kind]
    }


def text(*rows: Cells) -> str:
    return "\n".join([",".join(rows[0]), *(",".join(row.values()) for row in rows)]) + "\n"


def read(folder: Path, kind: str, *files: str) -> Intake:
    name = "roster" if kind == "roster" else "f"
    return intake_of(folder, {f"{name} {n}.csv": text for n, text in enumerate(files)})


def rows_of(intake: Intake, kind: str) -> list[dict[str, Any]]:
    """What stands, without where it was read."""
    frame: pl.DataFrame = getattr(intake, kind)
    sources = [name for name in frame.columns if name.startswith("source_")]
    who = "flag_id" if kind == "decisions" else "athlete_id"
    return frame.drop(sources).with_columns(pl.col(pl.Categorical).cast(pl.String)).sort(
        pl.col(who).cast(pl.String)
    ).to_dicts()  # fmt: skip


def alone(kind: str, *rows: Cells) -> list[dict[str, Any]]:
    """What stands of these rows where nothing else was ever dropped."""
    return [row for one in rows for row in _alone(kind, text(one))]


@cache
def _alone(kind: str, file: str) -> list[dict[str, Any]]:
    with TemporaryDirectory() as folder:
        return rows_of(read(Path(folder), kind, file), kind)


@pytest.mark.parametrize(("kind", "name"), [(kind, name) for kind in KEYS for name in KEYS[kind]])
def test_rows_that_differ_in_one_column_of_their_key_both_stand(
    kind: str, name: str, tmp_path: Path
) -> None:
    ann = ROWS[kind]
    value = {"trials": "value", "sets": "reps", "film": "finding", "decisions": "decision"}[kind]
    other = ann | {name: OTHERS[kind][name], value: OTHERS[kind][value]}
    intake = read(tmp_path, kind, text(ann, bea(kind)), text(other, bea(kind)))
    wanted = alone(kind, ann, bea(kind), other)
    assert sorted(map(repr, rows_of(intake, kind))) == sorted(map(repr, wanted))
    assert counts(intake, "f 1.csv") == (2, 1, 0, 1)


@pytest.mark.parametrize(("kind", "name"), VERSIONS)
def test_a_later_row_with_another_cell_is_the_version_that_stands(
    kind: str, name: str, tmp_path: Path
) -> None:
    later = ROWS[kind] | {name: OTHERS[kind][name]}
    intake = read(tmp_path, kind, text(ROWS[kind], bea(kind)), text(later, bea(kind)))
    assert rows_of(intake, kind) == alone(kind, later, bea(kind))
    file = "roster 1.csv" if kind == "roster" else "f 1.csv"
    assert counts(intake, file) == (2, 1, 0, 1)


@pytest.mark.parametrize(("kind", "name"), [(kind, n) for kind in MAY_LACK for n in MAY_LACK[kind]])
def test_what_a_later_file_has_no_column_for_stays_and_a_blank_cell_goes(
    kind: str, name: str, tmp_path: Path
) -> None:
    other = next(n for k, n in VERSIONS if k == kind and n not in (name, "name", "availability"))
    ann, hers = ROWS[kind], bea(kind)
    changed = ann | {other: OTHERS[kind][other]}
    for case in ("lacking", "blank"):
        (tmp_path / case).mkdir()
        later = [dict(row) for row in (hers, changed)]
        for row in later:
            row[name] = ""
            if case == "lacking":
                del row[name]
        found = rows_of(read(tmp_path / case, kind, text(ann, hers), text(*later)), kind)
        stays = (changed, hers) if case == "lacking" else (changed | {name: ""}, hers | {name: ""})
        assert found == alone(kind, *stays)


ASKED = [(kind, "pain", name) for kind in ("trials", "sets") for name in (None, *KEYS[kind])]


@pytest.mark.parametrize(
    ("kind", "column", "name"),
    [*ASKED, ("roster", "availability", None), ("roster", "availability", "athlete_id")],
)
def test_a_cell_nobody_can_read_is_asked_about_until_a_row_of_the_same_key_says_it(
    kind: str, column: str, name: str | None, tmp_path: Path
) -> None:
    unread = ROWS[kind] | {column: "tbc"}
    later = ROWS[kind] | ({name: OTHERS[kind][name]} if name else {})
    hers = bea(kind) | {column: "tbc", "note": "tbc"}
    hers = {cell: hers[cell] for cell in ROWS[kind]}
    files = text(hers, unread), text(later)
    refused = read(tmp_path, kind, *files).refused.filter(about=column)
    assert refused.select("line", "who", "bears_on").rows() == [
        (2, "A2", column), (3, "A1", column if name else None),
    ]  # fmt: skip
