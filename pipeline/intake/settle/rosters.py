"""The roster that stands: its history, its squads in one spelling; or everyone the files name."""

from collections.abc import Iterable, Iterator

import polars as pl

from pipeline.intake.account.ledger import Ledger, Run
from pipeline.intake.parse.same_person import (
    LONGEST_ID,
    OTHER_SCRIPT,
    person_key,
    seen_key,
    skeleton,
)
from pipeline.intake.parse.values import read_words
from pipeline.intake.read.grids import LINE
from pipeline.intake.recognise.tables import Table
from pipeline.intake.rows.people import MEASURED, ROSTER, TYPES
from pipeline.last_lines import NO_ROSTER
from schemas.vocabulary import Export

EVERYONE = "Everyone"  # the squad of all where no roster says more
DAYS = ("tested_on", "trained_on", "filmed_on")
QUARTER_DAYS, APART_DAYS = 91, 60
SQUAD_KEY = seen_key(pl.col("squad")).str.to_lowercase().str.replace_all(r"\s", "")


def standing_roster(rows: pl.DataFrame, ledger: Ledger) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The roster in the order of its ids, and the masses of those weighed on several days.

    `rows`: one row an athlete and day of measurement. Of what is measured the newest day stands, no
    day is the oldest; of all else the latest file, as who is available today has nothing to do with
    the day somebody was weighed. What a later row has no column for stays as it was, and so does
    what was not measured again.
    """
    rows = rows.sort("athlete_id", "measured_on", "row")
    growth = _growth(rows)
    masses = rows.select("athlete_id", "measured_on", "body_mass_kg").drop_nulls("body_mass_kg")
    masses = masses.filter(pl.col("athlete_id").is_duplicated())
    is_older = rows["athlete_id"].eq(rows["athlete_id"].shift(-1)).fill_null(False)
    if is_older.any():
        for (entry,), part in rows.filter(is_older).group_by("entry", maintain_order=True):
            count = f"{part.height} row{'s' if part.height > 1 else ''}"
            ledger.remark(int(str(entry)), f"{count} kept as history of height and body mass")
        last = [pl.col(name).drop_nulls().last() for name in (*MEASURED, "measured_on")]
        latest = ["file", "measured_on", "row"]
        last += [
            pl.col(name)
            .sort_by(latest)
            .filter((pl.col(f"has_{name}") | pl.col(name).is_not_null()).sort_by(latest))
            .last()
            for name in ROSTER
            if name not in ("athlete_id", "measured_on", *MEASURED)
        ]
        rest = [name for name in rows.columns if name not in ROSTER]
        rows = rows.group_by("athlete_id", maintain_order=True).agg(
            *last, pl.col(rest).sort_by(latest).last()
        )
    return _in_one_spelling(rows.join(growth, on="athlete_id", how="left"), ledger), masses


def _growth(rows: pl.DataFrame) -> pl.DataFrame:
    """One row an athlete measured on several days: `grew_cm`, the most that was gained in a
    quarter, by the measurements of the last two quarters before the newest.

    Two measurements less than two months apart tell more of the hour and the tape than of growth.
    """
    heights = (
        rows.select("athlete_id", "measured_on", "height_cm")
        .drop_nulls()
        .unique(["athlete_id", "measured_on"], keep="last", maintain_order=True)
        .sort("measured_on")
    )
    before = heights.rename({"measured_on": "since", "height_cm": "was_cm"})
    pairs = heights.with_columns(
        pl.col("measured_on").dt.offset_by(f"-{APART_DAYS}d").alias("asked")
    ).join_asof(before, left_on="asked", right_on="since", by="athlete_id", check_sortedness=False)
    days = (pl.col("measured_on") - pl.col("since")).dt.total_days()
    newest = pl.col("measured_on").max().over("athlete_id")
    recent = pl.col("measured_on") > newest.dt.offset_by(f"-{2 * QUARTER_DAYS}d")
    gained = (pl.col("height_cm") - pl.col("was_cm")) / days * QUARTER_DAYS
    return (
        pairs.filter(pl.col("since").is_not_null() & recent)
        .group_by("athlete_id")
        .agg(gained.max().alias("grew_cm"))
    )


def one_id_each(rows: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """The rows of rosters with one spelling of ids that look the same: the shortest.

    Two ids that look alike though their letters are of two scripts stay two, and the remark names
    them.
    """
    ids = rows.select("athlete_id", "entry").unique("athlete_id", keep="first", maintain_order=True)
    ids = ids.with_columns(
        seen=seen_key(pl.col("athlete_id")), looks=skeleton(pl.col("athlete_id"))
    ).sort(pl.col("athlete_id").str.len_bytes(), "athlete_id")
    ids = ids.with_columns(pl.col("athlete_id").first().over("seen").alias("one"))
    for one, entry in (
        ids.filter(pl.col("one") != pl.col("athlete_id")).select("one", "entry").rows()
    ):
        ledger.remark(
            entry, f"athlete_id {one} is written in two ways that look the same; read as one"
        )
    distinct = ids.unique("seen", keep="first", maintain_order=True)
    alike = distinct.filter(pl.col("looks").is_duplicated())
    for part in alike.partition_by("looks", maintain_order=True):
        who = ", ".join(part["one"])
        entry = max(part["entry"].to_list())
        ledger.remark(entry, f"athlete_ids that look alike but hold {OTHER_SCRIPT}: {who}")
    if distinct.height == ids.height:
        return rows
    return rows.with_columns(
        pl.col("athlete_id").replace(ids["athlete_id"], ids["one"]).alias("athlete_id")
    )


def _in_one_spelling(roster: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """The roster with one name for squads that differ in case or spaces alone: the commonest."""
    names = roster.group_by("squad").len().sort("len", "squad", descending=[True, False])
    chosen = names.with_columns(SQUAD_KEY.alias("key"), spelling="squad")
    chosen = chosen.with_columns(pl.col("spelling").first().over("key"))
    changed = chosen.filter(pl.col("spelling") != pl.col("squad")).sort("squad")
    if changed.is_empty():
        return roster
    told = roster.join(changed, on="squad").sort("squad", "row")
    for (entry, spelling), part in told.group_by("entry", "spelling", maintain_order=True):
        others = ", ".join(part["squad"].unique(maintain_order=True))
        ledger.remark(int(str(entry)), f"squad {others} read as {spelling}, as most write it")
    return roster.with_columns(pl.col("squad").replace(changed["squad"], changed["spelling"]))


def everyone(tables: Iterable[tuple[Table, Run]], ledger: Ledger) -> pl.DataFrame:
    """A roster, in the columns of one that was read, of all who have a day in these tables.

    Ids that differ only as `person_key` says are one person, written as the first file has it.
    """
    named = [pl.DataFrame(schema={"athlete_id": pl.String, "row": pl.UInt32}), *_named(tables)]
    people = pl.concat(named).sort("row")
    people = people.unique(person_key(pl.col("athlete_id")), keep="first", maintain_order=True)
    if people.is_empty():
        return people
    entries = ledger.entry_of(people["row"])
    ledger.remark(entries[0], NO_ROSTER)
    blank = {name: pl.lit(None, kind) for name, kind in TYPES.items() if name != "athlete_id"}
    known = {"name": pl.col("athlete_id"), "squad": pl.lit(EVERYONE)}
    return people.with_columns(
        **(blank | known),
        grew_cm=pl.lit(None, pl.Float64),
        entry=entries,
        line=ledger.line_of(people["row"]).cast(pl.UInt32),
    ).sort("athlete_id")


def _named(tables: Iterable[tuple[Table, Run]]) -> Iterator[pl.DataFrame]:
    """athlete_id and row of the first row of each id; what stands without a day is no person."""
    for table, run in tables:
        days = [column for column in table.reading.columns if column.name in DAYS]
        column = table.column("athlete_id")
        if column is None or not days:
            continue
        ids = read_words(table.text(column), column.header).rows.alias("athlete_id")
        day = read_words(table.text(days[0]), days[0].header)
        frame = ids.to_frame().with_row_index("row", offset=run.start)
        is_id = (ids.str.len_chars() <= LONGEST_ID).fill_null(False)
        frame = frame.filter(is_id & day.codes.is_not_null())
        first = frame.unique("athlete_id", keep="first", maintain_order=True)
        yield first.select("athlete_id", pl.col("row").cast(pl.UInt32))


def unread_roster(ledger: Ledger) -> str:
    """Why rosters that lie there hold nobody; blank where no row of one does."""
    files = [entry.file for entry in ledger.entries if entry.kind == Export.ROSTER and entry.read]
    refused = ledger.refused()
    for row in refused.filter(pl.col("file").is_in(files)).head(1).iter_rows(named=True):
        cell = f", {row['column']} {row['value']!r}" if row["column"] else ":"
        where = f"{row['file']} line {row['line']}{cell}"
        return f"No row of the roster can be read; the first fault: {where} {row['reason']}."
    return ""


def refused_ids(tables: Iterable[tuple[Table, Run]], ledger: Ledger) -> dict[str, str]:
    """Athlete ids whose roster row was refused, and where."""
    refused = ledger.refused_rows()["row"]
    found: dict[str, str] = {}
    for table, run in tables:
        cells = table.text(table.column("athlete_id")).cast(pl.String)
        file = ledger.entries[run.entry].file
        rows = refused.filter(refused >= run.start) - run.start
        for row in rows.filter(rows < len(cells)):
            line = table.cells[LINE][row]
            found[(cells[row] or "").strip()] = f"{file}, line {line}"
    return found
