"""Keys of rows, and the version that stands of rows of one key, against plain Python."""

import random
from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.intake.settle.versions import dense_key, settle_versions

SPANS = (2, 33, 34, 5_000, 65_536, 65_537, 1 << 31, 1 << 40)
COLUMNS: dict[str, Any] = {
    "number": pl.Int64, "small": pl.UInt8, "day": pl.Date, "text": pl.String, "figure": pl.Float64,
    "truth": pl.Boolean,
}  # fmt: skip


def column(dice: random.Random, kind: str, height: int) -> pl.Series:
    """A column of few or many different values, perhaps with blanks."""
    low, span = dice.choice((-(1 << 40), -7, 0, 3)), dice.choice(SPANS)
    made = {
        "number": lambda: low + dice.choice((0, span - 1, dice.randrange(span))),
        "small": lambda: dice.randrange(256),
        "day": lambda: date(1960, 1, 1) + timedelta(dice.randrange(30_000)),
        "text": lambda: dice.choice("abcdefgh"),
        "figure": lambda: dice.randrange(20) / 4,
        "truth": lambda: dice.random() < 0.5,
    }[kind]
    values = [made() for _ in range(dice.randint(1, height))]
    values += [None] if dice.random() < 0.4 else []
    return pl.Series([dice.choice(values) for _ in range(height)], dtype=COLUMNS[kind])


@pytest.mark.parametrize("seed", range(40))
def test_keys_are_equal_where_all_columns_are_and_below_their_number(seed: int) -> None:
    dice = random.Random(seed)
    for _ in range(10):
        height = dice.choice((1, 2, 7, 60, 300))
        kinds = dice.choices(list(COLUMNS), k=dice.randint(1, 7))
        frame = pl.DataFrame(
            [column(dice, kind, height).alias(str(place)) for place, kind in enumerate(kinds)]
        )
        keys, size = dense_key(frame, frame.columns)
        rows, found = frame.rows(), keys.to_list()
        assert len(set(found)) == len(set(rows)) == len(set(zip(found, rows, strict=True)))
        assert max(found) < size


def test_days_and_numbers_that_span_more_than_a_key_holds_are_still_told_apart() -> None:
    far = [0, 1 << 40, 5, 1 << 40, 0, 5]
    frame = pl.DataFrame({"a": far, "b": far[::-1], "c": far, "d": [1, 1, 2, 2, 1, 2]})
    keys, size = dense_key(frame, frame.columns)
    rows = frame.rows()
    assert [[rows[i] == rows[j] for j in range(6)] for i in range(6)] == [
        [keys[i] == keys[j] for j in range(6)] for i in range(6)
    ]
    assert max(keys) < size


def test_no_rows_have_no_keys() -> None:
    keys, _ = dense_key(pl.DataFrame(schema=COLUMNS), list(COLUMNS))
    assert keys.to_list() == []


Row = tuple[int, str, str, int | None, str | None, bool]  # row, who, side, value, note, has_note


def settled(rows: list[Row]) -> tuple[list[Row], list[int], list[tuple[int, int]]]:
    """The versions that stand, rows that only repeat, corrections: what settle_versions says."""
    standing: dict[tuple[str, str], Row] = {}
    last_note: dict[tuple[str, str], str | None] = {}
    corrections, repeats = [], []
    for row, who, side, value, note, has_note in sorted(rows, key=lambda one: one[0]):
        key = (who, side)
        last_note[key] = note = note if has_note else last_note.get(key)
        before = standing.get(key)
        if before and before[3:5] == (value, note):
            repeats.append(row)
            continue
        if before:
            corrections.append((row, before[0]))
        standing[key] = (row, who, side, value, note, has_note)
    parts = [row for row, *_ in rows]
    whole = sorted(row for row in set(repeats) if repeats.count(row) == parts.count(row))
    return sorted(standing.values()), whole, sorted(corrections)


@pytest.mark.parametrize("seed", range(60))
def test_the_last_of_different_rows_of_a_key_stands_and_the_first_of_equal_ones(seed: int) -> None:
    dice = random.Random(seed)
    height, people = dice.randint(1, 40), "ABCDE"[: dice.randint(1, 5)]
    rows: list[Row] = []
    for number in range(height):  # of which some hold a side each
        for side in dice.choice((["left"], ["right"], ["left", "right"])):
            has_note = dice.random() < 0.6
            note = dice.choice(["sore", "fine", None]) if has_note else None
            value = dice.choice([1, 2, 2, None])
            rows.append((3 * number, dice.choice(people), side, value, note, has_note))
    schema = {"row": pl.UInt32, "who": pl.String, "side": pl.String, "value": pl.Int64,
              "note": pl.String, "has_note": pl.Boolean}  # fmt: skip
    dice.shuffle(rows)
    frame = pl.DataFrame(rows, schema=schema, orient="row")
    far = pl.col("who").replace_strict({who: n << 40 for n, who in enumerate("ABCDE")})
    # Keys that span more than there are rows are told apart in another way.
    key = dice.choice(("who", "far"))
    given = frame.with_columns(far.alias("far"))
    found = settle_versions(given, (key, "side"), ("value", "note"), {"note": "has_note"})
    pairs = found.corrections.select("later", "earlier")
    wanted = settled(rows)
    assert (
        sorted(found.rows.select(frame.columns).rows()),
        found.repeated.to_list(),
        sorted(pairs.rows()),
    ) == wanted
