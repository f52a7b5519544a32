"""What could not be read and bears on somebody's care, and when it is asked no more."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.intake import Intake
from tests.intake.exports import LONG, ROSTER, intake_of

HEAD = f"{LONG},trial,pain,note"
A1, A2 = "A1,2024-03-05,single_hop,left,145,1", "A2,2024-03-05,single_hop,left,135,1"


def asked(intake: Intake) -> list[tuple[Any, ...]]:
    """file, line, who, athlete_id and what it bears on, of all that is asked about."""
    columns = ["file", "line", "who", "athlete_id", "bears_on"]
    return intake.refused.drop_nulls("bears_on").select(columns).rows()


def test_pain_that_says_nothing_is_asked_about_until_a_later_row_says_it(tmp_path: Path) -> None:
    first = f"{HEAD}\n{A1},later,\n{A2},dunno,\n"
    (tmp_path / "1").mkdir()
    intake = intake_of(tmp_path / "1", {"a.csv": first})
    assert asked(intake) == [("a.csv", 2, "A1", "A1", "pain"), ("a.csv", 3, "A2", "A2", "pain")]
    assert intake.refused["noted_on"].to_list() == [date(2024, 3, 5)] * 2
    (tmp_path / "2").mkdir()
    intake = intake_of(tmp_path / "2", {"a.csv": first, "b.csv": f"{HEAD}\n{A1},3,\n"})
    assert asked(intake) == [("a.csv", 3, "A2", "A2", "pain")]
    assert intake.trials.sort("athlete_id")["pain"].to_list() == [3.0, None]


def test_the_same_unread_cell_in_every_export_is_asked_about_once(tmp_path: Path) -> None:
    text = f"{HEAD}\n{A1},later,\n{A2},1,\n"
    intake = intake_of(tmp_path, {f"week {n}.csv": text for n in range(3)})
    assert asked(intake) == [("week 2.csv", 2, "A1", "A1", "pain")]


def test_an_export_without_the_column_settles_nothing(tmp_path: Path) -> None:
    files = {
        "a.csv": f"{HEAD}\n{A1},later,\n",
        "b.csv": f"{LONG},trial\nA1,2024-03-05,single_hop,left,150,1\n",
    }
    intake = intake_of(tmp_path, files)
    assert asked(intake) == [("a.csv", 2, "A1", "A1", "pain")]
    assert intake.trials["value"].to_list() == [150.0]


@pytest.mark.parametrize(
    ("row", "bears_on"),
    [
        ("A1,2024-03-05,single_hop,left,x,1,6,", "pain"),
        ("A1,2024-03-05,single_hop,left,x,1,some day,", "pain"),
        ("A1,2024-03-05,single_hop,left,x,1,0,knee gave way", "note"),
        ("A1,2024-03-05,single_hop,left,x,1,0,", None),
        ("A1,2024-03-05,single_hop,left,x,1,,", None),
        ("Zoe,2024-03-05,single_hop,left,140,1,4,", "pain"),
    ],
)
def test_a_refused_row_bears_on_what_it_holds(
    row: str, bears_on: str | None, tmp_path: Path
) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{HEAD}\n{row}\n{A2},1,\n"})
    assert intake.refused["bears_on"].to_list() == [bears_on]
    assert intake.refused["who"].to_list() == [row.split(",")[0]]
    assert intake.refused["athlete_id"].to_list() == [None if row[0] == "Z" else "A1"]


def test_rows_that_no_table_holds_may_have_said_anything(tmp_path: Path) -> None:
    text = "athlete_id,tested_on,test,value\nA1,2024-03-05,single_hop,145\n"
    intake = intake_of(tmp_path, {"t.csv": text, "u.csv": f"{HEAD}\n{A2},1,\n"})
    assert asked(intake) == [("t.csv", 2, None, None, "note")]


def test_an_availability_that_cannot_be_read_is_asked_until_a_roster_says_it(
    tmp_path: Path,
) -> None:
    head = "athlete_id,name,squad,availability\n"
    first = head + "A1,Ann,S,see physio\nA2,Bo,S,full\n"
    (tmp_path / "1").mkdir()
    tests = f"{HEAD}\n{A1},1,\n"
    intake = intake_of(tmp_path / "1", {"roster 1.csv": first, "t.csv": tests})
    assert asked(intake) == [("roster 1.csv", 2, "A1", "A1", "availability")]
    assert intake.roster["availability"].to_list() == ["unclear", "full"]
    (tmp_path / "2").mkdir()
    files = {"roster 1.csv": first, "roster 2.csv": head + "A1,Ann,S,out\n", "t.csv": tests}
    intake = intake_of(tmp_path / "2", files)
    assert asked(intake) == []
    assert intake.roster["availability"].to_list() == ["out", "full"]


def test_what_was_said_of_another_day_is_no_answer_to_an_unread_availability(
    tmp_path: Path,
) -> None:
    head = "athlete_id,name,squad,availability\n"
    files = {
        "roster 1.csv": head + "A1,Ann,S,full\nA2,Bo,S,out\n",
        "roster 2.csv": head + "A1,Ann,S,see physio\nA2,Bo,S,out\n",
        "t.csv": f"{HEAD}\n{A1},1,\n",
    }
    assert intake_of(tmp_path, files).roster["availability"].to_list() == ["unclear", "out"]


def test_decisions_and_people_that_were_not_read_are_asked_about(tmp_path: Path) -> None:
    files = {
        "roster.csv": ROSTER + "A4,,Gym,,,,,,\n",
        "meeting.csv": "flag_id,decision,review_on\nA1.single_hop.difference,,\n"
        "A2.single_hop.difference,train,soon\nA3.grip_strength.overdue,,2024-05-01\n"
        "A3.grip_strenght.overdue,train,\n",
        "t.csv": f"{HEAD}\n{A1},1,\n",
    }
    assert asked(intake_of(tmp_path, files)) == [
        ("meeting.csv", 5, "A3.grip_strenght.overdue", "A3", "decision"),
        ("roster.csv", 5, "A4", None, "availability"),
    ]


def test_unread_pain_of_an_untested_side_is_settled_by_a_later_row_and_repeated_by_a_copy(
    tmp_path: Path,
) -> None:
    first = f"{HEAD}\nA1,2024-03-05,single_hop,left,,,tbc,\n{A2},1,\n"
    (tmp_path / "1").mkdir()
    intake = intake_of(tmp_path / "1", {"a.csv": first, "b.csv": first})
    assert asked(intake) == [("b.csv", 2, "A1", "A1", "pain")]
    read = dict(intake.files.select("file", "rows_repeated").iter_rows())
    assert (read["a.csv"], read["b.csv"]) == (0, 2)
    (tmp_path / "2").mkdir()
    later = f"{HEAD}\nA1,2024-03-05,single_hop,left,,,6,\n"
    intake = intake_of(tmp_path / "2", {"a.csv": first, "b.csv": later})
    assert asked(intake) == []
    assert intake.trials.select("athlete_id", "value", "pain").sort("athlete_id").rows() == [
        ("A1", None, 6.0), ("A2", 135.0, 1.0),
    ]  # fmt: skip


def test_a_blank_cell_answers_nothing(tmp_path: Path) -> None:
    files = {"a.csv": f"{HEAD}\n{A1},tbc,\n{A2},tbc,\n", "b.csv": f"{HEAD}\n{A1},,\n{A2},0,\n"}
    assert asked(intake_of(tmp_path, files)) == [("a.csv", 2, "A1", "A1", "pain")]
