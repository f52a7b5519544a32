"""Whole-file doubts: mistakes that no single row shows and that would poison results silently."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.intake.account.ledger import Ledger
from pipeline.intake.doubts.compared_sessions import side_sessions
from pipeline.intake.doubts.copied_values import Copy, find_copied_days, find_copied_sides
from pipeline.intake.doubts.swapped_sides import Swap, find_swaps
from pipeline.intake.doubts.wrong_athlete import Stranger, find_strangers
from pipeline.intake.doubts.wrong_unit import TOTAL, Misfit, find_misfits
from pipeline.intake.parse.units import measures
from pipeline.intake.rows.people import People
from pipeline.settings import Settings

DOUBTS = {
    "file": pl.String,
    "sheet": pl.String,
    "kind": pl.String,
    "message": pl.String,
    "is_held": pl.Boolean,
}
EPOCH = date(1970, 1, 1)
HELD = (
    "held out of the estimates; correct it and drop it again, or name the file under trust in "
    "the settings"
)
TRUSTED = "used all the same, as the settings trust this file"
TOLD = "only told, nothing is held out"
LOOKED_AT = ("entry", "athlete", "day", "measure", "side", "trial", "value", "factor")
MANY_ROWS, MANY_ATHLETES = 100_000, 20  # of more, a part says enough
WHOLE = 0.5  # of a file in doubt, and all of it is held


@dataclass(frozen=True)
class Doubt:
    """What was seen in a file, and which of its rows it is about (None: all days, all tests)."""

    entry: int
    kind: str
    seen: str
    is_grave: bool  # held out unless the settings trust the file
    days: tuple[int, ...] | None = None
    measure: int | None = None

    def rows(self) -> pl.Expr:
        """The rows this doubt is about."""
        about = pl.col("entry") == self.entry
        if self.days is not None:
            about &= pl.col("day").to_physical().is_in(list(self.days))
        return about if self.measure is None else about & (pl.col("measure") == self.measure)


def find_doubts(
    rows: pl.DataFrame, outside: pl.DataFrame, people: People, settings: Settings
) -> list[Doubt]:
    """Every doubt about these side tests, file by file.

    `outside` holds values beyond the hard limits (entry, athlete, day, measure, value): they are
    refused, yet they say the most about a wrong unit.
    """
    limits = settings.intake
    rows = rows.filter(pl.col("value").is_not_null())
    if rows.is_empty():
        return []
    rows = _enough(rows, len(people.ids))
    columns = ["entry", "athlete", "day", "measure", "value"]
    readable = pl.concat([rows.select(columns), outside.select(columns)])
    misfits = find_misfits(readable, people, limits)
    sessions = side_sessions(rows, settings.estimate.side_day_share)
    # Another unit makes strangers of everybody.
    fitting = sessions.without({(misfit.entry, misfit.measure) for misfit in misfits})
    found = [
        *(_swapped(swap) for swap in find_swaps(sessions, people, limits)),
        *(_unit(misfit, limits.least_athletes) for misfit in misfits),
        *(_copied(copy) for copy in find_copied_sides(sessions, rows, limits)),
        *(_same_session(copy) for copy in find_copied_days(rows, limits)),
        *(_other_athlete(stranger, people) for stranger in find_strangers(fitting, limits)),
    ]
    return sorted(found, key=lambda doubt: doubt.entry)


def _enough(rows: pl.DataFrame, athletes: int) -> pl.DataFrame:
    """The columns the doubts look at; of very many rows, first trials of some of the athletes."""
    if rows.height <= MANY_ROWS:
        return rows.select(LOOKED_AT)
    step = max(1, min(rows.height // MANY_ROWS, athletes // MANY_ATHLETES))
    chosen = (rows["athlete"] % step == 0) & (rows["trial"] == 1)
    return rows.select(LOOKED_AT).filter(chosen)


def held_rows(rows: pl.DataFrame, doubts: Iterable[Doubt]) -> pl.Series:
    """Which rows are held: those in grave doubt, and the whole file where that is half of it."""
    doubts = [doubt for doubt in doubts if doubt.is_grave]
    is_held = pl.repeat(False, rows.height, eager=True).alias("held")
    if not doubts:
        return is_held
    for doubt in doubts:
        is_held |= rows.select(doubt.rows()).to_series()
    held = rows.filter(is_held).group_by("entry").len("held")
    of = rows.group_by("entry").len("all").join(held, on="entry")
    whole = of.filter(pl.col("held") >= WHOLE * pl.col("all"))["entry"]
    return (is_held | rows["entry"].is_in(whole.to_list())).alias("held")


def settle_doubts(
    rows: pl.DataFrame, outside: pl.DataFrame, people: People, ledger: Ledger, settings: Settings
) -> tuple[pl.Series, pl.DataFrame]:
    """Which rows are held, and the doubts as handed over; remarks go to the files."""
    if rows.is_empty():
        return pl.Series("held", [], dtype=pl.Boolean), pl.DataFrame(schema=DOUBTS)
    doubts = find_doubts(rows, outside, people, settings)
    told: list[tuple[str, str, str, str, bool]] = []
    grave: list[Doubt] = []
    for doubt in doubts:
        account = ledger.entries[doubt.entry]
        is_trusted = settings.trusts(account.file)
        is_held = doubt.is_grave and not is_trusted
        then = HELD if is_held else TRUSTED if doubt.is_grave else TOLD
        message = f"{doubt.seen}; {then}"
        ledger.remark(doubt.entry, message)
        told.append((account.file, account.sheet, doubt.kind, message, is_held))
        if is_held:
            grave.append(doubt)
    return held_rows(rows, grave), pl.DataFrame(told, schema=DOUBTS, orient="row")


def _swapped(swap: Swap) -> Doubt:
    seen = (
        f"sides look swapped{_on(swap.days)}: {swap.turned} of {swap.known} athletes with a known "
        "difference show it on the other side"
    )
    return Doubt(swap.entry, "swapped", seen, True, swap.days)


def _unit(misfit: Misfit, least: int) -> Doubt:
    measure = measures().all[misfit.measure]
    what = (
        "the total of both sides or a pair of dumbbells"
        if misfit.unit == TOTAL
        else f"{misfit.unit} in place of {measure.unit}"
    )
    than = "their own other values" if misfit.by_history else "what is usual"
    seen = (
        f"{measure.id} looks like {what}: the middle one of {misfit.athletes} athletes stands at "
        f"{misfit.ratio:.2g} times {than}"
    )
    kind = "total" if misfit.unit == TOTAL else "unit"
    return Doubt(misfit.entry, kind, seen, misfit.athletes >= least, measure=misfit.measure)


def _copied(copy: Copy) -> Doubt:
    seen = (
        f"one side looks copied to the other{_on(copy.days)}: left and right are equal in "
        f"{copy.same} of {copy.compared} tests of {copy.athletes} athletes"
    )
    return Doubt(copy.entry, "copied", seen, True, copy.days)


def _same_session(copy: Copy) -> Doubt:
    first = _day(copy.of_day or 0)
    seen = (
        f"the session of {_day(copy.days[0])} repeats that of {first} to the last digit for "
        f"{copy.same} of {copy.athletes} athletes"
    )
    return Doubt(copy.entry, "same_session", seen, True, copy.days)


def _other_athlete(stranger: Stranger, people: People) -> Doubt:
    own, other = people.ids[stranger.athlete], people.ids[stranger.fits]
    seen = (
        f"the rows of {own} on {_day(stranger.day)} fit {other} far better than {own} "
        f"({stranger.tests} tests)"
    )
    return Doubt(stranger.entry, "other_athlete", seen, False, (stranger.day,))


def _on(days: Sequence[int]) -> str:
    shown = ", ".join(_day(day) for day in days[:3])
    return f" on {shown}{' …' if len(days) > 3 else ''}"


def _day(number: int) -> str:
    return (EPOCH + timedelta(days=number)).isoformat()
