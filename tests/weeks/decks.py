"""What people type into each column, and what the contract makes of it.

A deck holds every value of a column's closed set (from the schemas and the catalogue) in the
spellings people use, and the junk they type. Seeds deal on where the seed before stopped, so that a
run of seeds goes through every deck.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from typing import Any
from zlib import crc32

import numpy as np

from pipeline.catalogue import catalogue, header_key


class Odd(Enum):
    """What a cell may be besides a value."""

    UNREAD = "cannot be read: costs itself, or its row where the row needs it"
    EITHER = "said too loosely for one reading: a value or unread"


@dataclass(frozen=True)
class Cell:
    """A cell as typed, and the value it has by the contract; None: blank."""

    text: str
    means: Any = None


@dataclass
class Dealer:
    """Cards of the decks for one seed, and which of them were dealt."""

    seed: int
    has_roster: bool = True
    chance: np.random.Generator = field(init=False)
    dealt: dict[str, set[int]] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.chance = np.random.default_rng(self.seed)

    def next(self, deck: str, cards: Sequence[Any], a_week: int = 1) -> Any:
        """The next card of a deck of which a week is dealt at least `a_week`."""
        # Each time through, the cards lie in another order: no two decks keep step.
        times, at = divmod(self.seed * a_week + self.counts[deck], len(cards))
        place = int(_shuffled(deck, len(cards), times)[at])
        self.counts[deck] += 1
        self.dealt.setdefault(deck, set()).add(place)
        return cards[place]

    def cell(self, deck: str, share: float = 1.0, a_week: int = 1) -> Cell:
        """The next card of a column's deck in a share of cases, else a blank cell.

        The first of a week always comes from the deck.
        """
        if self.counts[deck] and self.chance.random() >= share:
            return Cell("")
        card: Cell = self.next(deck, DECKS()[deck], a_week)
        return card

    def one_in(self, number: int) -> bool:
        """True in one of so many cases."""
        return bool(self.chance.integers(number) == 0)


@cache
def _shuffled(deck: str, size: int, times: int) -> Any:
    return np.random.default_rng((crc32(deck.encode()), times)).permutation(size)


def typed(words: Sequence[str], means: Any) -> list[Cell]:
    """These words in small letters, capitals and with spaces around them, by turns."""
    ways = (str, str.capitalize, str.upper, lambda word: f" {word} ")
    return [Cell(ways[place % len(ways)](word), means) for place, word in enumerate(words)]


def unread(*texts: str) -> list[Cell]:
    """Cells that nobody can read."""
    return [Cell(text, Odd.UNREAD) for text in texts]


def spelled(words: Mapping[str, Sequence[str]]) -> list[Cell]:
    """Every spelling of each of a few words, and the words themselves."""
    return [
        cell
        for word, spellings in words.items()
        for cell in typed(list(dict.fromkeys((word, *spellings))), word)
    ]


PAIN = [
    *(Cell(str(number), float(number)) for number in range(11)),
    Cell("2.5", 2.5), Cell("8.5", 8.5), Cell("7!", 7.0), Cell("3-4", 4.0), Cell("5/10", 5.0),
    Cell("yes", 4.0), Cell("Yes", 4.0), Cell("painful", 4.0), Cell("no", 0.0), Cell("No pain", 0.0),
    Cell("about 6", 6.0), Cell("ouch?", Odd.EITHER), *unread("11", "tbc"),
]  # fmt: skip
DATES = [
    Cell("2026-04-30", "2026-04-30"), Cell("30 April 2026", "2026-04-30"),
    Cell("30.04.2026", "2026-04-30"), Cell("Apr 30, 2026", "2026-04-30"),
    *unread("31/02/2026", "next week", "2019", "?!"),
]  # fmt: skip
BIRTHS = [
    Cell("1998-05-17", "1998-05-17"), Cell("2011-02-28", "2011-02-28"),
    Cell("17 May 2004", "2004-05-17"), Cell("25.12.2009", "2009-12-25"),
    *unread("2009", "31/02/2009", "U16"),
]  # fmt: skip
SINCE = [
    Cell("2024-03-01", "2024-03-01"), Cell("1 March 2019", "2019-03-01"),
    *unread("2019", "spring", "after the war"),
]  # fmt: skip
HEIGHTS = [Cell("170", 170.0), Cell("182.5", 182.5), Cell("165 cm", 165.0), Cell("1.78 m", 178.0),
           Cell("1.70", Odd.EITHER), *unread("tall", "17")]  # fmt: skip
MASSES = [Cell("64", 64.0), Cell("81.5", 81.5), Cell("72 kg", 72.0), Cell("24", Odd.EITHER),
          Cell("12 stone", 76.20351816), *unread("heavy", "8")]  # fmt: skip
LIMBS = [Cell("88", 88.0), Cell("91.5", 91.5), Cell("90 cm", 90.0), *unread("890", "long")]
POSITIONS = [Cell(text, text) for text in ("wing", "Keeper", "left back", "D'A & <b>", "6")]
NO_DIFFERENCE = ["no", "none", "nothing", "ok", "healthy", "0", "-", "No", "Healthy"]
TEMPOS = [Cell("3-1-1", "3-1-1"), Cell("3/1/1", "3/1/1"), Cell("4010", "4010"),
          Cell("20x1", "20x1"), *unread("2026-03-01", "slow", "3")]  # fmt: skip
RESERVES = [*(Cell(str(number), float(number)) for number in range(6)), Cell("1.5", 1.5),
            *unread("2-3", "few", "-1", "12")]  # fmt: skip
EFFORTS = [Cell("8", 2.0), Cell("7.5", 2.5), Cell("10", 0.0), *unread("hard", "11")]
ORDERS = [*(Cell(str(number), number) for number in range(1, 7)), *unread("A1", "last", "0")]
LOADS = [Cell("BW"), Cell("bodyweight"), Cell("12.5", 12.5), Cell("20", 20.0), Cell("0", 0.0),
         Cell("40 kg", 40.0), Cell("45lb", 45 * 0.45359237),
         *unread("heavy", "red band")]  # fmt: skip
TRIALS_JUNK = unread("first", "x", "a/b")
PLAIN_NOTES = [
    "wet floor", "new shoes", "late; after class", "slept 5 h, tired", "said “fine”",
    "no chest pain", "not swollen today", "<i>video</i> & co", "R leg first", "tape off",
    "50 % effort", "zuerst links, dann rechts", "10/10 mood",
]  # fmt: skip
OUTSIDE = ["Coach's special", "Nordic drop", "Wall ball II", "Ünterschenkel-Heben", "T-Bar 3000"]


@cache
def signs() -> list[Cell]:
    """A note with each phrase of every sign."""
    phrases = [word for sign in catalogue().rules.signs.values() for word in sign.words]
    said = [f"says {phrase.replace('*', '')} since Monday" for phrase in phrases]
    return [Cell(text, text) for text in said]


@cache
def notes() -> list[Cell]:
    """Plain notes, and those that hold a sign."""
    return [*(Cell(text, text) for text in PLAIN_NOTES), *signs()]


@cache
def differences() -> list[Cell]:
    """Words that say there is none, every kind of known difference, and free text."""
    known = [word for kind in catalogue().rules.structures.values() for word in kind.words]
    texts = [f"{word.replace('*', '')}, left" for word in known]
    texts += ["leg length 1 cm shorter", "taller on one side?", "see file"]
    return [*(Cell(text) for text in NO_DIFFERENCE), *(Cell(text, text) for text in texts)]


def outside(name: str) -> Cell:
    """An exercise that the dictionary lacks: told apart by its letters and digits."""
    return Cell(name, header_key(name))


@cache
def exercises() -> list[Cell]:
    """Every exercise of the dictionary in each of its spellings, and some that are outside."""
    known = [
        Cell(name, exercise.id)
        for exercise in catalogue().exercises.values()
        for name in (exercise.id, exercise.name, *exercise.synonyms)
    ]
    return [*known, *(outside(text) for text in OUTSIDE)]


@cache
def DECKS() -> dict[str, list[Cell]]:  # noqa: N802
    """The cards of every column that is dealt by itself."""
    words = catalogue().headers.words
    return {
        "sex": [*spelled(words["sex"]), *unread("prefer not to say", "?!")],
        "birth_date": BIRTHS,
        "height_cm": HEIGHTS,
        "body_mass_kg": MASSES,
        "dominant_hand": [*spelled(words["dominance"]), *unread("mostly left", "1")],
        "dominant_foot": [*spelled(words["dominance"]), *unread("depends")],
        "position": POSITIONS,
        "availability": [
            *spelled(words["availability"]),
            Cell("modified (knee)", "modified"), Cell("Out until May", "out"),
            Cell("full, no jumps", "full"), *unread("see physio", "3 of 5"),
        ],
        "known_difference": differences(),
        "known_side": [*spelled(words["dominance"]), *unread("the knee")],
        "known_since": SINCE,
        "left_limb_length_cm": LIMBS,
        "right_limb_length_cm": LIMBS,
        "pain": PAIN,
        "note": notes(),
        "exercise": exercises(),
        "load": LOADS,
        "order": ORDERS,
        "rir": RESERVES,
        "rpe": EFFORTS,
        "tempo": TEMPOS,
        "finding": spelled(words["finding"]),
        "review_on": DATES,
    }  # fmt: skip
