"""Who is in a week: rosters as people keep them, and what is true of each person."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from pipeline.catalogue import Measure, catalogue
from tests.weeks.decks import Cell, Dealer, Odd
from tests.weeks.exports import Export, Row

OPTIONAL = (
    "sex", "birth_date", "height_cm", "body_mass_kg", "dominant_hand", "dominant_foot", "position",
    "availability", "known_difference", "known_side", "known_since", "left_limb_length_cm",
    "right_limb_length_cm",
)  # fmt: skip
NAMES = [
    "Ann Berg", "Bea O'Neil", "Cid Vos", "Dée Ünal", "Eva-Lou Li", "Finn da Sá", "Gus \"G\" Hay",
    "Hal Ng", "Ida & Co", "Jo", "Kim <K>", "Lee, Max",
]  # fmt: skip
# Ids and squads carry the week's number: the people of several weeks may share a folder.
IDS = ["A{}", "{:06d}", "b-{}", "Ö{}", "TEAM.{}", "{}"]
SQUADS = [
    ("Club {}", "club {} ", "CLUB {}"),
    ("Gym A {}", "gym a {}", "GYM A {}", "GymA{}"),
    ("U18/Girls {}", "U18 / Girls {}", "u18/girls {}"),
    ("Été {}", "été {}"),
]
NAMED = ("athlete", "player", "member", "Athlete name")  # columns that hold ids all the same
UNKNOWN = ("Locker", "Shirt no. 7", "e-mail")


@dataclass(frozen=True)
class Person:
    """One person: the cells of the roster row that stands, by column."""

    id: str
    name: str
    squad: str
    cells: dict[str, Cell]

    def known(self, column: str) -> Any:
        """What the roster says in a column, None where it says nothing that can be read."""
        cell = self.cells.get(column, Cell(""))
        return None if isinstance(cell.means, Odd) else cell.means

    def turned(self, word: str, measure: Measure) -> str | None:
        """left or right for a word such as dominant; None where the roster does not say."""
        by_hand = uses_hand(measure)
        side = self.known(
            "known_side" if word in ("involved", "uninvolved")
            else "dominant_hand" if by_hand else "dominant_foot"
        )  # fmt: skip
        if side not in ("left", "right"):
            return None
        is_other = word in ("uninvolved", "nondominant")
        return {"left": "right", "right": "left"}[side] if is_other else str(side)


def called(person: Person, dealer: Dealer) -> str:
    """How a row names a person: by the id, now and then in another spelling or by the name."""
    if not dealer.has_roster or not dealer.one_in(15):
        return person.id
    way = dealer.next("way to name somebody", ("{name}", "{small}", " {id} ", "{bare}"))
    small, bare = person.name.lower(), person.id.lstrip("0")
    return str(way.format(name=person.name, small=small, id=person.id.lower(), bare=bare))


def uses_hand(measure: Measure) -> bool:
    """Whether the dominant hand says which side of a test is the dominant one."""
    return measure.lead.by == "hand" or (measure.lead.by == "none" and measure.region != "lower")


def people_of(dealer: Dealer) -> list[Person]:
    """Three to six people of one to three squads."""
    count = dealer.next("people", (3, 4, 5, 6))
    squads = [dealer.next("squad", SQUADS) for _ in range(dealer.next("squads", (1, 1, 2, 3)))]
    form = dealer.next("id", IDS)
    columns = {
        name for name in OPTIONAL if dealer.counts[name] == 0 and not dealer.one_in(6)
    }  # a week's roster lacks some columns altogether
    people = []
    for number in range(count):
        cells = {name: dealer.cell(name, 0.8, 3) for name in OPTIONAL if name in columns}
        spellings = squads[number % len(squads)]
        # The first of each squad, and whoever is not given another, spells it as it stands.
        is_odd = number >= len(squads) and dealer.one_in(3)
        squad = dealer.next(f"squad {spellings[0]}", spellings) if is_odd else spellings[0]
        squad = squad.format(dealer.seed)
        name = f"{NAMES[(dealer.seed + number) % len(NAMES)]} {dealer.seed}"
        people.append(Person(form.format(10 * dealer.seed + number + 1), name, squad, cells))
    return people


def roster(people: Sequence[Person], dealer: Dealer, name: str = "roster.csv") -> Export:
    """The squad list, with columns in any order, headed in any spelling."""
    known = [column for column in OPTIONAL if column in people[0].cells]
    columns = ["athlete_id", "name", "squad", *known]
    if dealer.one_in(3):
        columns.append("")  # a column nobody knows
    dealer.chance.shuffle(columns)
    spellings = catalogue().headers.kinds["roster"].columns
    header = [
        headed(dealer, "roster", column, spellings[column]) if column
        else dealer.next("unknown column", UNKNOWN)
        for column in columns
    ]  # fmt: skip
    rows: list[Row] = []
    for person in people:
        fixed = {"athlete_id": person.id, "name": person.name, "squad": person.squad, "": "12"}
        rows.append(
            tuple(
                fixed[column] if column in fixed else person.cells[column].text
                for column in columns
            )
        )
    return Export(name, "roster", tuple(columns), tuple(header), tuple(rows))


def headed(dealer: Dealer, kind: str, column: str, spellings: Sequence[str]) -> str:
    """A header of this column: our own name in most files, else the next of its spellings."""
    if not dealer.one_in(4):
        return column
    if column == "athlete_id" and kind not in ("roster", "decisions"):
        spellings = [*spellings, *NAMED]
    way = dealer.next("way of a header", (str, str.capitalize, str.upper))
    return str(way(dealer.next(f"header {kind}.{column}", spellings)))


def corrected(people: Sequence[Person], dealer: Dealer) -> tuple[list[Person], list[Person]]:
    """Some of the people with other cells in few columns, as a later roster has them; and all
    the people as they are after it.
    """
    columns = [c for c in ("position", "availability", "height_cm") if c in people[0].cells]
    later, after = [], []
    for number, person in enumerate(people):
        if number % 2:
            after.append(person)
            continue
        cells: dict[str, Cell] = {name: _readable(dealer, name) for name in columns}
        later.append(replace(person, cells=cells))
        after.append(replace(person, cells={**person.cells, **cells}))
    return later, after


def _readable(dealer: Dealer, column: str) -> Cell:
    """The next card of a column that says something everybody reads alike."""
    while True:
        cell = dealer.cell(column, 1.0, 3)
        if cell.means is not None and not isinstance(cell.means, Odd):
            return cell
