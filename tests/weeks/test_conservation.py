"""Rows as the contract has them, written out by hand: the naive reading and the program agree.

Generated weeks hold the two against each other by the thousand (`test_generated.py`, `night.py`);
here a person says what is right.
"""

from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.weeks.command_line import write
from tests.weeks.conservation import faults
from tests.weeks.folders import taken
from tests.weeks.naive import Group, Standing, Told, read_folder

ROSTER = """\
athlete_id,name,squad,dominant_foot,dominant_hand,known_side
A1,Ann Berg,Club,left,right,right
A2,Bea Holm,Club,right,left,
A3,Cid Vos,Gym,,,
"""
LONG = "athlete_id,tested_on,test,side,value,trial,pain,note"
HOP = "2026-03-02,single hop"
LOG = "athlete_id,trained_on,exercise,set_number,side,reps,load,pain,note"
DAY = "2026-03-02"
# What a group holds, trial by trial or set by set: values, pain, note.
Held = dict[tuple[str, str, str], list[tuple[object, ...]]]


@dataclass(frozen=True)
class Case:
    """Files, what is held of each person, test and side after them, and rows not accepted."""

    files: dict[str, str]
    trials: Held = field(default_factory=dict)
    sets: Held = field(default_factory=dict)
    refused: dict[str, int] = field(default_factory=dict)
    repeated: dict[str, int] = field(default_factory=dict)


def hops(*lines: str, header: str = LONG) -> str:
    """A file of hops of one day: athlete, side, value, trial, pain, note in each line."""
    rows = (line.split(",", 1) for line in lines)
    return "\n".join([header, *(f"{who},{HOP},{rest}" for who, rest in rows)]) + "\n"


def sets_of(*lines: str) -> str:
    """A log of split squats of one day: athlete, set, side, reps, load, pain, note in each line."""
    rows = (line.split(",", 1) for line in lines)
    return "\n".join([LOG, *(f"{who},{DAY},split squat,{rest}" for who, rest in rows)]) + "\n"


LEFT, RIGHT = ("A1", "single_hop", "left"), ("A1", "single_hop", "right")
SQUAT = ("A1", "split_squat", "left")
CASES = {
    "blank numbers are numbered after the highest given": Case(
        {"t.csv": hops("A1,left,150,,,", "A1,left,151,2,,", "A1,left,152,,,", "A2,left,9E9,,,")},
        {LEFT: [(151.0, None, None, 2), (150.0, None, None, 3), (152.0, None, None, 4)]},
        refused={"t.csv": 1},
    ),
    "equal rows of one file are trials": Case(
        {"t.csv": hops("A1,left,150,,,", "A1,left,150,,,", "A1,left,150,,3,")},
        {LEFT: [(150.0, None, None, 1), (150.0, None, None, 2), (150.0, 3.0, None, 3)]},
    ),
    "equal rows of one trial number are one trial": Case(
        {"t.csv": hops("A1,left,150,1,,", "A1,left,150,1,,", "A1,left,150,2,,")},
        {LEFT: [(150.0, None, None, 1), (150.0, None, None, 2)]},
        repeated={"t.csv": 1},
    ),
    "the second of equal rows is repeated by the second": Case(
        {
            "t1.csv": hops("A1,left,150,,,", "A1,left,150,,,"),
            "t2.csv": hops("A1,left,150,,,", "A1,left,150,,,", "A1,left,150,,,", "A1,right,5,,,"),
        },
        {LEFT: [(150.0, None, None, n) for n in (1, 2, 3)]},
        refused={"t2.csv": 1}, repeated={"t2.csv": 2},
    ),
    "of rows with one value each is repeated by the one with its pain": Case(
        {
            "t1.csv": hops("A1,left,150,,2,", "A1,left,150,,5,"),
            "t2.csv": hops("A1,left,150,,2,", "A1,left,150,,5,", "A1,left,151,,,"),
        },
        {LEFT: [(150.0, 2.0, None, 1), (150.0, 5.0, None, 2), (151.0, None, None, 3)]},
        repeated={"t2.csv": 2},
    ),
    "rows in another order are repeated all the same, each by its own": Case(
        {
            "t1.csv": hops("A1,left,150,,2,", "A1,left,150,,5,"),
            "t2.csv": hops("A1,left,150,,5,", "A1,left,150,,2,", "A1,left,151,,,"),
        },
        {LEFT: [(150.0, 2.0, None, 1), (150.0, 5.0, None, 2), (151.0, None, None, 3)]},
        repeated={"t2.csv": 2},
    ),
    "a row of both sides repeats only where both of them do": Case(
        {
            "t1.csv": f"athlete_id,tested_on,test,left,right,note\nA1,{HOP},150,155,dry\n"
                      f"A2,{HOP},140,145,\n",
            "t2.csv": f"athlete_id,tested_on,test,left,right,note\nA1,{HOP},150,156,dry\n"
                      f"A2,{HOP},140,145,\n",
        },
        {
            LEFT: [(150.0, None, "dry", 1)], RIGHT: [(156.0, None, "dry", 1)],
            ("A2", "single_hop", "left"): [(140.0, None, None, 1)],
            ("A2", "single_hop", "right"): [(145.0, None, None, 1)],
        },
        repeated={"t2.csv": 1},
    ),
    "what is left over corrects what is left over, in order": Case(
        {
            "t1.csv": hops("A1,left,150,,2,", "A1,left,151,,,wet", "A1,left,152,,,"),
            "t2.csv": hops("A1,left,152,,,", "A1,left,160,,,", "A1,left,161,,5,"),
        },
        {LEFT: [(160.0, None, None, 1), (161.0, 5.0, None, 2), (152.0, None, None, 3)]},
        repeated={"t2.csv": 1},
    ),
    "what is left over where nothing is left over is new": Case(
        {
            "t1.csv": hops("A1,left,150,,,"),
            "t2.csv": hops("A1,left,150,,,", "A1,left,151,,,", "A1,left,152,,,"),
        },
        {LEFT: [(150.0, None, None, 1), (151.0, None, None, 2), (152.0, None, None, 3)]},
        repeated={"t2.csv": 1},
    ),
    "the same number with another value is corrected by the later name": Case(
        {
            "t10.csv": hops("A1,left,155,1,,"),
            "t9.csv": hops("A1,left,150,1,4,slow", "A1,left,151,2,,"),
        },
        {LEFT: [(155.0, None, None, 1), (151.0, None, None, 2)]},
    ),
    "a correction leaves alone what its file has no column for": Case(
        {
            "t1.csv": hops("A1,left,150,1,4,slow", "A2,left,140,1,2,"),
            "t2.csv": hops("A1,left,155,1", header=LONG.rsplit(",", 2)[0]),
        },
        {LEFT: [(155.0, 4.0, "slow", 1)], ("A2", "single_hop", "left"): [(140.0, 2.0, None, 1)]},
    ),
    "a file without the column of pain repeats a row that has some": Case(
        {
            "t1.csv": hops("A1,left,150,1,4,slow", "A1,right,150,1,,"),
            "t2.csv": hops("A1,left,150,1", "A1,right,150,1", header=LONG.rsplit(",", 2)[0]),
        },
        {LEFT: [(150.0, 4.0, "slow", 1)], RIGHT: [(150.0, None, None, 1)]},
        repeated={"t2.csv": 2},
    ),
    "a trial number nobody can read is numbered as it stands": Case(
        {"t.csv": hops("A1,left,150,first,,", "A1,left,151,b,,", "A1,left,152,,,")},
        {LEFT: [(150.0, None, None, 1), (151.0, None, None, 2), (152.0, None, None, 3)]},
    ),
    "sides that the roster knows": Case(
        {"t.csv": hops("A1,dominant,150,,,", "A1,uninvolved,151,,,", "A2,nondominant,140,,,",
                       "A2,involved,1,,,", "A3,dominant,1,,,")},
        {
            LEFT: [(150.0, None, None, 1), (151.0, None, None, 2)],
            ("A2", "single_hop", "left"): [(140.0, None, None, 1)],
        },
        refused={"t.csv": 2},
    ),
    "units behind the number, in their column and in the catalogue": Case(
        {"t.csv": "athlete_id,tested_on,test,side,value,unit\n"
                  f"A1,{HOP},left,1.5 m,\nA1,{HOP},right,1500,mm\nA2,{HOP},left,150,\n"
                  f"A3,{HOP},left,150,stones\n"},
        {
            LEFT: [(150.0, None, None, 1)], RIGHT: [(150.0, None, None, 1)],
            ("A2", "single_hop", "left"): [(150.0, None, None, 1)],
        },
        refused={"t.csv": 1},
    ),
    "sets under one number are sets in the order of the rows": Case(
        {"l.csv": sets_of("A1,1,left,10,20,,", "A1,1,left,8,22,,", "A1,1,left,10,20,,hard",
                          "A2,1,left,5,,,")},
        sets={
            SQUAT: [(10.0, 20.0, None, None, 1), (8.0, 22.0, None, None, 2),
                    (10.0, 20.0, None, "hard", 3)],
            ("A2", "split_squat", "left"): [(5.0, None, None, None, 1)],
        },
    ),
    "an exercise done twice is numbered through, in the order of the rows": Case(
        {"l.csv": sets_of("A1,1,left,10,20,,", "A1,2,left,9,20,,", "A1,1,left,8,20,,",
                          "A1,2,left,7,20,,")},
        sets={SQUAT: [(10.0, 20.0, None, None, 1), (9.0, 20.0, None, None, 2),
                      (8.0, 20.0, None, None, 3), (7.0, 20.0, None, None, 4)]},
    ),
    "the place in the session is no part of what tells sets apart": Case(
        {"l.csv": "athlete_id,trained_on,exercise,set_number,side,reps,load,order\n"
                  f"A1,{DAY},split squat,1,left,10,20,3\nA1,{DAY},split squat,2,left,9,20,3\n"
                  f"A1,{DAY},split squat,1,left,8,20,2\n"},
        sets={SQUAT: [(10.0, 20.0, None, None, 1), (9.0, 20.0, None, None, 2),
                      (8.0, 20.0, None, None, 3)]},
    ),
    "set numbers that tell sets apart stand": Case(
        {
            "l1.csv": sets_of("A1,2,left,9,20,,", "A1,1,left,10,20,,"),
            "l2.csv": sets_of("A1,1,left,10,20,,", "A1,2,left,8,20,,", "A1,3,left,7,20,6,"),
        },
        sets={SQUAT: [(10.0, 20.0, None, None, 1), (8.0, 20.0, None, None, 2),
                      (7.0, 20.0, 6.0, None, 3)]},
        repeated={"l2.csv": 1},
    ),
    "a load nobody can read is unknown, a unit nobody can read costs the row": Case(
        {"l.csv": "athlete_id,trained_on,exercise,set_number,side,reps,load,unit\n"
                  f"A1,{DAY},split squat,1,left,10,heavy,\nA1,{DAY},split squat,2,left,9,20,lb\n"
                  f"A1,{DAY},split squat,3,left,8,20,stones of the farm\n"},
        sets={SQUAT: [(10.0, None, None, None, 1), (9.0, 20 * 0.45359237, None, None, 2)]},
        refused={"l.csv": 1},
    ),
}  # fmt: skip


def held(groups: dict[Group, list[Standing]]) -> Held:
    """What stands, with values, pain, note and number of each."""
    return {
        (who, what, side): sorted(
            ((*one.said.values, one.said.pain, one.said.note, one.number) for one in standing),
            key=lambda line: line[-1],  # type: ignore
        )
        for (who, _, what, side), standing in groups.items()
        if standing
    }


@pytest.mark.parametrize("name", CASES)
def test_rows_become_the_trials_and_sets_that_the_contract_says(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    folder = write(tmp_path / "exports", {"roster.csv": ROSTER, **case.files})
    told = read_folder(folder)
    assert held(told.trials) == case.trials
    assert held(told.sets) == case.sets
    assert refused(told) == case.refused
    assert repeated(told) == case.repeated
    assert faults(told, taken(folder, tmp_path / "reports")) == []


def refused(told: Told) -> dict[str, int]:
    """Files with rows that were refused, and how many."""
    return {name: count.refused for name, count in told.counts.items() if count.refused}


def repeated(told: Told) -> dict[str, int]:
    """Files with rows that said nothing new, and how many."""
    return {name: count.repeated for name, count in told.counts.items() if count.repeated}
