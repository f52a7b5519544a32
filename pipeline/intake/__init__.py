"""From a folder of exports to typed rows, with an account of every row that was in it."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

from pipeline.intake.assembly import Assembly
from pipeline.intake.opened import Opened
from pipeline.intake.privacy.forgotten import NOBODY, Forgotten, forgotten_people, without_mentions
from pipeline.intake.read.inbox import list_exports, read_entry
from pipeline.intake.settle.handover import Intake
from pipeline.settings import Settings

__all__ = ["Intake", "read_exports", "rows_of"]


def read_exports(
    folder: Path, settings: Settings, as_of: date | None = None, more: Forgotten = NOBODY
) -> Intake:
    """Read, recognise, convert and check every file of the folder.

    Days up to `as_of`, where one is asked for, are no slips however far they lie from the others.
    People whom staff asked to forget, and those of `more`, are left out. Raises SquadsidesError
    where the folder holds no exports or no roster.
    """
    with ThreadPoolExecutor() as pool:
        opened = _opened(folder, pool, forgotten_people(folder) | more)
        frames = Assembly(opened, settings, as_of).frames()
        return without_mentions(Intake(**frames), opened.forgotten)


def rows_of(folder: Path, person: Forgotten) -> dict[str, int]:
    """How many rows of each file are a person's, be they read, refused or repeated."""
    with ThreadPoolExecutor() as pool:
        return _opened(folder, pool, person).gone


def _opened(folder: Path, pool: ThreadPoolExecutor, forgotten: Forgotten) -> Opened:
    """All files opened, without the rows of forgotten people, whatever rosters call them by now."""
    entries = list_exports(folder)
    while True:
        opened = Opened(pool, forgotten)
        for number, entry in enumerate(entries):
            opened.take(number, read_entry(entry))
        if not (more := opened.also_forgotten()).digests:
            return opened
        forgotten |= more
