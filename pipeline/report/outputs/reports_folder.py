"""Names and places in the reports folder, and how a finished build gets into it.

A build is made whole in a folder beside the reports. Once it is complete it is sealed, and only
then its files are moved over the last build's, each in one step. A build stopped before the seal
leaves the last reports as they were; one stopped after it is moved to its end by the next.
"""

import fcntl
import json
import os
import re
import shutil
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from pipeline.errors import SquadsidesError
from pipeline.last_build import (
    RECORD,
    UNFINISHED,
    LastBuild,
    Request,
    digest,
    file_digest,
    is_inside,
)
from pipeline.last_lines import Summary
from pipeline.unmade import PROBLEMS, traceback_file

SEAL = ".complete.json"
SHEETS = ("sheets/tests_*", "sheets/training_*")
OURS = (
    "squad_*",
    "athletes/*",
    *SHEETS,
)  # how PDFs are named, and the tracebacks of what could not be made
LONGEST_NAME = 200  # bytes; file systems take 255 with whatever stands before and behind
DEVICES = r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)"  # no file names on Windows


def file_names(texts: Iterable[str], endings: Sequence[str] = ("",)) -> dict[str, str]:
    """A name for each text that is a file name on every system; letters of any script stay.

    Names that a system could take for one, as most do not tell `ab` from `AB`, get a mark each:
    nobody's report is laid over another's. Each name is used with each of the endings.
    """
    plain = {text: _safe_name(text) for text in texts}
    names, length = dict(plain), 12
    while len(shared := _shared(name + end for name in names.values() for end in endings)) > 0:
        names = {text: f"{plain[text]}-{digest([text])[:length]}"
                 if any(_as_some_see_it(name + end) in shared for end in endings) else name
                 for text, name in names.items()}  # fmt: skip
        length += 4  # where somebody is called as a name with its mark is
    return names


def _shared(names: Iterable[str]) -> set[str]:
    alike = Counter(map(_as_some_see_it, names))
    return {name for name, count in alike.items() if count > 1}


def _safe_name(text: str) -> str:
    name = re.sub(r'[\x00-\x1f\x7f<>:"/\\|?*]', "_", text).strip(" .")
    name = name.encode()[:LONGEST_NAME].decode(errors="ignore").rstrip(" .")
    return name if name and not re.match(DEVICES, name) else "_" + name


def _as_some_see_it(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


@contextmanager
def building(reports: Path) -> Iterator[Path]:
    """An empty folder for a build's files, gone afterwards whatever happens; one build at a time.

    Raises SquadsidesError where the reports folder cannot be written or another build is at it.
    """
    was_there = reports.exists()
    try:
        reports.mkdir(parents=True, exist_ok=True)
        folder = os.open(reports, os.O_RDONLY)
    except OSError as broken:
        raise unwritable(reports, broken) from None
    try:
        fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(folder)
        raise SquadsidesError(
            f"Another build is writing to {reports} right now; wait until it is done."
        ) from None
    new = reports / UNFINISHED
    try:
        _finish(reports)
        _remove(new)
        (new / "athletes").mkdir(parents=True)
        (new / "sheets").mkdir()
        temporary_folder(new).mkdir()
        yield new
    except OSError as broken:
        raise unwritable(reports, broken) from None
    finally:
        if not (new / SEAL).exists():
            _remove(new)
        if not was_there:
            with suppress(OSError):  # it holds something by now, as it should
                reports.rmdir()
        os.close(folder)


def temporary_folder(new: Path) -> Path:
    """Where what helps to make a build lies until it ends; no part of the build."""
    return new / ".temporary"


def unwritable(reports: Path, broken: OSError) -> SquadsidesError:
    """What to say where the system refuses to write."""
    return SquadsidesError(
        f"The reports folder {reports} cannot be written: {broken.strerror or broken}. "
        "What was in it before is as it was."
    )


def left_over(
    reports: Path, new: Path, last: LastBuild | None, shown: Iterable[str] | None
) -> list[str]:
    """Names of earlier builds' PDFs and tracebacks that a build in `new` leaves without a meaning.

    `shown` names its PDFs; a build without any, None, leaves those that are there, each that could
    not be made with its traceback. What staff save there themselves stays. Without a record of the
    last build, files named as ours are taken for ours: nobody who has left the roster may stay
    behind in a report.
    """
    if last is None:
        kinds = [f"{kind}.pdf" for kind in OURS] + [f"{PROBLEMS}/{kind}.txt" for kind in OURS]
        kinds += [f"{kind}.xlsx" for kind in SHEETS]
        found = [path for kind in kinds for path in reports.glob(kind) if _lies_in(path, reports)]
        written = {path.relative_to(reports).as_posix() for path in found}
    else:
        written = {name for name in last.files if _comes_and_goes(name)}
    if shown is None:
        pdfs = {name for name in written if name.endswith(".pdf")}
        unmade = pdfs.difference(last.pages if last else ())
        shown = pdfs.union(map(traceback_file, unmade))
    made = {path.relative_to(new).as_posix() for path in _files_of(new)}
    return sorted(written.difference(shown, made))


def _comes_and_goes(name: str) -> bool:
    """Whether a file of ours is there in some weeks only."""
    return name.endswith(".pdf") or name.startswith((f"{PROBLEMS}/", "sheets/"))


def record(
    new: Path,
    last: LastBuild | None,
    asked: Request,
    summary: Summary,
    shown: Mapping[str, str],
    stale: Collection[str],
) -> None:
    """Write down what a complete build was made from; `shown` holds the digests of its pages.

    Of the last build's files that come and go those stay that are not `stale`.
    """
    kept = last.files if last else {}
    written = {path.relative_to(new).as_posix(): path for path in _files_of(new)}
    files = {name: kept[name] for name in kept if _comes_and_goes(name) and name not in stale}
    files |= {name: file_digest(path) for name, path in written.items() if path.suffix != ".duckdb"}
    made = asked.has_pdfs, asked.has_codes
    LastBuild(asked.inputs, *made, summary, files, shown).write(new)


def publish(new: Path, reports: Path, stale: Iterable[str]) -> None:
    """Seal a complete build and move it over the last one; `stale` names the files to remove.

    From the seal on Ctrl-C is too late: what it would leave are reports of two weeks.
    """
    _write_safely(new / SEAL, json.dumps(sorted(stale)))
    try:
        _finish(reports)
    except KeyboardInterrupt:
        _finish(reports)


def keep_filled_in(reports: Path, last: LastBuild | None) -> list[tuple[str, str]]:
    """Put aside each sheet that somebody filled in where it lies; its name, and the new one."""
    files = last.files if last is not None else {}
    sheets = [name for name in files if name.endswith(".xlsx")]
    kept = []
    for name in sheets:
        sheet = reports / name
        if sheet.is_symlink() or not (_lies_in(sheet, reports) and sheet.is_file()):
            continue
        if last is None or last.is_untouched(reports, name):
            continue
        copy = reports / f"{sheet.stem}_filled_in.xlsx"
        number = 1
        while copy.exists():
            number += 1
            copy = reports / f"{sheet.stem}_filled_in_{number}.xlsx"
        shutil.copyfile(sheet, copy)  # not its mode: what a build writes is its owner's alone
        copy.chmod(0o600)
        kept.append((name, copy.name))
    return kept


def _finish(reports: Path) -> None:
    """Move a sealed build to its place; the record goes last. Begun again, it ends the same.

    A seal that cannot be read, or that this program did not write, moves and removes nothing: the
    build begins anew.
    """
    new = reports / UNFINISHED
    seal = new / SEAL
    if (stale := _sealed(new)) is None:
        return
    files = [path for path in _files_of(new) if path != seal]
    for path in sorted(files, key=lambda path: path.name == RECORD):
        target = reports / path.relative_to(new)
        if target.parent.is_symlink():  # into some other folder
            target.parent.unlink()
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.is_dir() and not target.is_symlink():
            raise SquadsidesError(
                f"{target} is a folder, but a report belongs there. Give it another name and build "
                "again."
            )
        path.replace(target)
    for name in stale:
        if _lies_in(reports / name, reports):
            (reports / name).unlink(missing_ok=True)
    for folder in ("athletes", "sheets", ""):
        with suppress(OSError):  # there is none, or it holds something
            (reports / PROBLEMS / folder).rmdir()
    seal.unlink()
    _remove(new)


def _sealed(new: Path) -> list[str] | None:
    """The files to remove that the seal of a complete build names; None where there is none."""
    if new.is_symlink() or (new / SEAL).is_symlink() or not (new / SEAL).is_file():
        return None
    try:
        names = json.loads((new / SEAL).read_text(encoding="utf-8"))
    except (ValueError, RecursionError):
        names = None
    is_ours = isinstance(names, list) and all(map(is_inside, names))
    if is_ours and all(map(_comes_and_goes, names)):
        return list(names)
    _remove(new)
    return None


def _files_of(new: Path) -> list[Path]:
    """The files of a build, sorted; never those of a folder that a link leads to."""
    found = [Path(folder, name) for folder, _, names in os.walk(new) for name in names]
    beside = temporary_folder(new)
    return sorted(path for path in found if not (path.is_symlink() or beside in path.parents))


def _lies_in(path: Path, folder: Path) -> bool:
    """Whether no link on the way leads out of the folder."""
    return path.parent.resolve().is_relative_to(folder.resolve())


def _remove(folder: Path) -> None:
    """A folder with all that is in it; of a link, or where a file has its name, that alone."""
    if folder.is_symlink() or folder.is_file():
        folder.unlink()
    else:
        shutil.rmtree(folder, ignore_errors=True)


def _write_safely(path: Path, text: str) -> None:
    """A file that is there whole or not at all, on the disk before anything that follows."""
    part = path.with_name(path.name + ".part")
    with part.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
