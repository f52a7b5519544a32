"""A person taken out of the reports, the warehouse and every later build."""

from pathlib import Path

from pipeline.build import Progress, build
from pipeline.errors import SquadsidesError
from pipeline.intake import read_exports
from pipeline.intake.privacy import forgotten_ids, id_digest, remember_to_forget, rows_naming
from pipeline.settings import Settings


def forget(
    exports: Path, reports: Path, settings: Settings, progress: Progress, athlete_id: str
) -> list[str]:
    """Build the reports anew without the person; what to tell whoever asked for it.

    The dropped files are staff's own and are not changed; the lines say what in them remains.
    Raises SquadsidesError where the exports do not know the id.
    """
    progress.step("Reading the exports")
    intake = read_exports(exports, settings)
    remaining = rows_naming(intake, athlete_id)
    if not remaining:
        known = id_digest(athlete_id) in forgotten_ids(exports)
        why = "is left out already" if known else f"is not an athlete_id in {exports}"
        raise SquadsidesError(f"{athlete_id} {why}; nothing was changed.")
    remember_to_forget(exports, athlete_id)
    build(exports, reports, settings, progress)
    kept = sorted(path.name for path in reports.glob("decisions_filled_in*.xlsx"))
    return [
        f"{athlete_id} is out of the reports and the warehouse in {reports}, of the history of "
        "flags, and of every later build from these exports.",
        "What remains is in files that this program never changes. Delete these rows there:",
        *(
            f"  {name}: {count} {'row' if count == 1 else 'rows'}"
            for name, count in remaining.items()
        ),
        *(f"  {name} in {reports}: look for the id" for name in kept),
        "Rows that were refused, backups, mails and prints are not known here. A new export that "
        "brings the person back is left out too, by a digest of the id in the file .forgotten.",
    ]
