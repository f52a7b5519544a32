"""The last lines of a build. Standard library only: a build with nothing to do prints them too."""

from datetime import date
from pathlib import Path
from typing import Any, NamedTuple, Self

from pipeline.control_characters import visible

NO_ROSTER = (
    "without a roster everyone named is one squad, Everyone; a roster (athlete_id, name, squad) "
    "would add names and squads, preferred hands and feet, dates of birth, body mass and what is "
    "known of people"
)
NAMED = 10  # of files, and of what could not be made; the rest is counted


class Summary(NamedTuple):  # which is imported in a third of the time of a dataclass
    """What a build read and found."""

    file_count: int
    rows_read: int
    rows_refused: int
    cells_left_blank: int  # that could not be read, in rows that were accepted
    unread_count: int  # rows and cells about pain, availability, notes or decisions not read
    doubtful_files: tuple[str, ...]
    unread_files: tuple[str, ...]  # in which no table was recognised
    flag_count: int
    referred_count: int
    athlete_count: int
    squad_count: int
    as_of: date
    has_roster: bool
    newest_day: date  # of the data; the as-of date unless another was asked for
    unmade: tuple[tuple[str, str], ...] = ()  # what could not be made, and the file that says why
    packs: tuple[str, ...] = ()  # of the squads, by name; none in a build without PDFs
    test_sheets: tuple[str, ...] = ()  # workbooks of the next test day, of the same squads

    def as_json(self) -> dict[str, Any]:
        """Plain values for a JSON file."""
        days = {"as_of": self.as_of.isoformat(), "newest_day": self.newest_day.isoformat()}
        return {**self._asdict(), **days}

    @classmethod
    def of_json(cls, values: dict[str, Any]) -> Self:
        """The summary written by `as_json`; raises KeyError or ValueError where it is another's."""
        known = {**cls._field_defaults, **values}
        known = {name: known[name] for name in cls._fields}
        for name in ("as_of", "newest_day"):
            known[name] = date.fromisoformat(known[name])
        for name in ("doubtful_files", "unread_files", "packs", "test_sheets"):
            known[name] = tuple(known[name])
        known["unmade"] = tuple((what, file) for what, file in known["unmade"])
        return cls(**known)

    def lines(self, reports: Path) -> list[str]:
        """What a person at the keyboard reads."""
        refused = f"{_count(self.rows_refused, 'row')} refused"
        if self.cells_left_blank:
            refused += f", {_count(self.cells_left_blank, 'cell')} left blank"
        flagged = f"{_count(self.flag_count, 'flag')} for {_count(self.athlete_count, 'athlete')}"
        referred = f"; {_count(self.referred_count, 'athlete')} to see medical staff first"
        return [
            f"Read {_count(self.file_count, 'file')} with {_count(self.rows_read, 'row')}; "
            + refused
            + (" (see refused_rows.csv)." if self.rows_refused + self.cells_left_blank else "."),
            *(
                [
                    f"{self.unread_count} of these may bear on pain, availability, notes or "
                    "decisions; page 1 of the packs names them."
                ]
                if self.unread_count
                else []
            ),
            *_named("Not read: {} (intake.csv says why).", self.unread_files),
            *([] if self.has_roster else [f"{NO_ROSTER[0].upper()}{NO_ROSTER[1:]}."]),
            *_named(
                "Held out of the estimates: {} (page 1 of the packs says why).",
                self.doubtful_files,
            ),
            f"{flagged} in {_count(self.squad_count, 'squad')}, as of {self.as_of.isoformat()}"
            + (f"{referred}." if self.referred_count else "."),
            *self.open_first(),
            f"Reports are in {reports}",
            *self.unmade_lines(reports),
        ]

    def open_first(self) -> list[str]:
        """The three files to open: for the meeting, for what it decides, for the next test day."""
        packs = [f"{name} (the meeting)" for name in self.packs[:1]]
        sheets = [f"{name} (the next test day)" for name in self.test_sheets[:1]]
        named = [*packs, "decisions.xlsx (what it decides)", *sheets]
        more = len(self.test_sheets) - 1
        others = {0: "", 1: " The other squad has its own beside them."}.get(
            more, f" The other {more} squads have theirs beside them."
        )
        return [f"Open first: {visible(', '.join(named))}.{others}"] if self.test_sheets else []

    def unmade_lines(self, reports: Path) -> list[str]:
        """What could not be made, where it stands why, and whom to show that; none if all was."""
        if not self.unmade:
            return []
        more = len(self.unmade) - NAMED
        return [
            *(
                f"Could not be made: {visible(what)} (see {visible(str(reports / file))})."
                for what, file in self.unmade[:NAMED]
            ),
            *([f"… and {more} more, in the same folder."] if more > 0 else []),
            "All else is made. Please show these files to whoever looks after the program; the "
            "next build tries again.",
        ]


def _named(line: str, names: tuple[str, ...]) -> list[str]:
    """A line for each of the first names, and how many more there are."""
    more = len(names) - NAMED
    told = [line.format(name) for name in names[:NAMED]]
    return [*told, f"… and {more} more; see intake.csv."] if more > 0 else told


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
