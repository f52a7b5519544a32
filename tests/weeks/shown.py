"""What a build says of people, without what only counts: figures, flags, plans and page texts."""

import csv
import re
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from tests.weeks.folders import Made

# Parts of a pack that are about files and rows; all else is about people.
OF_FILES = {"intake", "refused", "refused_more", "subtitle", "doubts", "doubts_more"}
NUMBER = re.compile(r"(-?\d+\.\d+(?:e-?\d+)?)")
NEAR = 2e-4  # of a figure written with four decimals, however the sum was taken
TABLES = ("asymmetries", "flags", "plans")
Tables = dict[str, list[dict[str, str]]]


@dataclass(frozen=True)
class Shown:
    """Rows of the tables by file, those of the plans' steps, and page texts by person or squad."""

    tables: Tables
    pages: dict[str, str]


def shown(build: Made) -> Shown:
    """What a build says."""
    tables: Tables = {}
    for name in TABLES:
        path = build.reports / f"{name}.csv"
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        tables[name] = list(csv.DictReader(text.splitlines()))
    tables["steps"] = build.rows("mart_plans")
    return Shown(tables, page_texts(build))


def page_texts(build: Made) -> dict[str, str]:
    """The model of each page as text, by athlete or squad."""
    texts: dict[str, str] = {}
    for page in build.pages:
        who = getattr(page, "athlete_id", "") or f"{type(page).__name__} {page.squad}"
        texts[who] = repr(_about_people(page))
    return texts


def _about_people(page: Any) -> Any:
    """A page without its parts about files and rows."""
    if not is_dataclass(page) or isinstance(page, type):
        return page
    shown: Any = page
    names = {one.name for one in fields(page)}
    changed: dict[str, Any] = dict.fromkeys(OF_FILES & names)
    if "unread" in names:  # who and what, without the file and line
        changed["unread"] = sorted(str(item).split(" (")[0] for item in shown.unread)
    return replace(page, **changed)


def differences(one: Shown, other: Shown, *, pages: bool = True) -> list[str]:
    """In what two builds differ, in a few words each."""
    found = []
    for name, rows in one.tables.items():
        found += _unlike_rows(name, rows, other.tables[name])
    if pages:
        for who in one.pages.keys() | other.pages.keys():
            left, right = one.pages.get(who, ""), other.pages.get(who, "")
            if not alike(left, right):
                found.append(f"page of {who}: {first_difference(left, right)}")
    return found


def _unlike_rows(name: str, rows: list[dict[str, str]], others: list[dict[str, str]]) -> list[str]:
    if len(rows) != len(others):
        return [f"{name}: {len(rows)} and {len(others)} rows"]
    return [
        f"{name}: {column} of {list(row.values())[:4]}: {row[column]!r} and {other.get(column)!r}"
        for row, other in zip(rows, others, strict=True)
        for column in row
        if not alike(row[column], other.get(column) or "")
    ][:5]


def alike(one: str, other: str) -> bool:
    """Whether two texts are equal but for the last digit of their figures."""
    if one == other:
        return True
    left, right = NUMBER.split(one), NUMBER.split(other)
    return (
        len(left) == len(right)
        and left[::2] == right[::2]
        and all(
            abs(float(a) - float(b)) <= NEAR * max(1.0, abs(float(a)))
            for a, b in zip(left[1::2], right[1::2], strict=True)
        )
    )


def first_difference(one: str, other: str) -> str:
    """Where two texts part."""
    at = next(
        (n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b),
        min(len(one), len(other)),
    )
    return f"…{one[max(0, at - 60) : at + 60]} | {other[max(0, at - 60) : at + 60]}"
