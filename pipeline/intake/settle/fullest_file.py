"""Which file shows the order of an exercise's sets: the one that holds most of them.

Devices export everything again, and an export may begin or end in the midst of an exercise. Which
side was logged first is seen in a file that holds both sides, never from lines of two files.
"""

from collections.abc import Sequence

import polars as pl

EXERCISE = ["athlete", "day", "exercise"]


def with_order(stands: pl.DataFrame, versions: pl.DataFrame, key: Sequence[str]) -> pl.DataFrame:
    """The sets that stand, with `order_entry` and `order_line` (UInt32).

    `versions` are all rows of all files, each with its `entry` (a file, or a sheet of one) and
    `line`; `key` names a set among them. The entry is the one that holds most rows of the same
    athlete, day and exercise, of several the last; both are null for a set that it does not hold.
    """
    if versions["entry"].n_unique() == 1:
        return stands.with_columns(order_entry="entry", order_line="line")
    fullest = (
        versions.group_by(*EXERCISE, "entry")
        .len()
        .sort("len", "entry")
        .unique(EXERCISE, keep="last")
        .select(*EXERCISE, order_entry="entry")
    )
    lines = versions.group_by(*key, order_entry="entry").agg(order_line=pl.col("line").min())
    return (
        stands.join(fullest, on=EXERCISE, how="left", maintain_order="left", nulls_equal=True)
        .join(lines, on=[*key, "order_entry"], how="left", maintain_order="left", nulls_equal=True)
        .with_columns(order_entry=pl.when(pl.col("order_line").is_not_null()).then("order_entry"))
    )
