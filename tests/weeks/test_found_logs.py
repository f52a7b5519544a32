"""What real training logs did to a build: each a command line and what lies in the reports."""

from pathlib import Path

import pytest

from tests.weeks.command_line import build

ROSTER = """\
athlete_id,name,squad,sex,body_mass_kg,known_difference
A1,Ann Berg,Club,female,60,
A2,Bea Holm,Club,male,82,leg length left 1 cm shorter
A3,Cid Vos,Gym,other,74,scoliosis
"""
TESTS = "athlete_id,tested_on,test,side,value,pain,note"
LOG = "athlete_id,trained_on,exercise,set_number,side,reps,load,pain,note"
FIRST, SECOND = "2026-03-02", "2026-03-09"
HOPS = {"A1": (150, 155), "A2": (160, 148), "A3": (170, 171)}


def test_a_log_exported_again_leaves_pain_and_notes_where_they_were(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    week_1 = f"{LOG}\n" + "".join(
        f"{who},{FIRST},split squat,1,left,8,20,{said}\n"
        for who, said in (("A1", ",slow"), ("A2", "7,"), ("A3", "1,wobbly"))
    )
    week_2 = week_1 + f"A1,{SECOND},split squat,1,left,9,20,,\n"
    reports = build(
        tmp_path, {"roster.csv": ROSTER, "log_1.csv": week_1, "log_2.csv": week_2}, capsys
    )
    assert reports.fetch("raw_sets", "athlete_id::varchar", "reps", "pain", "note") == [
        ("A1", 8.0, None, "slow"),
        ("A1", 9.0, None, None),
        ("A2", 8.0, 7.0, None),
        ("A3", 8.0, 1.0, "wobbly"),
    ]


@pytest.mark.parametrize(
    ("column", "text", "stored"),
    [
        ("rir", "2-3", "rir"),
        ("rir", "a few", "rir"),
        ("rpe", "hard", "rir"),
        ("order", "A1", "exercise_order"),
        ("tempo", "2026-03-01", "tempo"),
        ("tempo", "slow", "tempo"),
        ("load", "heavy", "load_kg"),
        ("pain", "tbc", "pain"),
        ("pain", "11", "pain"),
    ],
)
def test_an_unreadable_cell_of_the_log_keeps_its_set(
    column: str, text: str, stored: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = (
        f"athlete_id,trained_on,exercise,set_number,side,reps,{column}\n"
        f"A1,{FIRST},split squat,1,left,8,\nA2,{FIRST},split squat,1,left,9,{text}\n"
        f"A3,{FIRST},split squat,1,left,10,\n"
    )
    reports = build(tmp_path, {"roster.csv": ROSTER, "log.csv": log}, capsys)
    assert reports.fetch("raw_sets", "athlete_id::varchar", "reps", stored) == [
        ("A1", 8.0, None), ("A2", 9.0, None), ("A3", 10.0, None),
    ]  # fmt: skip
    assert reports.kept() == [(column, text)]
    assert reports.counts("log.csv") == {"read": 3, "accepted": 3, "refused": 0, "repeated": 0}


def test_four_equal_rows_of_a_log_are_four_sets(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = f"A1,{FIRST},split squat,1,left,8,20,,\n"
    other = f"A2,{FIRST},split squat,1,left,10,24,2,\n"
    log = f"{LOG}\n" + 4 * row + 2 * other
    files = {"roster.csv": ROSTER, "log.csv": log, "log_again.csv": log}
    reports = build(tmp_path, files, capsys)
    assert reports.fetch(
        "raw_sets", "athlete_id::varchar", "set_number", "reps", "load_kg", "pain"
    ) == [("A1", number, 8.0, 20.0, None) for number in (1, 2, 3, 4)] + [
        ("A2", number, 10.0, 24.0, 2.0) for number in (1, 2)
    ]
    assert reports.counts("log.csv") == {"read": 6, "accepted": 6, "refused": 0, "repeated": 0}
    assert reports.counts("log_again.csv")["repeated"] == 6


def test_a_set_number_that_is_always_one_keeps_every_set(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = f"{LOG}\n" + "".join(
        f"{who},{FIRST},split squat,1,{side},{reps},{load},,\n"
        for who, load in (("A1", 20), ("A2", 30))
        for side in ("left", "right")
        for reps in (10, 8, 7)
    )
    reports = build(tmp_path, {"roster.csv": ROSTER, "log.csv": log}, capsys)
    assert reports.fetch(
        "raw_sets", "athlete_id::varchar", "side::varchar", "set_number", "reps", "load_kg"
    ) == [
        (who, side, number, float(reps), load)
        for who, load in (("A1", 20.0), ("A2", 30.0))
        for side in ("left", "right")
        for number, reps in ((1, 10), (2, 8), (3, 7))
    ]


@pytest.mark.parametrize("reps", ["10,8", "8.5", "10, 8, 7"])
def test_repetitions_are_whole_numbers(
    reps: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = (
        f"{LOG}\nA1,{FIRST},split squat,1,left,8,20,,\n"
        f'A2,{FIRST},split squat,1,left,"{reps}",20,,\n'
    )
    reports = build(tmp_path, {"roster.csv": ROSTER, "log.csv": log}, capsys)
    assert reports.fetch("raw_sets", "athlete_id::varchar", "reps") == [("A1", 8.0)]
    assert reports.refused() == [("log.csv", 3)]


SETS = [
    ("A1", "left", number, 10.0, 20.0) for number in (1, 2, 3)
] + [("A1", "right", number, 10.0, 20.0) for number in (1, 2, 3)]  # fmt: skip


ELSE = [("A2", "left", 1, 8.0, 24.0), ("A2", "right", 1, 7.0, 22.0)]


@pytest.mark.parametrize(
    "log",
    [
        "athlete_id,trained_on,exercise,sets,side,reps,load\n"
        f"A1,{FIRST},split squat,3,each,10,20\n"
        f"A2,{FIRST},split squat,1,left,8,24\nA2,{FIRST},split squat,1,right,7,22\n",
        "athlete_id,trained_on,exercise,side,reps,load\n"
        f"A1,{FIRST},split squat,left,3x10,20\nA1,{FIRST},split squat,right,3 x 10,20\n"
        f"A2,{FIRST},split squat,left,1x8,24\nA2,{FIRST},split squat,right,1x7,22\n",
        "athlete_id,trained_on,exercise,set_number,side,reps,load\n"
        f"A1,{FIRST},split squat,1,left,3x10,20\nA1,{FIRST},split squat,1,right,3X10,20\n"
        f"A2,{FIRST},split squat,1,left,8,24\nA2,{FIRST},split squat,1,right,7,22\n",
        "athlete_id,trained_on,exercise,set_number,reps_left,reps_right,load_left,load_right\n"
        + "".join(f"A1,{FIRST},split squat,{number},10,10,20,20\n" for number in (1, 2, 3))
        + f"A2,{FIRST},split squat,1,8,7,24,22\n",
    ],
    ids=["count_of_sets", "sets_times_reps", "numbered_all_the_same", "both_sides_in_a_row"],
)
def test_a_log_may_hold_several_sets_in_a_row(
    log: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    reports = build(tmp_path, {"roster.csv": ROSTER, "log.csv": log}, capsys)
    assert (
        reports.fetch(
            "raw_sets", "athlete_id::varchar", "side::varchar", "set_number", "reps", "load_kg"
        )
        == SETS + ELSE
    )
    assert reports.refused() == []
