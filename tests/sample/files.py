"""The scenario as the files staff have: every file's bytes by its name."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from itertools import groupby
from typing import Any

from tests.sample.scenario import day_of, people, read
from tests.sample.training import sets_of
from tests.sample.trials import Trial, trials_of
from tests.sample.writers import Cell, Sheet, delimited, workbook, written_date

Row = dict[str, Any]  # our column -> cell


def sample_files() -> dict[str, bytes]:
    """Every file of the sample folder."""
    return {spec["name"]: _file(spec) for spec in read("files")["files"]}


def _file(spec: dict[str, Any]) -> bytes:
    sheets = [_sheet(entry) for entry in spec["sheets"]]
    if spec["name"].endswith(".xlsx"):
        return workbook(sheets)
    return delimited(
        sheets[0], spec["delimiter"], spec["decimal"], spec["encoding"], spec["newline"]
    )


def _sheet(spec: dict[str, Any]) -> Sheet:
    columns = spec["columns"]
    return Sheet(
        tab=spec.get("tab", ""),
        title=tuple(spec.get("title", ())),
        header=tuple(head for _, head in columns),
        rows=tuple(
            tuple(_cell(row, ours, spec) for ours, _ in columns) for row in _rows(spec["key"], spec)
        ),
    )


def _cell(row: Row, ours: str, spec: dict[str, Any]) -> Cell:
    if ours.startswith("="):
        return ours[1:]
    cell = row.get(ours)
    if isinstance(cell, date):
        return written_date(cell, spec["date"])
    if ours == "side":
        return spec.get("sides", {}).get(cell, cell)
    return None if cell == "" else cell


def _rows(key: str, spec: dict[str, Any]) -> Iterator[Row]:
    own: dict[str, Callable[[], Iterator[Row]]] = {
        "roster": roster_rows,
        "film": film_rows,
        "decisions": decision_rows,
    }
    if key in own:
        yield from own[key]()
    elif key.startswith("training_"):
        yield from set_rows(key.removeprefix("training_"))
    elif spec["layout"] == "wide":
        yield from wide_rows(key)
    else:
        yield from long_rows(key)


def roster_rows() -> Iterator[Row]:
    """One row per person; what staff never filled in stays blank."""
    for who in people():
        row = {
            "athlete_id": who.id,
            "name": who.name,
            "squad": who.squad.name,
            "sex": who.sex,
            "birth_date": who.born,
            "height_cm": who.height_cm,
            "body_mass_kg": who.body_mass_kg,
            "dominant_hand": who.hand,
            "dominant_foot": who.foot,
            "position": who.position,
            "availability": who.availability,
            "known_difference": who.known_difference,
            "known_side": who.known_side,
            "known_since": who.known_since,
        }
        if who.squad.limb_lengths:
            row |= {f"{side}_limb_length_cm": length for side, length in who.limb_cm.items()}
        yield {column: cell for column, cell in row.items() if column not in who.blank}


def long_rows(key: str) -> Iterator[Row]:
    """One row per attempt and side, slips included."""
    slips = read("meetings")["slips"]
    for trial in trials_of(key):
        row = _trial_row(trial)
        if any(_is_meant(slip, key, trial) for slip in slips["unreadable"]):
            row["value"] = next(s["text"] for s in slips["unreadable"] if _is_meant(s, key, trial))
        yield row
        if any(_is_meant(slip, key, trial) for slip in slips["twice"]):
            yield row
    for slip in slips["unknown_test"]:
        if slip["sheet"] == key:
            yield _unknown_test(slip)


def wide_rows(key: str) -> Iterator[Row]:
    """One row per person, test and day, an attempt in every column."""
    again = read("meetings")["slips"]["again"]
    trials = trials_of(again["from_sheet"] if key == again["sheet"] else key)
    for _, group in groupby(trials, key=lambda t: (t.tested_on, t.athlete, t.measure)):
        session = list(group)
        first = session[0]
        is_again = (first.athlete[:2], first.week) == (again["squad"], again["week"])
        if key == again["sheet"] and not is_again:
            continue
        row = _trial_row(replace(first, note=max(t.note for t in session)))
        row |= {f"{t.side}_{t.number}": t.value for t in session}
        is_slip = (first.athlete, first.measure) == (again["athlete"], again["measure"])
        if key == again["from_sheet"] and is_again and is_slip:
            row[again["column"]] += again["mistyped_by"]
        yield row


def set_rows(squad: str) -> Iterator[Row]:
    """One row per logged set."""
    plan = read("programme")["squads"][squad]
    labels = {
        exercise["id"]: exercise["label"]
        for session in plan["sessions"]
        for exercise in session["exercises"]
    }
    for one in sets_of(squad):
        yield {
            "athlete_id": one.athlete,
            "trained_on": one.trained_on,
            "exercise": labels[one.exercise],
            "set_number": one.number,
            "side": one.side,
            "reps": one.reps,
            "load": one.load_kg,
            "unit": "kg" if one.load_kg is not None else "",
            "order": one.order,
            "effort": one.effort,
            "tempo": one.tempo,
            "note": one.note,
        }


def film_rows() -> Iterator[Row]:
    """One row per checkpoint and side of everybody filmed."""
    film = read("meetings")["film"]
    for day in film["days"]:
        adjust = {(who, side, point): note for who, side, point, note in day["adjust"]}
        for athlete in day["athletes"]:
            for side in ("left", "right"):
                for point in film["checkpoints"]:
                    key = (athlete, side, point)
                    yield {
                        "athlete_id": athlete,
                        "filmed_on": day["on"],
                        "exercise": day["exercise"],
                        "side": side,
                        "checkpoint": point,
                        "finding": "adjust" if key in adjust else "ok",
                        "note": adjust.get(key, ""),
                    }


def decision_rows() -> Iterator[Row]:
    """What an earlier meeting decided."""
    yield from read("meetings")["decisions"]


def _trial_row(trial: Trial) -> Row:
    return {
        "athlete_id": trial.athlete,
        "tested_on": trial.tested_on,
        "test": read("tests")["measures"][trial.measure]["label"],
        "side": trial.side,
        "trial": trial.number,
        "value": trial.value,
        "unit": trial.unit,
        "pain": trial.pain,
        "note": trial.note,
    }


def _unknown_test(slip: dict[str, Any]) -> Row:
    return {
        "athlete_id": slip["athlete"],
        "tested_on": day_of(slip["week"], 0),
        "test": slip["label"],
        "side": slip["side"],
        "trial": 1,
        "value": slip["value"],
        "unit": slip["unit"],
    }


def _is_meant(slip: dict[str, Any], sheet: str, trial: Trial) -> bool:
    meant = (slip["sheet"], slip["athlete"], slip["week"], slip["measure"], slip["side"])
    found = (sheet, trial.athlete, trial.week, trial.measure, trial.side)
    return meant == found and slip["trial"] == trial.number
