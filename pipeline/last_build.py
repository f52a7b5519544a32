"""What the reports folder was made from, so that nothing is made twice.

Standard library only: where nothing has changed, a build ends before anything heavy is imported.
The record holds digests and counts, no path and no time, so the same inputs give the same bytes.
"""

import hashlib
import json
import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple, Self

from pipeline.last_lines import Summary
from pipeline.team_files import text_of

RECORD = ".last_build.json"
UNFINISHED = ".unfinished"  # where a build lies until it is complete
HOUSE = Path(__file__).parents[1]
OURS = ("pipeline", "schemas", "report_templates")
READ_BY_A_BUILD = (".py", ".sql", ".toml", ".html", ".css")
# Native libraries that decide what a PDF looks like, and where systems keep them.
NATIVE = ("libpango", "libharfbuzz", "libfontconfig", "libfreetype", "libfribidi")
LIBRARY_FOLDERS = ("/usr/lib", "/usr/lib64", "/usr/local/lib", "/opt/homebrew/lib")


class Request(NamedTuple):
    """What is asked of a build besides its folders and its settings."""

    inputs: str = ""  # digest of what is built from, taken before; none where nobody compares it
    as_of: date | None = None  # None: the newest day of the data
    has_pdfs: bool = True  # whether the PDFs belong to it
    has_codes: bool = False  # whether codes stand for people


EVERYTHING = Request()


class LastBuild(NamedTuple):
    """One finished build: what it was made from, what it made, and what it said at its end."""

    inputs: str  # digest of exports, settings and tools
    has_pdfs: bool
    has_codes: bool
    summary: Summary
    files: Mapping[str, str]  # digest of each file of the reports folder but the warehouse
    pages: Mapping[str, str]  # digest of all that each PDF shows

    @classmethod
    def read(cls, reports: Path) -> Self | None:
        """The record in a reports folder; none where it is missing or of another version."""
        try:
            values = json.loads((reports / RECORD).read_text(encoding="utf-8"))
            summary = Summary.of_json(values["summary"])
            files, pages = _digests(values)
            made = values["has_pdfs"], values["has_codes"]
            last = cls(values["inputs"], *made, summary, files, pages)
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None
        return last

    def write(self, folder: Path) -> None:
        """Write the record."""
        values = {
            "inputs": self.inputs,
            "has_pdfs": self.has_pdfs,
            "has_codes": self.has_codes,
            "summary": self.summary.as_json(),
            "files": dict(sorted(self.files.items())),
            "pages": dict(sorted(self.pages.items())),
        }
        text = json.dumps(values, indent=1, ensure_ascii=False)
        (folder / RECORD).write_text(text + "\n", encoding="utf-8")

    def stands(self, reports: Path, asked: Request) -> bool:
        """Whether such a build would write what is in the folder already."""
        return (
            self.inputs == asked.inputs
            and self.summary.as_of == (asked.as_of or self.summary.newest_day)
            and (self.has_pdfs or not asked.has_pdfs)
            and (reports / "warehouse.duckdb").is_file()
            and not (reports / UNFINISHED).exists()
            and all(self.is_untouched(reports, name) for name in self.files)
        )

    def is_untouched(self, reports: Path, name: str) -> bool:
        """Whether a file of the folder is there and still as it was written."""
        return name in self.files and file_digest(reports / name) == self.files[name]


def _digests(values: Mapping[str, Any]) -> Iterator[dict[str, str]]:
    """The files and the pages; raises ValueError where a name leads out of the folder."""
    for table in (values["files"], values["pages"]):
        names = table.keys() if isinstance(table, dict) else [""]
        if not (all(map(is_inside, names)) and all(isinstance(one, str) for one in table.values())):
            raise ValueError("a record of another version, or nobody's")
        yield table


def is_inside(name: object) -> bool:
    """Whether this names a file below the folder it is looked for in."""
    parts = name.split("/") if isinstance(name, str) and "\0" not in name else [""]
    return not any(part in ("", ".", "..") for part in parts)


def inputs_digest(exports: Path, settings: Path | None, *, pseudonyms: bool = False) -> str:
    """Digest of everything a build depends on but its arguments.

    Taken before the exports are read: a file that changes in between is built anew next time.
    """
    names = sorted(entry.name for entry in _entries(exports))
    parts = [f"{name} {file_digest(exports / name)}" for name in names]
    asked = [file_digest(path) for path in (settings, _language_file(settings)) if path]
    names_or_codes = "codes" if pseudonyms else "names"
    return digest([*parts, *asked, names_or_codes, tools_digest()])


def _language_file(settings: Path | None) -> Path | None:
    """The language file that a settings file names; what is wrong with it is said on reading."""
    if settings is None:
        return None
    import tomllib

    try:
        table = tomllib.loads(text_of(settings))
        return Path(table["report"]["language"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def tools_digest() -> str:
    """Digest of our code and of the versions of whatever it runs on."""
    ours = [
        os.path.join(folder, name)  # noqa: PTH118 - a path object for each of them takes longer
        for part in OURS
        for folder, _, names in os.walk(HOUSE / part)
        for name in names
        if name.endswith(READ_BY_A_BUILD)
    ]
    packages = {
        entry.name
        for folder in sys.path
        for entry in _entries(Path(folder))
        if entry.name.endswith(".dist-info")
    }
    return digest(
        [
            sys.version,
            *(f"{os.path.relpath(path, HOUSE)} {file_digest(path)}" for path in sorted(ours)),
            *sorted(packages),
            *sorted(_native_libraries()),
        ]
    )


def digest(parts: Iterable[str]) -> str:
    """SHA-256 of a list of texts."""
    return hashlib.sha256("\n".join(parts).encode("utf-8", "surrogatepass")).hexdigest()


def file_digest(path: str | Path) -> str:
    """SHA-256 of a file; empty where there is none that can be read."""
    found = hashlib.sha256()
    try:
        if not os.path.isfile(path):  # noqa: PTH113
            return ""
        with open(path, "rb", buffering=0) as file:  # noqa: PTH123
            while part := file.read(1 << 20):
                found.update(part)
    except OSError:
        return ""
    return found.hexdigest()


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    try:
        with os.scandir(folder) as entries:
            return list(entries)
    except OSError:
        return []


def _native_libraries() -> set[str]:
    """Name, with its version, and size of each library file: `libpango-1.0.so.0.5000.12 399320`."""
    folders = [Path(folder) for folder in LIBRARY_FOLDERS]
    folders += [Path(part.path) for part in _entries(folders[0]) if "-linux-" in part.name]
    found = set()
    for folder in folders:
        for entry in _entries(folder):
            if entry.name.startswith(NATIVE) and entry.is_file():
                name = os.path.realpath(entry.path).rpartition(os.sep)[2]
                found.add(f"{name} {entry.stat().st_size}")
    return found
