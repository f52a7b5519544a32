"""A small squad, quick to build: eight athletes, four test days of two tests, one week's log."""

import random
from datetime import date, timedelta
from pathlib import Path

ATHLETES = [f"BL-{number}" for number in range(1, 9)]
FIRST = date(2026, 3, 2)


def write_small_exports(folder: Path) -> Path:
    """Write the exports of the small squad; the same every time."""
    chance = random.Random(5)
    folder.mkdir(parents=True, exist_ok=True)
    people = [f"{who},Person {who},Blues" for who in ATHLETES]
    (folder / "roster.csv").write_text("\n".join(["athlete_id,name,squad", *people]) + "\n")
    lines = ["athlete_id,tested_on,test,side,trial,value,unit"]
    for week in range(4):
        day = FIRST + timedelta(days=14 * week)
        for place, who in enumerate(ATHLETES):
            for test, level in (("single_hop", 160), ("knee_to_wall", 11)):
                apart = 0.2 if place == 2 and test == "single_hop" else 0.0
                for side in ("left", "right"):
                    for trial in (1, 2, 3):
                        value = level * (1 - apart * (side == "left")) * chance.gauss(1, 0.02)
                        lines.append(f"{who},{day},{test},{side},{trial},{value:.1f},cm")
    (folder / "tests.csv").write_text("\n".join(lines) + "\n")
    log = ["athlete_id,trained_on,exercise,set_number,side,reps,load,unit"]
    for who in ATHLETES:
        for side in ("left", "right"):
            log.append(f"{who},{FIRST + timedelta(days=41)},Goblet squat,1,{side},8,16,kg")
    (folder / "log.csv").write_text("\n".join(log) + "\n")
    return folder


def contents(reports: Path) -> dict[str, bytes]:
    """Every file of a reports folder but the warehouse, by name."""
    return {
        path.relative_to(reports).as_posix(): path.read_bytes()
        for path in sorted(reports.rglob("*"))
        if path.is_file() and path.name != "warehouse.duckdb"
    }
