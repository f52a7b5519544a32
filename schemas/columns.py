"""What each column of an export holds, from `columns.toml`: for contracts, intake and workbooks."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

TABLE = tomllib.loads(Path(__file__).with_name("columns.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Column:
    """A column, in whichever kind of export it stands; the file says what each entry means."""

    name: str
    kind: Literal["id", "text", "word", "number", "count", "rating", "day"]
    unit: str = ""
    limits: tuple[float, float] | None = None
    longest: int | None = None
    words: str = ""
    shared: bool | None = None

    @property
    def choices(self) -> tuple[str, ...]:
        """The few words it is one of, as we spell them."""
        return tuple(TABLE["words"][self.words]) if self.words else ()

    @property
    def expected(self) -> str:
        """`left, right or both`."""
        *first, last = self.choices
        return f"{', '.join(first)} or {last}"

    @property
    def within(self) -> tuple[float, float]:
        """The limits of a column that has some."""
        assert self.limits is not None, self.name
        return self.limits


def _columns() -> dict[str, Column]:
    found: dict[str, Column] = {}
    for entry in TABLE["holds"]:
        facts: dict[str, Any] = {key: value for key, value in entry.items() if key != "columns"}
        if "limits" in facts:
            low, high = facts["limits"]
            facts["limits"] = float(low), float(high)
        found |= {name: Column(name, **facts) for name in entry["columns"]}
    return found


COLUMNS = _columns()


def named(kind: str) -> tuple[str, ...]:
    """The columns that hold this kind of thing."""
    return tuple(column.name for column in COLUMNS.values() if column.kind == kind)


def in_range(name: str) -> dict[str, float]:
    """The limits of a column, as the contract of a row says them."""
    low, high = COLUMNS[name].within
    return {"min_value": low, "max_value": high}
