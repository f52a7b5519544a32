"""The two folders a command is given: what staff drop, and what is written for them.

Standard library only: it is asked before anything is imported that takes a while.
"""

import os
from pathlib import Path

from pipeline.errors import SquadsidesError


def check_apart(exports: Path, reports: Path) -> None:
    """Raise SquadsidesError where one of the folders is the other or lies inside it.

    The file system is asked which folders are one, so links, relative paths and, where it folds
    it, the case of names do not matter. Nothing needs to be there yet.
    """
    for folder in (exports, reports):
        try:
            os.fspath(folder).encode()
        except UnicodeEncodeError:
            raise SquadsidesError(
                f"The name of the folder {folder} holds bytes that are no letters; the database "
                "cannot open such a path. Choose a folder of another name."
            ) from None
    dropped, written = (Path(os.path.realpath(folder)) for folder in (exports, reports))
    if _is_within(written, dropped) and _is_within(dropped, written):
        what = f"The exports folder {exports} and the reports folder {reports} are the same folder"
    elif _is_within(written, dropped):
        what = f"The reports folder {reports} lies inside the exports folder {exports}"
    elif _is_within(dropped, written):
        what = f"The exports folder {exports} lies inside the reports folder {reports}"
    else:
        return
    raise SquadsidesError(
        f"{what}; choose a folder of its own for the reports. Nothing was written."
    )


def _is_within(inner: Path, outer: Path) -> bool:
    return any(_are_one(folder, outer) for folder in (inner, *inner.parents))


def _are_one(folder: Path, other: Path) -> bool:
    try:
        return folder.samefile(other)
    except OSError:  # one of them is not there yet, or may not be looked at
        return folder == other
