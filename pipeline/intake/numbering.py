"""Numbers for trials and sets that an export does not number, alike from file to file.

Inside one file they are numbered as they stand. Of a later file that holds the same day again,
the k-th of equal rows is the k-th of the earlier ones; what is left over corrects, in its order,
what is left over there, and is new where nothing is.
"""

from collections.abc import Iterator, Sequence

import polars as pl

from pipeline.intake.versions import dense_key

Row = tuple[int, int, int, int, bool, int, int]
ROW = ("place", "group", "entry", "file", "is_open", "number", "value")
Standing = dict[int, tuple[int, int]]  # value, and file it is from, of each number of a group


def numbered(
    rows: pl.DataFrame, number: str, group: Sequence[str], value: Sequence[str], is_open: pl.Series
) -> pl.DataFrame:
    """The rows with a number in the column `number` (Int64) for each that is open.

    Rows of one `entry` (a file, or a sheet of one) and `group` belong together (a side of a test
    on one day); `is_open` (Boolean) says which of them the export does not number, whatever stands
    in the column; they come after the numbers it gives. `value` names the columns in which equal
    rows are equal. A sheet corrects no other sheet of its own `file`.
    """
    if not is_open.any():
        return rows
    inside = dense_key(rows, ("entry", *group))[0]
    frame = rows.select(
        "entry",
        "file",
        *value,
        inside=inside,
        is_open=is_open,
        given=pl.when(~is_open).then(number),
    )
    place = pl.col("is_open").cast(pl.Int64).cum_sum().over("inside")
    after = pl.col("given").max().over("inside").fill_null(0) if not is_open.all() else pl.lit(0)
    numbers = frame.select(pl.coalesce("given", after + place).alias(number)).to_series()
    if rows["entry"].n_unique() > 1:
        frame = frame.with_columns(
            numbers.alias("number"), dense_key(rows, group)[0].alias("group")
        )
        numbers = _alike_across_files(frame.with_row_index("place"), value, numbers)
    return rows.with_columns(numbers.alias(number))


def _alike_across_files(frame: pl.DataFrame, value: Sequence[str], numbers: pl.Series) -> pl.Series:
    groups = _unlike_groups(frame, value)
    if groups.is_empty():
        return numbers
    unlike = frame.filter(pl.col("group").is_in(groups.implode()))
    unlike = unlike.with_columns(dense_key(unlike, value)[0].alias("value"))
    matched = dict(_matched(unlike))
    places = pl.Series(list(matched), dtype=pl.UInt32)
    return numbers.scatter(places, pl.Series(list(matched.values()), dtype=pl.Int64))


def _unlike_groups(frame: pl.DataFrame, value: Sequence[str]) -> pl.Series:
    """Groups with open rows that stand in several files and not in each of them the same way."""
    repeated = (
        frame.group_by("group")
        .agg(pl.col("entry").n_unique().alias("entries"), pl.col("is_open").any())
        .filter(pl.col("is_open") & (pl.col("entries") > 1))
        .drop("is_open")
    )
    shared = (
        frame.join(repeated, on="group")
        .group_by("group", "number", *value)
        .agg(pl.col("entry").n_unique().alias("in_entries"), pl.col("entries").first())
    )
    return shared.filter(pl.col("in_entries") < pl.col("entries"))["group"].unique()


def _matched(unlike: pl.DataFrame) -> Iterator[tuple[int, int]]:
    """Place and number of the open rows of these groups, entry by entry against those before."""
    rows: list[Row] = unlike.sort("group", "entry", "place").select(ROW).rows()
    standing: Standing = {}
    start = 0
    while start < len(rows):
        end = start
        while end < len(rows) and rows[end][1:3] == rows[start][1:3]:
            end += 1
        if start == 0 or rows[start - 1][1] != rows[start][1]:
            standing = {}
        yield from _against(standing, rows[start:end])
        start = end


def _against(standing: Standing, rows: Sequence[Row]) -> Iterator[tuple[int, int]]:
    """Place and number of the open rows of one entry and group; `standing` then holds them all."""
    file = rows[0][3]
    given = {number: (value, file) for *_, is_open, number, value in rows if not is_open}
    free = [number for number in sorted(standing) if number not in given]
    twins: dict[int, list[int]] = {}
    for number in reversed(free):
        twins.setdefault(standing[number][0], []).append(number)
    left: list[tuple[int, int]] = []
    found: list[tuple[int, int, int]] = []
    for place, *_, is_open, _, value in rows:
        if is_open and twins.get(value):
            found.append((place, twins[value].pop(), value))
        elif is_open:
            left.append((place, value))
    taken = {number for _, number, _ in found}
    rest = iter([n for n in free if n not in taken and standing[n][1] != file])
    highest = max((*standing, *given), default=0)
    for place, value in left:
        number = next(rest, highest + 1)
        highest = max(highest, number)
        found.append((place, number, value))
    standing |= given
    for place, number, value in found:
        standing[number] = (value, file)
        yield place, number
