"""What the warehouse is filled with: the rows of the exports up to a day, and the catalogue."""

from collections.abc import Mapping
from datetime import date

import polars as pl

from pipeline.catalogue import full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.intake import Intake
from pipeline.settings import Settings
from pipeline.warehouse.catalogue_tables import reference_frames
from pipeline.warehouse.database import Warehouse

# Tables of what was read: of athletes, with the column of the day; and of the exports themselves.
OF_ATHLETES = {
    "raw_roster": None,
    "raw_trials": "tested_on",
    "raw_sets": "trained_on",
    "raw_film": "filmed_on",
}
OF_EXPORTS = ("raw_decisions", "raw_files", "raw_refused", "raw_doubts")
Rows = Mapping[str, pl.DataFrame]  # what was read, by the name of its table


def raw_frames(intake: Intake) -> dict[str, pl.DataFrame]:
    """What was read, by table name."""
    return {
        name: getattr(intake, name.removeprefix("raw_")) for name in (*OF_ATHLETES, *OF_EXPORTS)
    }


def newest_day(intake: Intake) -> date:
    """The newest test, training or film date; the as-of date is never today's."""
    days = [
        frame[column].max()
        for frame, column in (
            (intake.trials, "tested_on"),
            (intake.sets, "trained_on"),
            (intake.film, "filmed_on"),
        )
    ]
    known = [day for day in days if isinstance(day, date)]
    if not known:
        raise SquadsidesError(
            "The exports hold no test, no training and no film review that could be read, so there "
            "is nothing to report. `python -m pipeline check` shows why."
        )
    return max(known)


def stock(warehouse: Warehouse, rows: Rows, as_of: date, settings: Settings) -> None:
    """Fill a warehouse with all but what is found later, from the rows up to the as-of date."""
    for name, frame in rows.items():
        warehouse.load(name, _up_to(as_of, frame, OF_ATHLETES.get(name)))
    for name, frame in reference_frames(full_catalogue(), settings.plan).items():
        warehouse.load(name, frame)
    warehouse.build()


def _up_to(as_of: date, frame: pl.DataFrame, dated: str | None) -> pl.DataFrame:
    """The rows of no later day; `frame` itself where that is all, as a copy takes its memory."""
    if dated is None or (frame[dated] <= as_of).all():
        return frame
    return frame.filter(pl.col(dated) <= as_of)
