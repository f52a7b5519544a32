"""Numbers for trials and sets that an export does not number, alike from file to file.

Inside one file they are numbered as they stand. Of a later file that holds the same day again,
the k-th of equal rows is the k-th of the earlier ones; what is left over corrects, in its order,
what is left over there, and is new where nothing is.
"""

from collections.abc import Iterator, Sequence

import polars as pl

from pipeline.intake.settle.versions import dense_key

Row = tuple[int, int, int, int, bool, int, tuple[int, int]]
ROW = ("place", "group", "entry", "file", "is_open", "number")
# Of each number of a group: what its row says with its value, its value alone, and its file.
Standing = dict[int, tuple[tuple[int, int], int]]


def numbered(
    rows: pl.DataFrame,
    number: str,
    group: Sequence[str],
    value: Sequence[str],
    is_open: pl.Series,
    said: Sequence[str] = (),
) -> pl.DataFrame:
    """The rows with a number in the column `number` (Int64) for each that is open.

    Rows of one `entry` (a file, or a sheet of one) and `group` belong together (a side of a test
    on one day); `is_open` (Boolean) says which of them the export does not number, whatever stands
    in the column; they come after the numbers it gives. `value` names the columns in which equal
    rows are equal; of several, the one that is equal in those of `said`, too, is meant, as an
    export may lack them. A sheet corrects no other sheet of its own `file`.
    """
    if not is_open.any():
        return rows
    inside = dense_key(rows, ("entry", *group))[0]
    frame = rows.select(
        "entry",
        "file",
        *value,
        *said,
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
        numbers = _alike_across_files(frame.with_row_index("place"), value, said, numbers)
    return rows.with_columns(numbers.alias(number))


def _alike_across_files(
    frame: pl.DataFrame, value: Sequence[str], said: Sequence[str], numbers: pl.Series
) -> pl.Series:
    groups = _unlike_groups(frame, (*value, *said))
    if groups.is_empty():
        return numbers
    unlike = frame.filter(pl.col("group").is_in(groups.implode()))
    alike = [dense_key(unlike, names)[0].to_list() for names in ((*value, *said), value)]
    matched = dict(_matched(unlike.with_columns(pl.Series("alike", zip(*alike, strict=True)))))
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
    rows: list[Row] = unlike.sort("group", "entry", "place").select(*ROW, "alike").rows()
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
    given = {number: (alike, file) for *_, is_open, number, alike in rows if not is_open}
    free = [number for number in sorted(standing) if number not in given]
    left = [(place, alike) for place, *_, is_open, _, alike in rows if is_open]
    found: list[tuple[int, int, tuple[int, int]]] = []
    for way in (0, 1):  # equal in all they say, then in their values
        twins: dict[int, list[int]] = {}
        for number in reversed(free):
            twins.setdefault(standing[number][0][way], []).append(number)
        rest: list[tuple[int, tuple[int, int]]] = []
        for place, alike in left:
            if twins.get(alike[way]):
                found.append((place, twins[alike[way]].pop(), alike))
            else:
                rest.append((place, alike))
        taken = {number for _, number, _ in found}
        free, left = [number for number in free if number not in taken], rest
    others = iter([number for number in free if standing[number][1] != file])
    highest = max((*standing, *given), default=0)
    for place, alike in left:
        number = next(others, highest + 1)
        highest = max(highest, number)
        found.append((place, number, alike))
    standing |= given
    for place, number, alike in found:
        standing[number] = (alike, file)
        yield place, number
