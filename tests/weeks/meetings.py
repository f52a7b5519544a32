"""Film reviews and decision sheets of a week: every decision on every kind of flag."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from pipeline.catalogue import Measure, catalogue
from tests.weeks.decks import Cell, Dealer
from tests.weeks.exports import Export, Row
from tests.weeks.people import Person, called, headed

FAMILIES = ("difference", "ratio", "zero", "training", "refer", "refer a note", "refer in training",
            "overdue")  # fmt: skip
# The story that raises a flag of each family.
STORY_OF = {
    "difference": "left lower", "ratio": "low ratio", "zero": "zero", "training": "uneven work",
    "refer": "pain", "refer a note": "note", "refer in training": "pain", "overdue": "long ago",
}  # fmt: skip
WORDS = (
    "train", "retest", "accept", "refer", "wait", "seen", "cleared", "done", "Accept as structural",
    "TRAIN both", " Retest ", "refer to physio", "cleared step 3", "Wait and see", "seen by Dr X",
    "done.", "maybe", "?!", "ask mum", "",
)  # fmt: skip
OWNERS = ("Sam", "Physio & coach", "Dr Ünal", "")
CHECKPOINTS = ("knee over foot", "trunk upright", "heel stays down", "Quiet landing!", "hips level")
NAMES = ("decisions.csv", "decisions_{day}.csv", "agreed on Friday.csv")


@dataclass(frozen=True)
class Decided:
    """One row of a decision sheet and the family of the flag it is about."""

    family: str
    word: str
    person: Person
    flag_id: str


def cards() -> list[tuple[str, str]]:
    """Every decision on every kind of flag."""
    return [(family, word) for word in WORDS for family in FAMILIES]


def flag_id(
    family: str, person: Person, tests: Mapping[str, Measure], exercise: str, topic: str
) -> str:
    """The id of a flag of this family about a person; `exercise` may be outside the dictionary."""
    known = catalogue().exercises.get(exercise)
    region = known.region if known else "other"
    main = tests["main"].id
    return (
        person.id
        + {
            "difference": f".{main}.difference",
            "ratio": f".{tests.get('ratio', tests['main']).id}.ratio",
            "zero": f".{tests.get('zero', tests['main']).id}.zero",
            "training": f".{region}_body.training",
            "refer": f".{main}.refer",
            "refer a note": f".{topic or main}.refer",
            "refer in training": f".{exercise or main}.refer",
            "overdue": f".{main}.overdue",
        }[family]
    )


def decision_file(decided: Sequence[Decided], day: str, dealer: Dealer) -> Export:
    """The sheet of the last meeting, as somebody filled it in; sometimes a line too many."""
    columns = ["flag_id", "decision", "owner", "review_on", "note"]
    columns += [] if dealer.one_in(3) else ["listed_on"]
    dealer.chance.shuffle(columns)
    rows: list[Row] = []
    for one in decided:
        cells = {
            "flag_id": one.flag_id, "decision": one.word, "listed_on": day,
            "owner": dealer.next("owner", OWNERS), "review_on": dealer.cell("review_on", 0.7).text,
            "note": dealer.cell("note", 0.3).text,
        }  # fmt: skip
        rows.append(tuple(cells[column] for column in columns))
    if dealer.one_in(4):
        odd = {"flag_id": "Zed 9.moon_jump.difference", "decision": "train"}
        rows.append(tuple(odd.get(column, "") for column in columns))
    spellings = catalogue().headers.kinds["decisions"].columns
    header = tuple(headed(dealer, "decisions", column, spellings[column]) for column in columns)
    name = dealer.next("name of a sheet", NAMES).format(day=day)
    return Export(name, "decisions", tuple(columns), header, tuple(rows))


def film_file(people: Sequence[Person], day: str, dealer: Dealer) -> Export:
    """Some things looked at, on both sides, of everybody."""
    columns = ["athlete_id", "filmed_on", "exercise", "side", "checkpoint", "finding", "note"]
    rows: list[Row] = []
    for person in people:
        exercise = dealer.cell("exercise", 1.0, 6)
        for side in ("left", "right"):
            said = {
                "athlete_id": called(person, dealer), "filmed_on": day, "side": side,
                "exercise": exercise.text,
                "checkpoint": dealer.next("checkpoint", CHECKPOINTS, 3),
                "finding": dealer.cell("finding", 1.0, 6).text,
                "note": dealer.cell("note", 0.2, 3).text,
            }  # fmt: skip
            rows.append(tuple(said[column] for column in columns))
    dealer.chance.shuffle(columns)  # the headers stay with their cells
    return _reordered(rows, columns, dealer)


def _reordered(rows: Sequence[Row], columns: Sequence[str], dealer: Dealer) -> Export:
    first = ["athlete_id", "filmed_on", "exercise", "side", "checkpoint", "finding", "note"]
    order = [first.index(column) for column in columns]
    spellings = catalogue().headers.kinds["film_review"].columns
    header = tuple(headed(dealer, "film", column, spellings[column]) for column in columns)
    cells = tuple(tuple(row[place] for place in order) for row in rows)
    return Export("film.csv", "film", tuple(columns), header, cells)


def topic_of(notes: Iterable[Cell]) -> str:
    """The sign that the last of these notes is about."""
    found = [sign.id for note in notes if (sign := catalogue().rules.sign(note.text))]
    return found[-1] if found else "joint_or_bone"
