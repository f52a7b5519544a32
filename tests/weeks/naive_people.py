"""Rosters by the contract: who there is, and what is known of each, cell by cell."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.catalogue import catalogue
from tests.weeks import naive_cells as cells
from tests.weeks.decks import BIRTHS, HEIGHTS, MASSES, NO_DIFFERENCE, SINCE, Odd
from tests.weeks.naive_cells import Unreadable
from tests.weeks.naive_rows import Known, loosened
from tests.weeks.naive_tables import Table

WORDS = {
    "sex": "sex", "dominant_hand": "dominance", "dominant_foot": "dominance",
    "known_side": "dominance", "availability": "availability",
}  # fmt: skip
LIMBS = ("left_limb_length_cm", "right_limb_length_cm")
# Days and body measures are read as the decks say: how widely is not the contract's.
AS_DEALT = {
    column: {card.text: card.means for card in deck}
    for column, deck in (
        ("birth_date", BIRTHS), ("known_since", SINCE), ("height_cm", HEIGHTS),
        ("body_mass_kg", MASSES),
    )
}  # fmt: skip


@dataclass
class Roster:
    """What stands of each person, by id and column, and what became of each file's rows."""

    people: dict[str, dict[str, Any]] = field(default_factory=dict)
    read: dict[str, int] = field(default_factory=dict)
    repeated: dict[str, int] = field(default_factory=dict)
    lost: set[tuple[str, int]] = field(default_factory=set)  # rows with cells that cost themselves
    unclear: set[str] = field(default_factory=set)  # people whose availability cannot be read
    loose: set[tuple[str, int]] = field(default_factory=set)  # rows with cells that may or may not

    @property
    def known(self) -> Known:
        """What rows of tests and training need of it."""
        ids = {loosened(who): who for who in self.people}
        names = Counter(cells.key(str(person["name"])) for person in self.people.values())
        for who, person in self.people.items():
            if names[cells.key(str(person["name"]))] == 1:
                ids[str(person["name"]).casefold()] = who
        ids |= {who: who for who in self.people}
        columns = ("known_side", "dominant_hand", "dominant_foot")
        sides = {who: {c: person.get(c) for c in columns} for who, person in self.people.items()}
        return Known(ids, sides, is_open=False)


def read_rosters(tables: Sequence[Table]) -> Roster:
    """The roster that stands after all rosters, in their order."""
    roster = Roster()
    for table in tables:
        for line, row in table.rows:
            said, has_lost = _person(table, row)
            who = said["athlete_id"]
            if "availability" in said:
                cell = row[table.columns.index("availability")]
                is_unclear = said["availability"] is None and not cells.is_blank(cell)
                (roster.unclear.add if is_unclear else roster.unclear.discard)(who)
            roster.read[table.name] = roster.read.get(table.name, 0) + 1
            if Odd.EITHER in said.values():
                roster.loose.add((table.name, line))
            if has_lost:
                roster.lost.add((table.name, line))
            standing = roster.people.get(who)
            if standing is not None and all(standing.get(c) == v for c, v in said.items()):
                roster.repeated[table.name] = roster.repeated.get(table.name, 0) + 1
            roster.people[who] = {**(standing or {}), **said}
    _one_spelling(roster)
    return roster


def _person(table: Table, row: Sequence[str]) -> tuple[dict[str, Any], bool]:
    """What one row says in each column it has, and whether some cell cost itself."""
    said, has_lost = {}, False
    for column, text in zip(table.columns, row, strict=True):
        if column is None:
            continue
        try:
            said[column] = _cell(column, text)
        except Unreadable:
            said[column], has_lost = None, True
    return said, has_lost


def _cell(column: str, text: str) -> Any:
    if column == "known_difference" and cells.key(text) in {
        cells.key(one) for one in NO_DIFFERENCE
    }:
        return None
    if cells.is_blank(text):
        return None
    if column in AS_DEALT:
        means = AS_DEALT[column][text]
        if means is Odd.UNREAD:
            raise Unreadable(text)
        return means
    if column in LIMBS:
        figure, behind = cells.number(text)
        length = figure * (cells.factor(behind, "cm") if behind else 1.0)
        if not 45 <= length <= 135:
            raise Unreadable(text)
        return length
    if column in WORDS:
        spellings = catalogue().headers.words[WORDS[column]]
        try:
            return cells.word(text, spellings)
        except Unreadable:
            if column != "availability":
                raise
            return cells.word(re.split(r"[^\w]+", text.strip())[0], spellings)
    return text.strip()


def _one_spelling(roster: Roster) -> None:
    """Squads that differ in case and spaces alone take the spelling of most of their athletes."""
    spellings: dict[str, Counter[str]] = {}
    for person in roster.people.values():
        squad = str(person["squad"])
        spellings.setdefault("".join(squad.casefold().split()), Counter())[squad] += 1
    for person in roster.people.values():
        those = spellings["".join(str(person["squad"]).casefold().split())]
        person["squad"] = min(those, key=lambda spelling: (-those[spelling], spelling))
