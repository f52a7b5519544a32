"""One folder of generated weeks from its files to every page, and all that is wrong with it."""

import shutil
import traceback
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.errors import SquadsidesError
from pipeline.report.pdf.render import source_of
from tests.weeks import care
from tests.weeks.conservation import faults
from tests.weeks.exports import write_exports
from tests.weeks.folders import Made, made
from tests.weeks.model import Week, together, week
from tests.weeks.naive import read_folder
from tests.weeks.scan import page_faults, table_faults


@dataclass
class Examined:
    """What was found in the weeks of one folder, by seed where it could be told whose it is."""

    seeds: list[int]
    faults: list[str] = field(default_factory=list)
    met: set[tuple[str, str]] = field(default_factory=set)  # decisions that met a listed flag

    @property
    def is_sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.faults


def examine(seeds: Sequence[int], place: Path) -> list[Examined]:
    """Build these weeks in one folder below `place`; each alone where that does not go well.

    The folder is left where it is only if something is wrong with a week that was built alone.
    """
    weeks = [week(seed) for seed in seeds]
    folder = place / "_".join(map(str, seeds))
    found = Examined(list(seeds))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            found.faults, found.met = _all_of(weeks, folder)
    except SquadsidesError as told:
        found.faults = [f"not built: {told}"]
    except Exception as error:
        where = traceback.extract_tb(error.__traceback__)[-1]
        file = Path(where.filename).name
        found.faults = [f"{type(error).__name__}: {error} ({file}, line {where.lineno})"]
    if found.is_sound or len(seeds) == 1:
        if found.is_sound:
            shutil.rmtree(folder)
        return [found]
    shutil.rmtree(folder)
    alone = [one for seed in seeds for one in examine([seed], place)]
    if all(one.is_sound for one in alone):  # only what they are together is wrong
        return [found]
    return alone


def _all_of(weeks: Sequence[Week], folder: Path) -> tuple[list[str], set[tuple[str, str]]]:
    exports = write_exports(folder / "exports", together(weeks))
    told = read_folder(exports)
    build = made(exports, folder / "reports")
    names = {person.id: person.name for one in weeks for person in one.people}
    wrong = [*_unmade(build), *faults(told, build), *table_faults(build.reports)]
    wrong += [*_missing_pages(weeks, build), *care.faults(told, build)]
    for page in build.pages:
        about = getattr(page, "athlete_id", None) or f"pack of {page.squad}"
        wrong += [f"{about}: {fault}" for fault in page_faults(source_of(page), names)]
    flags = {flag for (flag,) in build.fetch("select flag_id from mart_flags")}
    met = {(one.family, one.word) for each in weeks for one in each.decided if one.flag_id in flags}
    return wrong, met


def _unmade(build: Made) -> list[str]:
    """What could not be made, with the last lines of why."""
    return [
        f"{what} could not be made: {' | '.join(_last_lines(build.reports / file))}"
        for what, file in build.summary.unmade
    ]


def _last_lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").strip().splitlines()[-3:]


def _missing_pages(weeks: Sequence[Week], build: Made) -> list[str]:
    """Everybody has a page, every squad a pack."""
    shown = {page.athlete_id for page in build.pages if hasattr(page, "athlete_id")}
    packs = {page.squad for page in build.pages if not hasattr(page, "athlete_id")}
    squads = {squad for (squad,) in build.fetch("select distinct squad from stg_athletes")}
    wanted = {person.id for one in weeks if one.has_roster for person in one.people}
    return [
        *(f"no page of {who}" for who in sorted(wanted - shown)),
        *(f"no pack of {squad}" for squad in sorted(squads - packs)),
    ]
