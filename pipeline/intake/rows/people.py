"""The roster: who is tested, and what later rows need to know of each person."""

from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from functools import cached_property

import polars as pl

from pipeline.catalogue import catalogue
from pipeline.intake.account.faults import Faults
from pipeline.intake.parse.same_person import LONGEST_ID, OTHER_SCRIPT, keys_of_people, skeletons
from pipeline.intake.parse.values import Words, chosen, put, read_words
from pipeline.intake.recognise.kinds import Column
from pipeline.intake.recognise.tables import Table
from pipeline.intake.rows.cells import Reader, holds_anything
from schemas.columns import COLUMNS
from schemas.vocabulary import Availability, Side

ROSTER = list(catalogue().headers.kinds["roster"].columns)
MEASURED = [name for name in ROSTER if COLUMNS[name].kind == "number"]
DATES = [name for name in ROSTER if COLUMNS[name].kind == "day"]
TYPES = {
    **dict.fromkeys(ROSTER, pl.String),
    **dict.fromkeys(DATES, pl.Date),
    **dict.fromkeys(MEASURED, pl.Float64),
}
EXPECTED = {"athlete_id": "an id", "name": "a name", "squad": "the name of a squad"}
SIDE_CODES = {Side.LEFT: 0, Side.RIGHT: 1}
UNCLEAR = Availability.UNCLEAR  # an availability that could not be read
LEG_OF_HEIGHT = 0.505  # leg length as a share of standing height; from memory
USUAL_LIMB_CM = 90.0  # where nothing about the athlete is known


@dataclass(frozen=True)
class People:
    """The athletes of the roster; every series has one value an athlete, in this order.

    `hand`, `foot` and `known_side` are 0 left, 1 right, null both or unknown. Limb lengths are
    in cm, body mass in kg; `limb_guess` says which limb lengths are not from the roster.
    """

    ids: pl.Series
    names: pl.Series
    hand: pl.Series
    foot: pl.Series
    known_side: pl.Series
    body_mass: pl.Series
    limbs: tuple[pl.Series, pl.Series]
    limb_guess: pl.Series
    sex: pl.Series
    born_on: pl.Series
    refused: dict[str, str]  # id -> where its roster row was refused
    masses: pl.DataFrame  # athlete, day, mass: what athletes weighed on several days, by day

    def find(self, texts: pl.Series) -> pl.Series:
        """Place of the athlete with this id, or else this name (UInt32); null where it is no one's.

        Case, and what spreadsheets do to ids that are numbers (007 and 7.0 become 7), does not
        matter as long as the roster has only one such id or name.
        """
        exact, ids, names = self._places
        keys = keys_of_people(texts)
        found = [
            texts.replace_strict(exact, default=None, return_dtype=pl.UInt32),
            *(
                keys.replace_strict(_only(known), default=None, return_dtype=pl.UInt32)
                for known in (ids, names)
            ),
        ]
        return pl.select(pl.coalesce(found)).to_series()

    @cached_property
    def _places(self) -> tuple[dict[str, int], dict[str, list[int]], dict[str, list[int]]]:
        """Place of each id; places of each id and of each name however it is written."""
        exact = {key: place for place, key in enumerate(self.ids)}
        return exact, _places(self.ids), _places(self.names)

    @cached_property
    def _alike(self) -> dict[str, str]:
        """Ids and names by what they look like."""
        texts = pl.concat([self.names, self.ids]).drop_nulls()
        return dict(zip(skeletons(texts), texts, strict=True))

    def mass_on(self, athlete: pl.Series, day: pl.Series) -> pl.Series:
        """Body mass of each athlete (place in the roster) on each day, in kg.

        The newest of that day or before, else the first after; null where none is known.
        """
        newest = self.body_mass.gather(athlete)
        if self.masses.is_empty():
            return newest
        asked = pl.DataFrame({"athlete": athlete, "day": day}).with_row_index("at")
        asked = asked.filter(athlete.is_in(self.masses["athlete"].implode()) & day.is_not_null())
        asked = asked.sort("day")
        before, after = (
            asked.join_asof(
                self.masses, on="day", by="athlete", strategy=way, check_sortedness=False
            )["mass"]
            for way in ("backward", "forward")
        )
        return put(newest, asked["at"], before.zip_with(before.is_not_null(), after))

    def why_unknown(self, text: str) -> str:
        """What to tell about a text that is no athlete's id and no one athlete's name."""
        if text in self.refused:
            return f"is in the roster, but its row was refused ({self.refused[text]})"
        _, _, names = self._places
        namesakes = names.get(keys_of_people(pl.Series([text]))[0], [])
        if namesakes:
            shared = ", ".join(sorted(self.ids.gather(namesakes)))
            return f"is the name of {len(namesakes)} athletes; expected an id, one of {shared}"
        if len(text) > LONGEST_ID:
            return "is not in the roster"
        if alike := self._alike.get(skeletons(pl.Series([text]))[0]):
            return f"is not in the roster; it looks like {alike}, but holds {OTHER_SCRIPT}"
        near = get_close_matches(text, [*self.ids, *self.names], n=2, cutoff=0.7)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        return f"is not in the roster{hint}"


def read_roster(table: Table, reader: Reader) -> tuple[pl.DataFrame, pl.DataFrame, int]:
    """Rows of one roster table (row, the roster's columns, has_<column>), faults, rows read."""
    faults = Faults(frozenset(EXPECTED))
    words = {column.name: read_words(table.text(column)) for column in table.reading.columns}
    is_read = holds_anything(words.values())
    values = {
        column.name: _read_column(table, column, words[column.name], reader, faults)
        for column in table.reading.columns
    }
    for column in table.reading.columns:
        if column.name in EXPECTED:
            is_blank = words[column.name].codes.is_null() & is_read
            faults.add_blanks(column, is_blank, EXPECTED[column.name])
        if column.name == "athlete_id":
            long = values[column.name].cast(pl.String).str.len_chars() > LONGEST_ID
            at = long.fill_null(False).arg_true()
            reason = pl.Series([f"is longer than {LONGEST_ID} letters; expected an id"])
            faults.add(
                column, at, values[column.name].gather(at), reason.new_from_index(0, len(at))
            )
    rows = pl.DataFrame({"row": pl.int_range(table.cells.height, dtype=pl.UInt32, eager=True)})
    rows = rows.with_columns(
        (values[name] if name in values else pl.lit(None)).cast(kind).alias(name)
        for name, kind in TYPES.items()
    )
    # A cell that cannot be read says nothing, as where the column is lacking.
    rows = rows.with_columns(
        faults.says_something(table.column(name)).alias(f"has_{name}") for name in TYPES
    )
    # But that somebody is available was said of another day: until it is asked, nobody knows.
    is_unclear = pl.col("row").is_in(faults.rows_of(table.column("availability")).implode())
    rows = rows.with_columns(
        pl.when(is_unclear).then(pl.lit(UNCLEAR)).otherwise("availability").alias("availability"),
        has_availability=pl.col("has_availability") | is_unclear,
    )
    found = faults.frame.filter(is_read.gather(faults.frame["row"]))
    refused = found.filter(~pl.col("row_kept"))["row"]
    kept = rows.filter(is_read & ~rows["row"].is_in(refused.implode()))
    return kept, found, int(is_read.sum())


def _read_column(
    table: Table, column: Column, words: Words, reader: Reader, faults: Faults
) -> pl.Series:
    if column.name == "availability":
        return reader.first_word(column, words, faults)
    if COLUMNS[column.name].kind == "word":
        return reader.choice(column, words, faults)
    if column.name in DATES:
        return reader.dates(column, words, faults, births=column.name != "measured_on")
    if column.name in MEASURED:
        return reader.measured(column, table.text(column), faults)
    if column.name == "known_difference":
        is_none = chosen(words.texts, catalogue().headers.words[column.name])
        return words.spread(words.texts.set(is_none.is_not_null(), None))
    return words.rows


def make_people(
    roster: pl.DataFrame, refused: dict[str, str], masses: pl.DataFrame | None = None
) -> People:
    """What later rows need of the roster (one row an athlete); refused: id -> where.

    `masses`: athlete_id, measured_on and body_mass_kg of those weighed on several days.
    """
    left, right = roster["left_limb_length_cm"], roster["right_limb_length_cm"]
    by_height = roster["height_cm"] * LEG_OF_HEIGHT
    limbs = [
        one.zip_with(one.is_not_null(), other).fill_null(by_height).fill_null(USUAL_LIMB_CM)
        for one, other in ((left, right), (right, left))
    ]
    guess = (
        pl.when(left.is_not_null() & right.is_not_null())
        .then(None)
        .when(left.is_not_null() | right.is_not_null())
        .then(pl.lit("reach scaled by one limb length for both sides, the roster has no other"))
        .when(by_height.is_not_null())
        .then(
            pl.lit(f"reach scaled by {LEG_OF_HEIGHT} of the height, limb lengths not in the roster")
        )
        .otherwise(
            pl.lit(f"reach scaled by a limb length of {USUAL_LIMB_CM:g} cm, none in the roster")
        )
    )
    return People(
        ids=roster["athlete_id"],
        names=roster["name"],
        hand=_side(roster["dominant_hand"]),
        foot=_side(roster["dominant_foot"]),
        known_side=_side(roster["known_side"]),
        body_mass=roster["body_mass_kg"],
        limbs=(limbs[0], limbs[1]),
        limb_guess=pl.select(guess).to_series(),
        sex=roster["sex"],
        born_on=roster["birth_date"],
        refused=refused,
        masses=_by_place(masses, roster["athlete_id"]),
    )


def _by_place(masses: pl.DataFrame | None, ids: pl.Series) -> pl.DataFrame:
    """Masses by place in the roster and day; one without a day is older than all others."""
    schema = {"athlete": pl.UInt32, "day": pl.Date, "mass": pl.Float64}
    if masses is None or masses.is_empty():
        return pl.DataFrame(schema=schema)
    places = {key: place for place, key in enumerate(ids)}
    place = pl.col("athlete_id").replace_strict(places, return_dtype=pl.UInt32)
    day = pl.col("measured_on").fill_null(date.min)
    return masses.select(athlete=place, day=day, mass="body_mass_kg").sort("day")


def _places(texts: pl.Series) -> dict[str, list[int]]:
    """Places of each text however it is written."""
    places: dict[str, list[int]] = {}
    for place, key in enumerate(keys_of_people(texts)):
        places.setdefault(key, []).append(place)
    return places


def _only(places: dict[str, list[int]]) -> dict[str, int]:
    """Place of each text that has only one."""
    return {key: found[0] for key, found in places.items() if len(found) == 1}


def _side(texts: pl.Series) -> pl.Series:
    return texts.replace_strict(SIDE_CODES, default=None, return_dtype=pl.UInt8)
