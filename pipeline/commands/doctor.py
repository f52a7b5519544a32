"""Is everything there that a build needs, and how is what is missing mended?

Standard library first: what is being looked for may not be there.
"""

import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from pipeline.control_characters import visible
from pipeline.errors import SquadsidesError
from pipeline.folders import check_apart
from pipeline.version import NEWEST_PYTHON, dotted

NEEDED = ("polars", "duckdb", "pandera", "pydantic", "fastexcel", "numpy", "scipy", "jinja2",
          "babel", "altair", "vl-convert-python", "weasyprint", "fontpkg-source-sans-3",
          "fontpkg-ibm-plex-sans-arabic", "manimgx-fonts", "noto-cjk-sans-otc", "uharfbuzz",
          "fonttools", "xlsxwriter", "rich")  # fmt: skip
LEAST_FREE_MB = 500  # a sample build needs 15; a squad's seasons some hundreds
Finding = tuple[str, str]  # what was found, and how to mend it; blank where all is well


def examine(exports: Path, reports: Path, settings: Path | None) -> list[Finding]:
    """Every finding in turn; none of them changes anything."""
    checks: list[Callable[[], Finding]] = [
        _python,
        _packages,
        _native_libraries,
        _typefaces,
        lambda: _exports(exports),
        lambda: _apart(exports, reports),
        lambda: _reports(reports),
        lambda: _space(reports),
        lambda: _settings(settings),
    ]
    return [check() for check in checks]


def _python() -> Finding:
    found = f"Python {dotted(sys.version_info[:3])}"  # one that is too old is told sooner
    if sys.version_info[:2] > NEWEST_PYTHON:
        found += f", newer than {dotted(NEWEST_PYTHON)}, the latest this was tested with"
    return found, ""


def _packages() -> Finding:
    missing = []
    for name in NEEDED:
        try:
            version(name)
        except PackageNotFoundError:
            missing.append(name)
    if missing:
        return f"missing packages: {', '.join(missing)}", "run `make`; it installs them"
    return f"{len(NEEDED)} packages are installed", ""


def _native_libraries() -> Finding:
    try:
        from pipeline.report.pdf.render import check_libraries

        check_libraries()
    except (SquadsidesError, ImportError) as missing:
        return "the PDF writer's native libraries are not complete", str(missing)
    return "the PDF writer's native libraries are complete", ""


def _typefaces() -> Finding:
    try:
        from pipeline.report.pdf.typeface import SCRIPTS, ours

        ours()
    except (SquadsidesError, ImportError) as missing:
        return "the typefaces of the reports are not complete", str(missing)
    scripts = ["Latin", "Greek", "Cyrillic", *SCRIPTS[:-1], "Chinese", "Japanese", "Korean"]
    return f"names can be printed in {', '.join(scripts)}", ""


def _exports(folder: Path) -> Finding:
    if not folder.is_dir():
        return f"there is no folder {folder}", "create it and put the exports into it"
    unreadable = [
        entry.name
        for entry in folder.iterdir()
        if entry.is_file() and not os.access(entry, os.R_OK)
    ]
    if unreadable:
        return (
            f"{folder} holds files you may not read: {', '.join(map(visible, unreadable))}",
            "ask for the right",
        )
    count = sum(entry.is_file() and not entry.name.startswith(".") for entry in folder.iterdir())
    return f"{folder} holds {count} {'file' if count == 1 else 'files'}", ""


def _apart(exports: Path, reports: Path) -> Finding:
    try:
        check_apart(exports, reports)
    except SquadsidesError as overlap:
        return "exports and reports are not two folders", str(overlap)
    return "exports and reports are two folders", ""


def _reports(folder: Path) -> Finding:
    place = folder
    while not place.exists():
        place = place.parent
    try:
        with tempfile.TemporaryFile(dir=place):
            pass
    except OSError as broken:
        return f"{place} cannot be written: {broken.strerror}", "choose another reports folder"
    if place == folder and folder.stat().st_mode & 0o077:
        return (
            f"{folder} can be read by others on this machine",
            f"type `chmod -R go-rwx {folder}`, unless that is meant",
        )
    return f"{folder} can be written", ""


def _space(folder: Path) -> Finding:
    place = folder
    while not place.exists():
        place = place.parent
    free = shutil.disk_usage(place).free // 1_000_000
    return (
        f"{free:,} MB are free for the reports",
        "" if free >= LEAST_FREE_MB else f"make room: at least {LEAST_FREE_MB} MB",
    )


def _settings(file: Path | None) -> Finding:
    if file is None:
        return "no settings file; the defaults apply", ""
    try:
        from pipeline.report.text.phrases import language
        from pipeline.settings import read_settings

        language(read_settings(file).report.language)
    except (SquadsidesError, ImportError) as wrong:
        return f"{file} cannot be used", str(wrong)
    return f"{file} is in order", ""
