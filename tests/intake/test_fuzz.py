"""Mangled files: never a crash, never a lost row, never more than two seconds for one file.

`make test` mangles 500 files; `python -m tests.intake.test_fuzz 20000` is the nightly run, and
`--minutes 60` in place of the number goes on for an hour.
"""

import argparse
import random
import re
import shutil
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path

import polars as pl
import pytest

from pipeline.intake import read_exports
from pipeline.settings import Settings
from tests.intake.exports import LONG, ROSTER, WIDE, workbook

BATCH = 25  # mangled files in one folder
FEW = 500
SECONDS = 20.0  # of processor time for one file: what has no bound takes minutes
ROWS = 12
UNREAD = ("nothing was read", "the file is empty", "no table of tests", "CSV or XLSX")
BYTES = b'\x00\n\r";,\t|\xff\xfe\x80 0159.-/aLR\xe9'


def long_rows() -> list[str]:
    return [
        f"A{row % 3 + 1},2024-03-{row + 10},single_hop,{'left' if row % 2 else 'right'},{140 + row}"
        for row in range(ROWS)
    ]


@cache
def originals() -> dict[str, bytes]:
    """Whole files of every sort, by ending."""
    long = "\n".join([LONG, *long_rows()]) + "\n"
    wide = "\n".join([WIDE, *(f"A1,2024-03-{d + 10},grip,4{d % 10},4{d % 10}" for d in range(12))])
    log = "athlete_id,trained_on,exercise,set_number,side,reps,load,note\n" + "".join(
        f'A2,2024-03-{d + 10},back squat,1,both,5,10{d % 10},"slow, {d}"\n' for d in range(12)
    )
    sheet = [LONG.split(","), *([*row.split(",")[:4], 140] for row in long_rows())]
    dated = [[*row[:1], date(2024, 3, 5), *row[2:]] if n else row for n, row in enumerate(sheet)]
    return {
        "long.csv": long.encode(),
        "german.csv": long.replace(",", ";").replace("2024-", "2024/").encode("cp1252"),
        "wide.csv": wide.encode("utf-8-sig"),
        "utf16.tsv": long.replace(",", "\t").encode("utf-16"),
        "log.csv": log.replace("\n", "\r\n").encode(),
        "roster_more.csv": ROSTER.encode(),
        "book.xlsx": workbook({"One": sheet, "Two": dated}),
    }


def mangled(data: bytes, chance: random.Random) -> bytes:
    """The bytes with one to four injuries."""
    for _ in range(chance.randint(1, 4)):
        if not data:
            return data
        start = chance.randrange(len(data))
        end = min(len(data), start + chance.choice([1, 1, 2, 5, 40, 400]))
        kind = chance.randrange(6)
        if kind == 0:
            data = data[:start] + bytes([chance.randrange(256)]) + data[start + 1 :]
        elif kind == 1:
            data = data[:start] + data[end:]
        elif kind == 2:
            data = data[:start] + bytes(chance.choices(BYTES, k=end - start)) + data[start:]
        elif kind == 3:
            data = data[:end]
        elif kind == 4:
            data = data[:end] + data[start:]
        else:
            old, new = chance.choices(BYTES, k=2)
            data = data.replace(bytes([old]), bytes([new]), chance.choice([1, 3, -1]))
    return data


def batches(count: int, seed: int) -> Iterator[dict[str, bytes]]:
    chance = random.Random(seed)
    whole = originals()
    for first in range(0, count, BATCH):
        batch: dict[str, bytes] = {}
        for number in range(first, min(first + BATCH, count)):
            name = chance.choice(sorted(whole))
            batch[f"{number:05d}_{name}"] = mangled(whole[name], chance)
        yield batch


def lost_rows(name: str, data: bytes, read: int, remark: str) -> int:
    """How many rows that the mangling left whole the account does not mention."""
    original = originals()[name.split("_", 1)[1]]
    if not name.endswith(".csv") or any(word in remark for word in UNREAD):
        return 0
    lines = original.replace(b"\r", b"").split(b"\n")
    left = data.replace(b"\r", b"").split(b"\n")
    whole = [line for line in lines[1:] if line.count(b",") + line.count(b";") > 3 and line in left]
    named = re.search(r"rows without a value, not read: (\d+)", remark)
    return max(0, len(whole) - read - (int(named[1]) if named else 0))


def check(batch: dict[str, bytes]) -> None:
    """One folder of mangled files: all accounted for, none slow."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "roster.csv").write_text(ROSTER)
        for name, data in batch.items():
            (folder / name).write_bytes(data)
        start = time.process_time()
        intake = read_exports(folder, Settings())
        seconds = time.process_time() - start
    if seconds > SECONDS and len(batch) > 1:  # slow together; is one of them slow alone?
        for name, data in batch.items():
            check({name: data})
    assert seconds < SECONDS or len(batch) > 1, f"{sorted(batch)} took {seconds:.1f} s"
    refused = dict(intake.refused.filter(~pl.col("row_kept"))["file"].value_counts().rows())
    files = intake.files.group_by("file").agg(
        *(f"rows_{part}" for part in ("read", "accepted", "refused", "repeated")), "remark"
    )
    assert set(batch) <= set(files["file"])
    for name, read, accepted, turned_away, repeated, remarks in files.rows():
        assert min(*read, *accepted, *turned_away, *repeated) >= 0, name
        assert sum(read) == sum(accepted) + sum(turned_away) + sum(repeated), name
        assert sum(turned_away) == refused.get(name, 0), name
        if name in batch:
            assert sum(read) or any(remarks), f"{name} says nothing"
            assert not lost_rows(name, batch[name], sum(read), remarks[0]), name
    assert intake.refused["reason"].str.len_chars().min() != 0


@pytest.mark.slow
def test_mangled_files_are_accounted_for_row_by_row() -> None:
    for batch in batches(FEW, seed=1):
        check(batch)


def kept(batch: dict[str, bytes], folder: Path) -> None:
    """Lay the files aside, each as it was read."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for name, data in batch.items():
        (folder / name).write_bytes(data)


def failing_alone(batch: dict[str, bytes]) -> dict[str, bytes]:
    """The files that fail without the others, or all of them if only the company fails."""
    alone = {}
    for name, data in batch.items():
        try:
            check({name: data})
        except Exception:
            alone[name] = data
    return alone or batch


def main() -> None:
    """The night run: so many files, or so many minutes; what fails lies in damaged/."""
    told = argparse.ArgumentParser()
    told.add_argument("files", type=int, nargs="?", default=sys.maxsize)
    told.add_argument("--minutes", type=float, default=float("inf"))
    told.add_argument("--seed", type=int, default=2)
    arguments = told.parse_args()
    began = time.perf_counter()
    damaged = Path("damaged")
    done = failures = 0
    for number, batch in enumerate(batches(arguments.files, arguments.seed)):
        if time.perf_counter() - began > 60 * arguments.minutes:
            break
        kept(batch, damaged / "trying")  # stays there if Python itself dies or hangs
        try:
            check(batch)
        except Exception:
            failures += 1
            kept(failing_alone(batch), damaged / f"{arguments.seed}_{number}")
            traceback.print_exc()
        done += len(batch)
        if number % 40 == 0:
            print(f"{done} files, {failures} failures", flush=True)
    shutil.rmtree(damaged / "trying", ignore_errors=True)
    seconds = time.perf_counter() - began
    print(f"{done} mangled files in {seconds:.0f} s, {failures} failures")
    sys.exit(failures > 0)


if __name__ == "__main__":
    main()
