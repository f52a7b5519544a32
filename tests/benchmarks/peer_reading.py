"""The reading half of the peer: the sample's files with pandas, each read as it is.

Plain code of somebody who knows these files: no row is checked, nothing is recognised.
"""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

CSV: list[tuple[str, bool, float, dict[str, Any]]] = [  # name, day first, into our unit, options
    ("grip_handball_lb.csv", True, 0.4536, {}),
    ("hops.csv", False, 1, {}),
    ("hops_17_november_again.csv", False, 1, {}),
    ("jump_device_export.csv", True, 1, {"sep": ";", "decimal": ",", "encoding": "cp1252"}),
    ("reach_balance.csv", False, 1, {"encoding": "utf-8-sig"}),
    ("turns_505.tsv", False, 1, {"sep": "\t"}),
]
SHEETS = [  # name, sheet, lines above the header
    ("morning_group_tape_and_range.xlsx", "Tape", 1),
    ("morning_group_tape_and_range.xlsx", "Range", 0),
    ("physio_range_of_motion.xlsx", "Handball", 2),
    ("physio_range_of_motion.xlsx", "Volleyball", 0),
    ("strength_tests.xlsx", "Knee 60", 1),
    ("strength_tests.xlsx", "Hip", 0),
    ("strength_tests.xlsx", "Eccentric hamstring", 0),
    ("strength_tests.xlsx", "Shoulder", 0),
]
LOGS: list[tuple[str, dict[str, Any]]] = [
    ("training_handball.csv", {}),
    ("training_morning_group.csv", {}),
    ("training_volleyball.csv", {"sep": ";", "decimal": ",", "encoding": "cp1252"}),
]
# Ratio or sum of two tests on the same limb.
DERIVED = {
    "Hamstring:quad ratio": ("Knee flexion 60", "/", "Knee extension 60"),
    "Hip add:abd ratio": ("Hip adduction", "/", "Hip abduction"),
    "Shoulder ER:IR ratio": ("Shoulder ER strength", "/", "Shoulder IR strength"),
    "Shoulder total arc": ("Shoulder ER ROM", "+", "Shoulder IR ROM"),
    "Hip total rotation": ("Hip external rotation", "+", "Hip internal rotation"),
    "Reach composite": ("Posteromedial reach", "+", "Posterolateral reach"),
}
LOGGED = ("rear foot elevated split squat", "single-leg romanian deadlift", "one-arm row")
KEYS = ["athlete_id", "tested_on", "test", "side", "trial"]


def read_files(exports: Path) -> pd.DataFrame:
    """file, athlete_id, tested_on, test, side, trial, value of every trial."""
    frames = []
    for name, day_first, scale, options in CSV:
        frame = _long(pd.read_csv(exports / name, **options), day_first)
        frames.append(frame.assign(value=frame["value"] * scale, file=name))
    for name, tab, skip in SHEETS:
        sheet = pd.read_excel(exports / name, sheet_name=tab, header=skip)
        frames.append(_long(sheet, day_first=False).assign(file=f"{name} {tab}"))
    trials = pd.concat(frames).dropna(subset="value")
    trials = trials[trials["side"].isin(["left", "right"])]
    return trials.drop_duplicates(KEYS, keep="last")


def _long(frame: pd.DataFrame, day_first: bool) -> pd.DataFrame:
    """Wide or long, one row a trial."""
    frame.columns = frame.columns.str.lower().str.replace(" ", "_")
    frame = frame.rename(columns={"date": "tested_on"})
    if "value" not in frame:
        wide = [name for name in frame if name.startswith(("left", "right"))]
        frame = frame.melt(["athlete_id", "tested_on", "test"], wide, var_name="side")
        frame["trial"] = frame["side"].str.extract(r"(\d+)")[0].fillna("1")
        frame["side"] = frame["side"].str.extract("(left|right)")[0]
    frame["side"] = frame["side"].str.lower().replace({"l": "left", "r": "right"})
    frame["trial"] = frame["trial"].astype(int)
    frame["tested_on"] = pd.to_datetime(frame["tested_on"], dayfirst=day_first, format="mixed")
    frame["value"] = pd.to_numeric(frame["value"], errors="coerce")
    return frame[[*KEYS, "value"]]


def read_sets(exports: Path) -> pd.DataFrame:
    """athlete_id, trained_on, exercise, side, reps, load of every set."""
    frames = [pd.read_csv(exports / name, **options) for name, options in LOGS]
    for frame in frames:
        frame.columns = frame.columns.str.lower().str.replace(" ", "_")
        frame["trained_on"] = pd.to_datetime(frame["trained_on"], dayfirst=True, format="mixed")
    sets = pd.concat(frames)
    sets["side"] = sets["side"].str.lower().replace({"l": "left", "r": "right"})
    return sets


def sessions(trials: pd.DataFrame, sets: pd.DataFrame, roster: pd.DataFrame) -> pd.DataFrame:
    """left, right, difference in percent, its 90 % interval, typical error: a row a session."""
    spread = trials.groupby(KEYS[:4])["value"].agg(["mean", "std"])
    spread["cv"] = 100 * spread["std"] / spread["mean"]
    sides = spread["mean"].unstack("side").dropna().reset_index()
    parts = sides.pivot(index=["athlete_id", "tested_on"], columns="test", values=["left", "right"])
    frames = [sides]
    for name, (one, sign, other) in DERIVED.items():
        made = pd.DataFrame(
            {
                side: parts[side][one] / parts[side][other]
                if sign == "/"
                else parts[side][one] + parts[side][other]
                for side in ("left", "right")
            }
        )
        frames.append(made.dropna().reset_index().assign(test=name))
    logged = sets[sets["exercise"].str.lower().isin(LOGGED) & sets["side"].isin(["left", "right"])]
    logged = logged.assign(best=logged["load"] * (1 + logged["reps"] / 30))
    best = logged.groupby(["athlete_id", "trained_on", "exercise", "side"])["best"].max()
    log = best.unstack("side").dropna().reset_index()
    frames.append(log.rename(columns={"trained_on": "tested_on", "exercise": "test"}))
    sides = pd.concat(frames).merge(roster[["athlete_id", "name", "squad"]], on="athlete_id")
    better = sides[["left", "right"]].max(axis=1)
    sides["difference"] = 100 * (sides["right"] - sides["left"]) / better
    error = (spread["cv"] ** 2).groupby("test").mean() ** 0.5
    sides["error"] = sides["test"].map(error).fillna(5.0) * np.sqrt(2 / 3)
    sides["low"] = sides["difference"] - 1.645 * sides["error"]
    sides["high"] = sides["difference"] + 1.645 * sides["error"]
    return sides.sort_values("tested_on")
