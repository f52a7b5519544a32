"""What fails costs itself alone: it is run apart, and what went wrong is kept for a file.

Standard library only: the processes that print pages run them apart with the same `attempt`.
"""

import os
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from pipeline.errors import STOPS, SquadsidesError
from pipeline.last_build import HOUSE

T = TypeVar("T")
PROBLEMS = "problems"  # folder of the tracebacks, beside the reports
# Who stops a build, what the user can mend and a full memory are no matter of one page.
STAY = (KeyboardInterrupt, SystemExit, GeneratorExit, SquadsidesError, MemoryError)
HEAD = """\
squadsides could not make what is named below; the rest of that build stands. Please show this file
to whoever looks after the program. It can hold data of the person, as the report itself would.
"""


@dataclass(frozen=True)
class Failure:
    """What went wrong, as text: an error itself may not survive the way between processes."""

    traceback: str


def attempt(make: Callable[..., T], *given: object) -> T | Failure:
    """What `make` gives, or why it gives nothing; raises only what stops a whole build."""
    try:
        return make(*given)
    except BaseException as error:  # a panic of the frame library is no Exception
        # A library at work when Ctrl-C comes may pass it on as an error of its own.
        if STOPS or isinstance(error, STAY):
            raise
        return Failure(_told(error))


def _told(error: BaseException) -> str:
    """The traceback below `attempt`: it reads the same in any process and any folder."""
    below = error.__traceback__ and error.__traceback__.tb_next
    lines = traceback.format_exception(type(error), error, below)
    return "".join(lines).replace(f"{HOUSE}{os.sep}", "")


def traceback_file(pdf: str) -> str:
    """Where in the reports folder it stands what went wrong with a PDF, or with whom it is of."""
    return f"{PROBLEMS}/{pdf.removesuffix('.pdf')}.txt"


@dataclass(frozen=True)
class Unmade:
    """What could not be made in one build, by the PDF of the athlete or squad it is about."""

    pdfs: Mapping[str, str]  # of each athlete, by id
    lets_through: bool = False  # whether the first failure stops all, as where nothing is kept
    found: dict[str, dict[str, Failure]] = field(default_factory=dict)

    def attempt(self, who: str, what: str, make: Callable[[], T], instead: Callable[[], T]) -> T:
        """What `make` gives, or what stands in its place; `what` of which athlete it is."""
        if self.lets_through:
            return make()
        made = attempt(make)
        if isinstance(made, Failure):
            self.keep(self.pdfs[who], what, made)
            return instead()
        return made

    def keep(self, pdf: str, what: str, failure: Failure) -> None:
        """Remember why something could not be made; the first reason stays."""
        self.found.setdefault(pdf, {}).setdefault(what, failure)

    def told(self) -> tuple[tuple[str, str], ...]:
        """What could not be made, and where in the reports folder it stands why."""
        return tuple(
            (what, traceback_file(pdf)) for pdf in sorted(self.found) for what in self._of(pdf)
        )

    def write(self, folder: Path) -> None:
        """Write the tracebacks, a file for each athlete and squad."""
        for pdf in self.found:
            parts = [f"{what}\n{why.traceback}" for what, why in self._of(pdf).items()]
            path = folder / traceback_file(pdf)
            path.parent.mkdir(parents=True, exist_ok=True)
            text = "\n".join([HEAD, *parts])
            path.write_text(text, encoding="utf-8", errors="backslashreplace", newline="\n")

    def _of(self, pdf: str) -> dict[str, Failure]:
        """A PDF's failures in an order that does not hang on which came first: itself, the rest."""
        found = self.found[pdf]
        return {what: found[what] for what in sorted(found, key=lambda what: (what != pdf, what))}


# For whoever makes one thing by itself and wants to see why it fails.
def tests_missing(squad: str) -> str:
    """How it is told that the next test day of a squad could not be worked out."""
    return f"{squad}: the next test day"


LET_THROUGH = Unmade({}, lets_through=True)
