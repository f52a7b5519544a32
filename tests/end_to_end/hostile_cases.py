"""Weeks made to do harm: any text column with any payload, any container with any lie.

`make test` tries 300; `python -m tests.end_to_end.hostile_cases 20000` is the run by hand, which
prints every page's source, too. Memory is measured by the parent of the process that reads.
"""

import argparse
import csv
import os
import random
import re
import subprocess
import sys
import tempfile
import time
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path

import polars as pl

from pipeline.control_characters import TURNING
from tests.conftest import built
from tests.end_to_end.hostile_containers import containers
from tests.test_architecture import ROOT

A_WEEK = 50  # text cases of one week
MOST_MIB = 1536
# A process begins with the most memory its parent ever had, which is no little for one that tests:
# this small one stands between and says what the one that reads has used.
MEASURED = """
import os, subprocess, sys
child = subprocess.Popen(sys.argv[1:])
_, status, used = os.wait4(child.pid, 0)
print(used.ru_maxrss, used.ru_utime + used.ru_stime, flush=True)
sys.exit(abs(os.waitstatus_to_exitcode(status)))
"""
SECONDS = 60.0  # of processor time for one folder of containers
FORMULA = re.compile(r"(?:^|[;\t\r\n])\s*[=+\-@＝＋－＠](?![0-9][0-9.,]*\s*(?:[;\t\r\n]|$))")
COLUMNS = {
    "roster": ("athlete_id", "name", "squad", "position", "known_difference", "sex", "birth_date",
               "availability", "dominant_hand"),
    "tests": ("tested_on", "test", "side", "trial", "value", "unit", "pain", "note"),
    "log": ("exercise", "set_number", "reps", "load", "unit", "tempo", "rir", "pain", "note"),
    "film": ("exercise", "checkpoint", "finding", "note"),
    "decisions": ("flag_id", "decision", "owner", "review_on", "note"),
}  # fmt: skip
PLAIN = {
    "roster": {"name": "Person", "squad": "Blues", "position": "wing", "known_difference": "",
               "sex": "", "birth_date": "", "availability": "full", "dominant_hand": "right"},
    "tests": {"tested_on": "2026-03-02", "test": "single_hop", "side": "left", "trial": "1",
              "value": "150", "unit": "cm", "pain": "", "note": ""},
    "log": {"trained_on": "2026-03-02", "exercise": "Goblet squat", "set_number": "1",
            "side": "left", "reps": "8", "load": "16", "unit": "kg", "tempo": "", "rir": "",
            "pain": "", "note": ""},
    "film": {"filmed_on": "2026-03-02", "exercise": "Split squat", "side": "left",
             "checkpoint": "knee", "finding": "adjust", "note": ""},
    "decisions": {"flag_id": "", "decision": "wait", "owner": "Eve", "review_on": "", "note": ""},
}  # fmt: skip
PAYLOADS: dict[str, Callable[[random.Random], str]] = {
    "turned": lambda c: f"x{c.choice(TURNING)}evil{c.choice(TURNING)} 7",
    "right to left": lambda c: c.choice(["יוסף בן-דוד 7", "محمد علي (2)", "א", "x שם y"]),
    "unseen": lambda c: "A" + c.choice("\u200b\u200d\u00ad\ufeff\u2060\u3164") + "1",
    "formula": lambda c: c.choice(["=1+1", " =1", "\t@A1", "x;=1+1", "-2+3", "＝1", "a\n=1"]),
    "markup": lambda c: c.choice(["<script>", "</style>", "&#x202e;", "{{ 7*7 }}", "{% raw %}"]),
    "controls": lambda c: "".join(chr(c.randrange(1, 32)) for _ in range(c.randrange(1, 9))) + "z",
    "long": lambda c: c.choice("wא王- ́") * c.choice([119, 120, 121, 2_001, 8_000, 32_767]),
    "long words": lambda c: "pain left " * c.choice([30, 300, 3_000]),
    "marks": lambda c: "e" + "\u0301" * c.choice([3, 300]),
    "paths": lambda c: c.choice(["../../x", "/etc/passwd", "a/b", "CON", "..", ".", "~", "C:\\x"]),
    "quotes": lambda c: c.choice(['"', '"""', "''", '",",', "\\", '"\n"']),
    "alike": lambda c: c.choice(["А1", "ΑB", "ｆｕｌｌ", "İ", "ﬁ", "ß", "ſ"]),
    "numbers": lambda c: c.choice(["1e999", "nan", "-0", "9" * 400, "1,5.2", "٣", "Ⅷ", "½"]),
    "planes": lambda c: c.choice(["👩‍👩‍👧", "\U000e0041", "\U0010ffff", "\ufffd", "🏴"]),
}  # fmt: skip


def text_cases(count: int, seed: int) -> Iterator[list[tuple[str, str, str]]]:
    """Weeks of cases: kind of export, column, payload."""
    chance = random.Random(seed)
    places = [(kind, column) for kind, columns in COLUMNS.items() for column in columns]
    for first in range(0, count, A_WEEK):
        yield [
            (*chance.choice(places), chance.choice([*PAYLOADS.values()])(chance))
            for _ in range(min(A_WEEK, count - first))
        ]


def write_week(folder: Path, cases: list[tuple[str, str, str]]) -> None:
    """Exports of one athlete a case, and one beside them of whom all is plain."""
    folder.mkdir(parents=True)
    rows: dict[str, list[dict[str, str]]] = {kind: [] for kind in PLAIN}
    for number, (kind, column, payload) in enumerate([*cases, ("", "", "")]):
        for each, plain in PLAIN.items():
            row = {"athlete_id": f"Q{number:02d}", **plain}
            if each == "decisions":
                row["flag_id"] = f"Q{number:02d}.single_hop.retest"
                row.pop("athlete_id")
            if each == "roster":
                row["name"] = f"Person {number}"
            if each == kind:
                row[column] = payload
            rows[each].append(row)
            if each == "tests":
                rows[each].append({**row, "side": "right", "note": ""})
    for kind, listed in rows.items():
        with (folder / f"{kind}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, listed[0])
            writer.writeheader()
            writer.writerows(listed)


def check_week(cases: list[tuple[str, str, str]], place: Path, *, pages: bool = False) -> None:
    """One week built: everybody else is there, and no cell of a table or page does harm."""
    write_week(place / "exports", cases)
    built(place / "exports", place / "reports", skip_pdf=not pages)
    found = pl.read_csv(place / "reports" / "asymmetries.csv", infer_schema=False)
    untouched = {
        f"Q{n:02d}" for n, (kind, *_) in enumerate(cases) if kind not in ("roster", "tests")
    }
    assert untouched | {f"Q{len(cases):02d}"} <= set(found["athlete_id"])
    files = pl.read_csv(place / "reports" / "intake.csv")
    counts = files.select(pl.col("^rows_.*$").sum()).row(0, named=True)
    assert counts["rows_read"] == sum(counts.values()) - counts["rows_read"], counts
    for path in (place / "reports").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.reader(file):
                for cell in row:
                    assert not FORMULA.search(cell) or re.fullmatch(r"-?[0-9.]+(e-?\d+)?", cell), (
                        cell
                    )
                    unseen = [
                        c for c in cell if unicodedata.category(c) == "Cc" and c not in "\n\t"
                    ]
                    assert not unseen, (path.name, cell[:80])
                    assert not set(cell) & set(TURNING), (path.name, cell[:80])


def check_folder(files: dict[str, bytes], place: Path) -> None:
    """One folder read by a process of its own: every file told of, little memory, no traceback."""
    place.mkdir(parents=True, exist_ok=True)
    (place / "roster.csv").write_text("athlete_id,name,squad\nQ1,Ann,Blues\n")
    for name, data in files.items():
        (place / name).write_bytes(data)
    check = [sys.executable, "-m", "pipeline", "check", "--exports", str(place)]
    child = subprocess.run(
        [sys.executable, "-c", MEASURED, *check], cwd=ROOT, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True, env={**os.environ, "COLUMNS": "300"},
    )  # fmt: skip
    said, _, used = child.stdout.rstrip("\n").rpartition("\n")
    assert child.returncode == 0, said[-2_000:]
    assert "Traceback" not in said
    for name in files:
        assert name in said, name
    most, seconds = map(float, used.split())
    mib = most / (1 << 20 if sys.platform == "darwin" else 1 << 10)
    assert mib < MOST_MIB, f"{mib:.0f} MiB"
    assert seconds < SECONDS, f"{seconds:.0f} s"


def main() -> None:
    """The run by hand: a third of the cases are containers; what fails is kept."""
    told = argparse.ArgumentParser()
    told.add_argument("cases", type=int)
    told.add_argument("--seed", type=int, default=2)
    told.add_argument("--pages", action="store_true", help="make the PDFs of every week, too")
    asked = told.parse_args()
    began, failures, done = time.perf_counter(), 0, 0
    kept = Path("damaged")
    for files in containers(asked.cases // 3, asked.seed):
        with tempfile.TemporaryDirectory() as place:
            failures += _tried(lambda f=files, p=place: check_folder(f, Path(p)), kept, files)
        done += len(files)
        print(f"{done} cases, {failures} failures", flush=True)
    for cases in text_cases(asked.cases - asked.cases // 3, asked.seed):
        with tempfile.TemporaryDirectory() as place:
            failures += _tried(
                lambda c=cases, p=place: check_week(c, Path(p), pages=asked.pages), kept, {}
            )
        done += len(cases)
        print(f"{done} cases, {failures} failures", flush=True)
    print(f"{done} cases in {time.perf_counter() - began:.0f} s, {failures} failures")
    sys.exit(failures > 0)


def _tried(check: Callable[[], None], kept: Path, files: dict[str, bytes]) -> int:
    try:
        check()
    except Exception:
        import traceback

        traceback.print_exc()
        folder = kept / f"hostile_{time.time_ns()}"
        folder.mkdir(parents=True)
        for name, data in files.items():
            (folder / name).write_bytes(data)
        return 1
    return 0


if __name__ == "__main__":
    main()
