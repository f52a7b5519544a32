"""A person taken out of the reports, the warehouse and every later build."""

from collections.abc import Sequence
from pathlib import Path

import polars as pl

from pipeline.build import build
from pipeline.control_characters import visible
from pipeline.errors import SquadsidesError
from pipeline.intake import Intake, read_exports, rows_of
from pipeline.intake.privacy.forgotten import (
    FREE_TEXT,
    Forgotten,
    as_text,
    digests_of,
    forgotten_people,
    mentions,
    whom,
)
from pipeline.last_build import LastBuild, Request
from pipeline.parts.places import Progress
from pipeline.settings import Settings

UNTOLD = (
    "{} holds reports without a record of how they were made, so nothing says whether with names "
    "or with codes. Build them once more, with or without --pseudonyms, then forget; nothing was "
    "changed."
)


def forget(
    exports: Path, reports: Path, settings: Settings, progress: Progress, athlete: str
) -> list[str]:
    """Build the reports anew without the person; what to tell whoever asked for it.

    `athlete` is an id or a name, written as the roster would match it. Whoever is forgotten already
    is forgotten again. Reports with codes keep them. The dropped files are staff's own and are not
    changed; the lines say what in them remains. Raises SquadsidesError where nobody is meant.
    """
    progress.step("Reading the exports")
    last = LastBuild.read(reports)
    if last is None and (reports / "warehouse.duckdb").exists():
        raise SquadsidesError(UNTOLD.format(reports))
    intake = read_exports(exports, settings)
    if found := whom(intake, athlete):
        who, name, others = found
        person = digests_of(who, name, others)
    else:
        who, person = athlete, digests_of(athlete)
    rows = rows_of(exports, person)
    if not (found or rows or person.digests & forgotten_people(exports).digests):
        raise SquadsidesError(f"{athlete} is not an athlete_id in {exports}; nothing was changed.")
    build(
        exports,
        reports,
        settings,
        progress,
        Request(has_codes=last is not None and last.has_codes),
        forgotten=person,
    )
    kept = sorted(path.name for path in reports.glob("*_filled_in*.xlsx"))
    files = {**dict.fromkeys(_named_in(intake, person), 0), **rows}
    return [
        f"{who} is out of the reports and the warehouse in {reports}, of the history of "
        "flags, and of every later build from these exports.",
        "What remains is in files that this program never changes. Delete these rows there:",
        *(f"  {visible(file)}: {_told(count)}" for file, count in sorted(files.items())),
        *(f"  {name} in {reports}: look for the id and the name" for name in kept),
        "Backups, mails and prints are not known here, nor pictures and files that could not be "
        "read. A new export that brings the person back is left out too, by digests of the id and "
        "the name in the file .forgotten.",
    ]


def _told(count: int) -> str:
    return f"{count} {'row' if count == 1 else 'rows'}" if count else "named in what others wrote"


def _named_in(intake: Intake, person: Forgotten) -> Sequence[str]:
    """The files in which a note, a comment or the name of the file itself names the person."""
    intake = as_text(intake)
    found: set[str] = set()
    for file, frame in (
        ("source_file", intake.roster),
        ("source_file", intake.trials),
        ("source_file", intake.sets),
        ("source_file", intake.film),
        ("source_file", intake.decisions),
        ("file", intake.refused),
        ("file", intake.files.select("file", "sheet")),
    ):
        texts = [name for name in (*FREE_TEXT, "file", "sheet")
                 if frame.schema.get(name) == pl.String]  # fmt: skip
        for name in texts:
            spelled = mentions([frame[name]], person)
            for one in spelled:
                has = frame[name].str.contains(one, literal=True).fill_null(False)
                found |= set(frame[file].filter(has))
    return sorted(found)
