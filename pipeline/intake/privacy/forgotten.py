"""People taken out of what the exports hold.

Their rows go before anything is made of them, so nothing of a forgotten person shapes a figure, is
listed as refused, or is told of; what others wrote about them goes at the end.
"""

import hashlib
import os
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path

import polars as pl
import polars.selectors as cs

from pipeline.errors import SquadsidesError
from pipeline.intake.parse.same_person import keys_of_people
from pipeline.intake.recognise.tables import Table, Tables
from pipeline.intake.rows.people import make_people
from pipeline.intake.settle.handover import Intake
from pipeline.team_files import text_of
from schemas.contracts.flag_ids import part_of
from schemas.vocabulary import Export

FORGOTTEN = ".forgotten"  # in the exports folder: one digest of an id or a name a line
PEOPLE = ("roster", "trials", "sets", "film")
FREE_TEXT = ("remark", "message", "reason", "who", "note", "owner", "position", "known_difference",
             "value", "original", "checkpoint", "said", "review_said")  # fmt: skip
SOMEBODY = "(removed)"
LEFT_OUT = "rows of people who asked to be forgotten, not read: {}"
WHOSE_FLAG = part_of("athlete_id")
DIGEST = re.compile("[0-9a-f]{64}")
WORD = re.compile(r"[^\s,;|\"“”()\[\]]+")
ENDS = ".:!?'’"
MOST_WORDS = 4  # of a name
LEAST_LETTERS = 3  # of an id or a name looked for in what people write; less is any word


@dataclass(frozen=True)
class Forgotten:
    """The people who are left out, as digests of their ids and names.

    A digest is that of an id as it stands, where another athlete's differs from it by case alone,
    or of the id or name as the roster compares it, which all ways to write it share.
    """

    digests: frozenset[str] = frozenset()

    def __or__(self, other: "Forgotten") -> "Forgotten":
        return Forgotten(self.digests | other.digests)

    def are_gone(self, texts: pl.Series) -> pl.Series:
        """Of each text whether it is the id or the name of somebody who is left out."""
        words = texts.cast(pl.String)
        known = words.unique().drop_nulls()
        gone = [text for text, key in zip(known, keys_of_people(known), strict=True)
                if {id_digest(text.strip()), key_digest(key)} & self.digests]  # fmt: skip
        return words.is_in(gone).fill_null(False)


NOBODY = Forgotten()


def id_digest(athlete_id: str) -> str:
    """SHA-256 of an athlete id as it stands."""
    return hashlib.sha256(athlete_id.encode("utf-8", "surrogatepass")).hexdigest()


def key_digest(key: str) -> str:
    """SHA-256 of an id or name as `person_key` has it; never that of an id as it stands."""
    return id_digest(f"\0{key}")


def digests_of(
    athlete_id: str, name: str | None = None, others: pl.DataFrame | None = None
) -> Forgotten:
    """Who is to be left out; `others` (athlete_id, name) are people who stay.

    A name that one of them has too names nobody.
    """
    key, called = keys_of_people(pl.Series([athlete_id, name], dtype=pl.String))
    stay = pl.DataFrame(schema={"athlete_id": pl.String, "name": pl.String})
    stay = stay if others is None else others.select(stay.columns)
    is_shared = key in keys_of_people(stay["athlete_id"])
    digests = {id_digest(athlete_id) if is_shared else key_digest(key)}
    if called and called not in keys_of_people(stay["name"]):
        digests.add(key_digest(called))
    return Forgotten(frozenset(digests))


def forgotten_people(folder: Path) -> Forgotten:
    """Whom staff asked to forget.

    Raises SquadsidesError where the list cannot be read: people would come back by a slip.
    """
    file = folder / FORGOTTEN
    if not os.path.lexists(file):
        return NOBODY
    why = ""
    try:
        lines = [line.strip() for line in text_of(file).splitlines()]
        odd = [number for number, line in enumerate(lines, start=1)
               if line and not DIGEST.fullmatch(line)]  # fmt: skip
        why = f"line {odd[0]} is not one of its digests" if odd else ""
    except UnicodeDecodeError:
        why = "it is no text"
    except OSError as broken:
        why = broken.strerror or str(broken)
    if why:
        raise SquadsidesError(
            f"{file}, the list of people who asked to be forgotten, cannot be read: {why}. Put it "
            "back as it was, or take the line out and forget the person again; nothing was built, "
            "as somebody might come back."
        )
    return Forgotten(frozenset(lines) - {""})


def remember_to_forget(folder: Path, forgotten: Forgotten) -> None:
    """Leave people out of every later build. The list is there whole or as it was before.

    Raises SquadsidesError where it cannot be written.
    """
    file = folder / FORGOTTEN
    digests = sorted((forgotten_people(folder) | forgotten).digests)
    part = file.with_name(f"{FORGOTTEN}.part")
    try:
        with part.open("w", encoding="ascii", newline="\n") as written:
            written.write("\n".join(digests) + "\n")
            written.flush()
            os.fsync(written.fileno())
        part.chmod(0o600)
        part.replace(file)
    except OSError as broken:
        part.unlink(missing_ok=True)
        raise SquadsidesError(
            f"{file} cannot be written: {broken.strerror or broken}. Nobody was forgotten; the "
            "reports are as they were."
        ) from None


@dataclass(frozen=True)
class Kept:
    """What one file holds without the rows of people left out: how many, and who they are."""

    tables: Tables
    gone: int = 0
    rosters: tuple[tuple[pl.DataFrame, pl.DataFrame], ...] = ()  # rows that stay, rows that go


def without_rows(parts: Tables, forgotten: Forgotten) -> Kept:
    """The tables of a grid without the rows of forgotten people, can they be read or not."""
    if not forgotten.digests:
        return Kept(parts)
    tables, rosters, count = [], [], 0
    for table in parts.tables:
        is_gone = _are_theirs(table, forgotten)
        count += int(is_gone.sum())
        if table.kind == Export.ROSTER:
            people = pl.DataFrame(
                {name: table.text(table.column(name)).cast(pl.String).str.strip_chars()
                 for name in ("athlete_id", "name")}
            )  # fmt: skip
            rosters.append((people.filter(~is_gone), people.filter(is_gone)))
        tables.append(
            replace(table, cells=table.cells.filter(~is_gone)) if is_gone.any() else table
        )
    strays = parts.strays
    if strays.height:
        is_gone = pl.Series([False]).new_from_index(0, strays.height)
        for place, name in enumerate(name for name in strays.columns if name.startswith("c")):
            cells = strays[name].cast(pl.String)
            found = forgotten.are_gone(cells)
            if place:  # a bare number may be anything but in the first cell
                found &= ~cells.str.contains(r"^\s*[0-9.]+\s*$").fill_null(False)
            is_gone |= found
        count += int(is_gone.sum())
        strays = strays.filter(~is_gone)
    return Kept(replace(parts, tables=tuple(tables), strays=strays), count, tuple(rosters))


def _are_theirs(table: Table, forgotten: Forgotten) -> pl.Series:
    is_gone = pl.Series([False]).new_from_index(0, table.cells.height)
    for name in ("athlete_id", "name", "flag_id"):
        column = table.column(name)
        if column is None:
            continue
        texts = table.text(column).cast(pl.String)
        if name == "flag_id":
            texts = texts.alias("flag_id").to_frame().select(WHOSE_FLAG).to_series()
        is_gone |= forgotten.are_gone(texts)
    return is_gone


def also_forgotten(
    rosters: Iterable[tuple[pl.DataFrame, pl.DataFrame]], forgotten: Forgotten
) -> Forgotten:
    """The other ids and names that rosters give people who are left out and nobody shares."""
    parts = list(rosters)
    if not any(gone.height for _, gone in parts):
        return NOBODY
    stay = pl.concat([stay for stay, _ in parts])
    found = NOBODY
    for who, name in pl.concat([gone for _, gone in parts]).drop_nulls().unique().iter_rows():
        more = digests_of(who, name, stay)
        is_known = forgotten.are_gone(pl.Series([who, name]))
        for text, known in zip((who, name), is_known, strict=True):
            if not known:
                own = {key_digest(keys_of_people(pl.Series([text]))[0]), id_digest(text)}
                found |= Forgotten(more.digests & frozenset(own))
    return found


def whom(intake: Intake, text: str) -> tuple[str, str | None, pl.DataFrame] | None:
    """Id, name and everybody else of an athlete, by an id or a name as people write it.

    None where neither the roster nor a refused row has one. Raises SquadsidesError for a name that
    several people have.
    """
    roster = as_text(intake).roster
    people = make_people(roster, {})
    place = people.find(pl.Series([text]))[0]
    if place is not None:
        who, name = people.ids[place], people.names[place]
        return who, name, roster.filter(pl.col("athlete_id") != who)
    if "athletes; expected" in (why := people.why_unknown(text)):
        raise SquadsidesError(f"{text} {why}; nothing was changed.")
    if text and digests_of(text).are_gone(intake.refused["who"].cast(pl.String)).any():
        return text, None, roster
    return None


def as_text(intake: Intake) -> Intake:
    """The intake with its dictionary-encoded columns as the texts they stand for."""
    frames = {field.name: getattr(intake, field.name) for field in fields(intake)}
    plain = {name: frame.with_columns(cs.categorical().cast(pl.String))
             for name, frame in frames.items()}  # fmt: skip
    return replace(intake, **plain)


def ids_of(intake: Intake) -> set[str]:
    """Every athlete id of the accepted rows."""
    frames = [getattr(intake, name)["athlete_id"] for name in PEOPLE]
    return set(pl.concat(frames).unique().drop_nulls())


def replacer(told: Mapping[str, str]) -> Callable[[str], str]:
    """Replaces whole mentions of ids and names in a text, the longest first."""
    longest_first = sorted(map(re.escape, told), key=len, reverse=True)
    mention = re.compile(rf"(?<!\w)(?:{'|'.join(longest_first)})(?!\w)")
    return lambda text: mention.sub(lambda found: told[found[0]], text)


def without_mentions(intake: Intake, forgotten: Forgotten) -> Intake:
    """The intake with every mention of people left out replaced in what was said or written."""
    if not forgotten.digests:
        return intake
    intake = as_text(intake)
    changed = {}
    for name in (field.name for field in fields(intake)):
        frame = getattr(intake, name)
        columns = [column for column in FREE_TEXT if frame.schema.get(column) == pl.String]
        told = mentions([frame[column] for column in columns], forgotten)
        if told:
            say = replacer(dict.fromkeys(told, SOMEBODY))
            changed[name] = frame.with_columns(
                pl.col(columns).map_elements(say, return_dtype=pl.String, skip_nulls=True)
            )
    return replace(intake, **changed)


def mentions(columns: Iterable[pl.Series], forgotten: Forgotten) -> list[str]:
    """How the texts of these columns spell ids and names of people left out."""
    texts = pl.concat([pl.Series([], dtype=pl.String), *(c.rename("") for c in columns)]).unique()
    found: set[str] = set()
    for text in texts.drop_nulls():
        spans = [word.span() for word in WORD.finditer(text)]
        for first in range(len(spans)):
            for last in spans[first : first + MOST_WORDS]:
                part = text[spans[first][0] : last[1]].strip(ENDS)
                found |= {part, part.rpartition(".")[0]}  # as a file may be called after somebody
    known = [part for part in found if len(part) >= LEAST_LETTERS and not part.isdigit()]
    listed = pl.Series(sorted(known), dtype=pl.String)
    return listed.filter(forgotten.are_gone(listed)).to_list()
