"""People taken out of what the exports hold.

Works on the accepted rows, before anything is estimated, so nothing of a forgotten person shapes a
squad's figures.
"""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import polars.selectors as cs

from pipeline.errors import SquadsidesError
from schemas.flag_ids import part_of

if TYPE_CHECKING:
    from pipeline.intake import Intake

FORGOTTEN = ".forgotten"  # in the exports folder: one digest of an athlete id a line
PEOPLE = ("roster", "trials", "sets", "film")
FREE_TEXT = ("who", "note", "owner", "known_difference", "value", "original", "said", "review_said")
SOMEBODY = "(removed)"
WHOSE_FLAG = part_of("athlete_id")


def forgotten_ids(folder: Path) -> frozenset[str]:
    """The digests of the ids that staff asked to forget."""
    file = folder / FORGOTTEN
    return frozenset(file.read_text(encoding="ascii").split()) if file.is_file() else frozenset()


def remember_to_forget(folder: Path, athlete_id: str) -> None:
    """Leave a person out of every later build; the list holds no id, only its digest."""
    digests = sorted(forgotten_ids(folder) | {id_digest(athlete_id)})
    (folder / FORGOTTEN).write_text("\n".join(digests) + "\n", encoding="ascii")


def id_digest(athlete_id: str) -> str:
    """SHA-256 of an athlete id."""
    return hashlib.sha256(athlete_id.encode("utf-8")).hexdigest()


def without_forgotten(intake: "Intake", forgotten: frozenset[str]) -> "Intake":
    """The intake without the rows of forgotten people; texts that name them are blanked.

    Raises SquadsidesError where nobody is left.
    """
    if not forgotten:
        return intake
    intake = as_text(intake)
    gone = {who: SOMEBODY for who in ids_of(intake) if id_digest(who) in forgotten}
    gone |= {
        name: SOMEBODY
        for who, name in intake.roster.select("athlete_id", "name").iter_rows()
        if who in gone and name
    }
    if not gone:
        return intake
    stays = ~pl.col("athlete_id").is_in(list(gone))
    kept = {name: getattr(intake, name).filter(stays) for name in PEOPLE}
    if kept["roster"].is_empty():
        raise SquadsidesError("Everybody in the roster has been forgotten; there is no report.")
    decisions = intake.decisions.filter(~WHOSE_FLAG.is_in(list(gone)))
    is_theirs = pl.col("athlete_id").is_in(list(gone)).fill_null(False)
    refused = intake.refused.with_columns(
        pl.when(~is_theirs).then(pl.col("who", "athlete_id", "bears_on"))
    )
    left = replace(intake, decisions=decisions, refused=refused, **kept)
    return _retold(left, replacer(gone))


def rows_naming(intake: "Intake", athlete_id: str) -> dict[str, int]:
    """How many accepted rows of each dropped file are about a person."""
    intake = as_text(intake)
    about = [
        getattr(intake, name).filter(athlete_id=athlete_id).select("source_file") for name in PEOPLE
    ]
    about.append(intake.decisions.filter(athlete_id == WHOSE_FLAG).select("source_file"))
    counted = pl.concat(about).group_by("source_file").len().sort("source_file")
    return dict(counted.iter_rows())


def as_text(intake: "Intake") -> "Intake":
    """The intake with its dictionary-encoded columns as the texts they stand for."""
    frames = {field.name: getattr(intake, field.name) for field in fields(intake)}
    plain = {name: frame.with_columns(cs.categorical().cast(pl.String))
             for name, frame in frames.items()}  # fmt: skip
    return replace(intake, **plain)


def ids_of(intake: "Intake") -> set[str]:
    """Every athlete id of the accepted rows."""
    frames = [getattr(intake, name)["athlete_id"] for name in PEOPLE]
    return set(pl.concat(frames).unique().drop_nulls())


def replacer(told: Mapping[str, str]) -> Callable[[str], str]:
    """Replaces whole mentions of ids and names in a text, the longest first."""
    longest_first = sorted(map(re.escape, told), key=len, reverse=True)
    mention = re.compile(rf"(?<!\w)(?:{'|'.join(longest_first)})(?!\w)")
    return lambda text: mention.sub(lambda found: told[found[0]], text)


def _retold(intake: "Intake", say: Callable[[str], str]) -> "Intake":
    """The remarks, doubts, refused rows and notes with every mention replaced."""
    changed = {}
    for name in (field.name for field in fields(intake)):
        frame = getattr(intake, name)
        texts = [column for column in ("remark", "message", "reason", *FREE_TEXT)
                 if frame.schema.get(column) == pl.String]  # fmt: skip
        changed[name] = frame.with_columns(
            pl.col(texts).map_elements(say, return_dtype=pl.String, skip_nulls=True)
        )
    return replace(intake, **changed)
