"""Which number a trial or set gets that its export does not number: rows written out by hand.

The rows of four people stand between each other's; nothing of one reaches another.
"""

import polars as pl
import pytest

from pipeline.intake.settle.numbering import numbered

# entry, file, value, number given (None: open), number expected
Line = tuple[int, int, float, int | None, int]
CASES: dict[str, list[Line]] = {
    "as they stand": [(0, 0, 9, None, 1), (0, 0, 7, None, 2), (0, 0, 9, None, 3)],
    "after the numbers given": [
        (0, 0, 9, None, 5), (0, 0, 7, 4, 4), (0, 0, 6, 2, 2), (0, 0, 5, None, 6),
    ],
    "the k-th of equal rows is the k-th": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2), (0, 0, 9, None, 3),
        (1, 1, 9, None, 1), (1, 1, 9, None, 3), (1, 1, 9, None, 4), (1, 1, 7, None, 2),
    ],
    "in another order": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2), (0, 0, 5, None, 3),
        (1, 1, 5, None, 3), (1, 1, 9, None, 1), (1, 1, 7, None, 2),
    ],
    "what is left over corrects in order, then is new": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2), (0, 0, 5, None, 3),
        (1, 1, 4, None, 1), (1, 1, 7, None, 2), (1, 1, 3, None, 3), (1, 1, 2, None, 4),
        (1, 1, 1, None, 5),
    ],
    "a third file is held against what stands after two": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2),
        (1, 1, 8, None, 1), (1, 1, 7, None, 2), (1, 1, 6, None, 3),
        (2, 2, 6, None, 3), (2, 2, 8, None, 1), (2, 2, 9, None, 2),
    ],
    "numbers that a file gives are not taken by its open rows": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2),
        (1, 1, 9, 2, 2), (1, 1, 7, None, 3), (1, 1, 9, None, 1),
    ],
    "an open row repeats a numbered one": [
        (0, 0, 9, 3, 3), (0, 0, 7, 5, 5), (1, 1, 7, None, 5), (1, 1, 9, None, 3),
        (1, 1, 4, None, 6),
    ],
    "a numbered file is held against an open one": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2), (1, 1, 7, 1, 1), (1, 1, 9, 2, 2),
        (2, 2, 9, None, 2), (2, 2, 6, None, 1),
    ],
    "new numbers follow the highest of both": [
        (0, 0, 9, 7, 7), (1, 1, 9, 2, 2), (1, 1, 5, None, 7), (1, 1, 4, None, 8),
    ],
    "new numbers follow those given beside them": [
        (0, 0, 9, None, 1), (1, 1, 8, 2, 2), (1, 1, 7, 5, 5), (1, 1, 9, None, 1),
        (1, 1, 6, None, 6),
    ],
    "what corrects in order goes by the numbers, not by the lines": [
        (0, 0, 9, 5, 5), (0, 0, 7, 2, 2), (1, 1, 4, None, 2), (1, 1, 3, None, 5),
    ],
    "a sheet corrects no other sheet of its file": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2), (1, 0, 8, None, 3), (1, 0, 7, None, 2),
    ],
    "but a sheet of another file does, and stands for it": [
        (0, 0, 9, None, 1), (0, 0, 7, None, 2), (1, 1, 8, None, 1), (2, 1, 6, None, 2),
        (2, 1, 5, None, 3), (3, 1, 4, None, 4),
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_open_rows_are_numbered_alike_from_file_to_file(name: str) -> None:
    ann = CASES[name]
    # Bea did each day's trials in one go: hers stand in one file, after a numbered one.
    bea: list[Line] = [(0, 0, 107, 1, 1)]
    bea += [(0, 0, 110.0 + n, None, 2 + n) for n in range(len(ann))]
    # Dee did what Ann did, and Cid as much with other values, line by line beside hers.
    lines: list[tuple[str, int, int, float, int | None, int]] = [("Bea", *line) for line in bea]
    for entry, file, value, given, wanted in ann:
        lines += [
            ("Dee", entry, file, value, given, wanted),
            ("Ann", entry, file, value, given, wanted),
            ("Cid", entry, file, value + 200, given, wanted),
        ]
    lines.sort(key=lambda one: one[1])
    schema = {"who": pl.String, "entry": pl.UInt32, "file": pl.UInt32, "value": pl.Float64,
              "trial": pl.Int64, "wanted": pl.Int64}  # fmt: skip
    rows = pl.DataFrame(lines, schema=schema, orient="row")
    found = numbered(rows, "trial", ("who",), ("value",), rows["trial"].is_null())
    assert found["trial"].to_list() == found["wanted"].to_list()
    assert found.drop("trial").equals(rows.drop("trial"))


@pytest.mark.parametrize("name", CASES)
def test_what_stands_in_the_column_of_an_open_row_does_not_matter(name: str) -> None:
    schema = {"entry": pl.UInt32, "file": pl.UInt32, "value": pl.Float64, "trial": pl.Int64,
              "wanted": pl.Int64}  # fmt: skip
    rows = pl.DataFrame(CASES[name], schema=schema, orient="row").with_columns(who=pl.lit("Ann"))
    is_open = rows["trial"].is_null()
    rows = rows.with_columns(pl.col("trial").fill_null(40))
    found = numbered(rows, "trial", ("who",), ("value",), is_open)
    assert found["trial"].to_list() == found["wanted"].to_list()


def test_rows_that_are_all_numbered_stay_as_they_are() -> None:
    rows = pl.DataFrame({"entry": [0, 1], "file": [0, 1], "value": [1.0, 2.0], "trial": [2, 2]})
    assert numbered(rows, "trial", (), ("value",), pl.Series([False, False])).equals(rows)
