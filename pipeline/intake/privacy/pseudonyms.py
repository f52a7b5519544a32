"""A week that can be shared: codes for people, squads and files, and closed sets for the rest.

Works on the accepted rows, before anything is estimated, so nothing after this point knows what
was replaced. A text column that nothing is said of here is left blank.
"""

import hmac
import os
import re
import secrets
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path

import polars as pl

from pipeline.catalogue import catalogue, full_catalogue
from pipeline.errors import SquadsidesError
from pipeline.intake.privacy.forgotten import SOMEBODY, WHOSE_FLAG, as_text, ids_of, replacer
from pipeline.intake.privacy.own_words import in_own_words
from pipeline.intake.settle.handover import Intake
from pipeline.settings import Settings
from schemas.columns import COLUMNS
from schemas.contracts.flag_ids import part_of

# Text columns that hold words of this program alone, in whichever table they stand.
CLOSED = {"measure", "kind", "sha256", "about", "bears_on"}
CLOSED |= {column.name for column in COLUMNS.values() if column.shared}
SAID = ("remark", "message", "reason")  # what the intake said itself, quoting what it found
# Columns that tell too much whatever they hold.
BLANK = ("grew_cm", *(column.name for column in COLUMNS.values() if column.shared is False))
KEY = ".codes"  # in the exports folder: what codes are made with, for its owner alone
KEY_BYTES = 32
# Digits and capitals that nobody mistakes for each other, and that spell no word.
LETTERS = "23456789CDFGHJKMNPQRTVWX"
CODE_LENGTH = 5  # 8 million codes; two texts that share one get a letter more
TEMPO = r"^[0-9xX]{1,4}(?:[-/.: ][0-9xX]{1,2}){0,3}$"


@dataclass(frozen=True)
class Codes:
    """What stands for what: ids and names of people, squads, files, exercises, checkpoints."""

    people: Mapping[str, str]  # by id
    names: Mapping[str, str]
    squads: Mapping[str, str]
    files: Mapping[str, str]
    sheets: Mapping[str, str]  # by file and sheet, a zero between them
    exercises: Mapping[str, str]  # those outside the dictionary
    checkpoints: Mapping[str, str]


def code_key(exports: Path, *, new: bool = False) -> bytes:
    """The random key of these exports' codes, made at its first use or where a `new` one is wanted.

    Raises SquadsidesError where it cannot be read or written: codes that change from week to week
    would tell two people where there is one.
    """
    file = exports / KEY
    try:
        if os.path.lexists(file) and not new:
            text = file.read_text(encoding="utf-8-sig").strip()
            if re.fullmatch(f"[0-9a-f]{{{2 * KEY_BYTES}}}", text):
                return bytes.fromhex(text)
            why = "it is not what this program wrote"
        else:
            key = secrets.token_bytes(KEY_BYTES)
            part = file.with_name(f"{KEY}.part")
            part.unlink(missing_ok=True)
            part.touch(0o600, exist_ok=False)
            with part.open("w", encoding="ascii") as written:
                written.write(key.hex() + "\n")
                written.flush()
                os.fsync(written.fileno())
            part.replace(file)
            return key
    except (OSError, UnicodeDecodeError) as broken:
        why = getattr(broken, "strerror", None) or "it is no text"
    raise SquadsidesError(
        f"{file}, which the codes are made with, cannot be used: {why}. Put it back as it was, or "
        "ask for new codes with --new-codes; nothing was built."
    )


def with_codes(intake: Intake, settings: Settings, key: bytes) -> tuple[Intake, Settings]:
    """The intake and the settings with nothing in them that somebody typed but numbers and days.

    A code of a person, squad or exercise comes from the text and the key alone: it stays from week
    to week, whoever joins or leaves, and without the key nobody can tell whose it is.
    """
    intake = as_text(intake)
    codes = _codes(intake, key)
    frames = {field.name: getattr(intake, field.name) for field in fields(intake)}
    coded = {name: _coded(frame, codes) for name, frame in frames.items()}
    lines = {
        codes.squads[squad]: lines
        for squad, lines in settings.review_lines.items()
        if squad in codes.squads
    }
    report = settings.report.model_copy(update={"header": "", "medical_contact": ""})
    return replace(intake, **coded), settings.model_copy(
        update={"review_lines": lines, "report": report}
    )


def _codes(intake: Intake, key: bytes) -> Codes:
    people = _secret(ids_of(intake), "P{}", key)
    roster = intake.roster
    # Files in the order of their names, as some rows are put in that order.
    places = intake.files.select("file", "sheet").unique(maintain_order=True).rows()
    seen: Counter[str] = Counter()
    sheets = {}
    for file, sheet in places:
        if sheet:
            seen[file] += 1
            sheets[f"{file}\0{sheet}"] = str(seen[file])
    done = pl.concat([intake.sets["exercise"], intake.film["exercise"]]).unique().drop_nulls()
    return Codes(
        people=people,
        names={name: people[who] for name, who in roster.select("name", "athlete_id").iter_rows()},
        squads=_secret(roster["squad"].unique().drop_nulls(), "Squad {}", key),
        files=_numbered(dict.fromkeys(file for file, _ in places), "file {}"),
        sheets=sheets,
        exercises=_secret(
            set(done) - catalogue().exercises.keys() - catalogue().coaching.drills.keys(),
            "exercise_{}_outside_the_dictionary",
            key,
        ),
        checkpoints=_secret(intake.film["checkpoint"].unique().drop_nulls(), "checkpoint {}", key),
    )


def _secret(texts: Iterable[str], form: str, key: bytes) -> dict[str, str]:
    """A code for each text that only the key leads to."""
    spelt = {text: _letters(hmac.digest(key, f"{form}\0{text}".encode(), "sha256"))
             for text in texts}  # fmt: skip
    length = CODE_LENGTH
    codes = {text: letters[:length] for text, letters in spelt.items()}
    while len(set(codes.values())) < len(codes):
        length += 1
        shared = {code for code, count in Counter(codes.values()).items() if count > 1}
        codes = {text: spelt[text][:length] if code in shared else code
                 for text, code in codes.items()}  # fmt: skip
    return {text: form.format(code) for text, code in sorted(codes.items())}


def _letters(digest: bytes) -> str:
    number, letters = int.from_bytes(digest), ""
    while number:
        number, place = divmod(number, len(LETTERS))
        letters += LETTERS[place]
    return letters


def _numbered(texts: Iterable[str], form: str) -> dict[str, str]:
    """A code for each text, numbered so that the codes sort as the texts stand."""
    listed = list(texts)
    width = len(str(len(listed)))
    return {text: form.format(f"{place:0{width}d}") for place, text in enumerate(listed, start=1)}


def _coded(frame: pl.DataFrame, codes: Codes) -> pl.DataFrame:
    """One table of the intake with every text column of it replaced, told in own words or blank."""
    changed: dict[str, pl.Expr] = {
        "athlete_id": _as_code("athlete_id", codes.people),
        "name": _as_code("athlete_id", codes.people),
        "squad": _as_code("squad", codes.squads),
        "checkpoint": _as_code("checkpoint", codes.checkpoints),
        "exercise": pl.col("exercise").replace(codes.exercises),
        "known_difference": pl.when(pl.col("known_difference").is_not_null()).then(
            pl.lit("known difference")  # that there is one decides what is done about it
        ),
        "value_given": pl.col("value").cast(pl.String),
        "tempo": pl.when(pl.col("tempo").str.contains(TEMPO)).then("tempo"),
        "flag_id": _flag_id(codes),
        # What was typed is somebody's own words: the word that was read stands for it.
        "said": pl.coalesce(
            "decision", pl.when(pl.col("said").is_not_null()).then(pl.lit(SOMEBODY))
        ),
        "review_said": pl.when(pl.col("review_said").is_not_null()).then(pl.lit(SOMEBODY)),
        "owner": pl.when(pl.col("owner").is_not_null()).then(pl.lit(SOMEBODY)),
        "column": _known_column(),
        "order_file": _as_code("order_file", _places(codes)),
        "value": pl.lit(SOMEBODY),
        "original": pl.lit(SOMEBODY),
    }
    for file, sheet in (("source_file", "source_sheet"), ("file", "sheet")):
        changed[file] = _as_code(file, codes.files)
        place = pl.concat_str(file, sheet, separator="\0", ignore_nulls=True)
        changed[sheet] = place.replace_strict(codes.sheets, default="", return_dtype=pl.String)
    say = _teller(codes)
    changed |= {
        name: pl.col(name).map_elements(say, return_dtype=pl.String, skip_nulls=True)
        for name in SAID
    }
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    blank = [name for name in frame.columns if name in BLANK]
    blank += [name for name in texts if name not in changed.keys() | CLOSED]
    told = frame.with_columns(
        *(changed[name].alias(name) for name in texts if name in changed),
        *(pl.lit(None, frame.schema[name]).alias(name) for name in blank),
    )
    # A decision about nobody who is here, or about nothing known, is somebody's own words.
    return told.drop_nulls("flag_id") if "flag_id" in told.columns else told


def _flag_id(codes: Codes) -> pl.Expr:
    """The code of the athlete, what the flag is about, and its kind; null where one is not known.

    It is about a test, an exercise or a part of the body (`lower_body`).
    """
    book = full_catalogue()
    known = {f"{one.region}_body" for one in book.exercises.values()} | {"other_body"}
    known |= (
        book.exercises.keys()
        | book.coaching.drills.keys()
        | set(codes.exercises.values())
        | book.rules.signs.keys()
    )
    who = WHOSE_FLAG.replace_strict(codes.people, default=None, return_dtype=pl.String)
    about = part_of("topic").replace(codes.exercises)
    is_known = about.map_elements(
        lambda name: name in known or book.find_measure(name) is not None,
        return_dtype=pl.Boolean,
    )
    return pl.when(is_known).then(pl.concat_str(who, about, part_of("family"), separator="."))


def _as_code(name: str, codes: Mapping[str, str]) -> pl.Expr:
    return pl.col(name).replace_strict(codes, default=None, return_dtype=pl.String)


def _known_column() -> pl.Expr:
    """The column a header stands for, blank where it is none of ours."""
    book = catalogue().headers
    known = {
        spelling: column
        for kind in book.kinds.values()
        for column, spellings in kind.columns.items()
        for spelling in spellings
    }
    plain = pl.col("column").str.to_lowercase().str.replace_all(r"[\W_]+", "")
    return plain.replace_strict(known, default="", return_dtype=pl.String)


def _places(codes: Codes) -> dict[str, str]:
    """Files and sheets as people name them, by how they are named."""
    named = dict(codes.files)
    for place, number in codes.sheets.items():
        file, _, sheet = place.partition("\0")
        named[f"{file}, sheet {sheet}"] = f"{codes.files[file]}, sheet {number}"
    return named


def _teller(codes: Codes) -> Callable[[str], str]:
    """Says a text again with codes for names and without what is not the program's own."""
    told = {**codes.names, **codes.people, **codes.squads, **_places(codes)}
    mentions = replacer(told)
    words = in_own_words([*codes.names, *codes.people], told.values())
    return lambda text: words(mentions(text))
