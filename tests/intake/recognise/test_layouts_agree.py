"""The same side tests written long, wide and with a column for each test and side."""

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from pipeline.catalogue import catalogue
from tests.intake.exports import ROSTER, built, listed

DAY, LATER = "2024-03-05", "2024-03-12"
MEASURES = list(catalogue().measures.values())
Trial = tuple[str, str, str, str, int, float]


def trials() -> Iterator[Trial]:
    """Every test with sides of two athletes on two days, two trials a side, no two values alike."""
    for place, measure in enumerate(MEASURES):
        if measure.kind == "whole_body":
            continue
        for who, level in (("A1", 0.93), ("A2", 1.04)):
            for day, drift in ((DAY, 0.0), (LATER, 0.013)):
                for side, apart in (("left", -0.02), ("right", 0.017 + place % 7 / 100)):
                    for trial in (1, 2):
                        factor = level + drift + apart + trial / 300
                        value = round(measure.expected_men[0] * factor, 4)
                        yield who, day, measure.id, side, trial, value


def table(header: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([header, *rows])
    return text.getvalue()


def spelled(names: Sequence[str], number: int) -> str:
    return names[number % len(names)]


def layouts() -> dict[str, str]:
    """The same trials in a long table, a wide one and one with a column for each test and side."""
    found = list(trials())
    wide: dict[tuple[str, str, str], dict[tuple[str, int], float]] = {}
    columns: dict[tuple[str, str], dict[str, float]] = {}
    for number, (who, day, measure, side, trial, value) in enumerate(found):
        wide.setdefault((who, day, measure), {})[side, trial] = value
        known = catalogue().measures[measure]
        name = spelled([measure, known.name, known.short, *known.synonyms], trial + len(side))
        short = {"left": ["left", "L"], "right": ["Right", "r"]}[side][trial % 2]
        header = f"{name} {short} {trial}" if number % 2 else f"{short} {name} trial {trial}"
        columns.setdefault((who, day), {})[header] = value
    sides = [(side, trial) for side in ("left", "right") for trial in (1, 2)]
    headers = list(dict.fromkeys(header for row in columns.values() for header in row))
    return {
        "long": table(["athlete_id", "tested_on", "test", "side", "trial", "value"], found),
        "wide": table(
            ["athlete_id", "tested_on", "test", *(f"{side}_{trial}" for side, trial in sides)],
            [[*key, *(row[at] for at in sides)] for key, row in wide.items()],
        ),
        "columns": table(
            ["athlete_id", "tested_on", *headers],
            [[*key, *(row.get(header, "") for header in headers)] for key, row in columns.items()],
        ),
    }


def test_the_same_tests_in_any_layout_give_the_same_asymmetries(tmp_path: Path) -> None:
    found: dict[str, str] = {}
    for layout, text in layouts().items():
        reports = built(tmp_path / layout, {"roster.csv": ROSTER, "t.csv": text}, "--strict")
        found[layout] = (reports / "asymmetries.csv").read_text()
    assert found["wide"] == found["long"]
    assert found["columns"] == found["long"]
    rows = listed(tmp_path / "long" / "reports", "asymmetries")
    sided = {measure.id for measure in MEASURES if measure.kind != "whole_body"}
    assert {(row["athlete_id"], row["measure"]) for row in rows} >= {
        (who, measure) for who in ("A1", "A2") for measure in sided
    }
