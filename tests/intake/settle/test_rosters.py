"""Rosters over time: measurements of several days, and squads in one spelling."""

from datetime import date
from pathlib import Path

import pytest

from tests.intake.exports import LONG, counts, intake_of, remark, values

HEADER = "athlete_id,name,squad,measured_on,height_cm,body_mass_kg"
TORQUE = f"{LONG},unit"


def torque(who: str, day: str, value: float) -> str:
    return f"{who},{day},iso_knee_extension_torque,left,{value},Nm\n"


def roster_rows(*rows: str, header: str = HEADER) -> str:
    return "\n".join([header, *rows]) + "\n"


def test_another_day_is_history_and_the_newest_day_stands(tmp_path: Path) -> None:
    roster = roster_rows(
        "A1,Ann Berg,Club,2024-03-01,170,64",
        "A2,Bea Holm,Gym,2024-05-01,181,82",
        "A1,Ann Berg,Club,2024-06-01,171,66",
        "A2,Bea Holm,Gym,2024-02-01,180,80",
        "A1,Ann Berg,Club,,169,60",
        "A3,Cid Vos,Gym,2024-04-01,190,95",
    )
    intake = intake_of(tmp_path, {"roster.csv": roster})
    columns = ["athlete_id", "squad", "measured_on", "height_cm", "body_mass_kg", "source_line"]
    assert intake.roster.select(columns).rows() == [
        ("A1", "Club", date(2024, 6, 1), 171.0, 66.0, 4),
        ("A2", "Gym", date(2024, 5, 1), 181.0, 82.0, 3),
        ("A3", "Gym", date(2024, 4, 1), 190.0, 95.0, 7),
    ]
    assert counts(intake, "roster.csv") == (6, 6, 0, 0)
    assert remark(intake, "roster.csv") == "3 rows kept as history of height and body mass"


def test_the_same_day_again_is_a_correction_and_the_same_row_a_repeat(tmp_path: Path) -> None:
    first = roster_rows("A1,Ann,Club,2024-03-01,170,64", "A2,Bea,Club,2024-03-01,180,80")
    second = roster_rows("A1,Ann,Club,2024-03-01,170,65", "A2,Bea,Club,2024-03-01,180,80")
    intake = intake_of(tmp_path, {"roster 1.csv": first, "roster 2.csv": second})
    assert intake.roster.select("athlete_id", "body_mass_kg").rows() == [
        ("A1", 65.0), ("A2", 80.0),
    ]  # fmt: skip
    assert counts(intake, "roster 2.csv") == (2, 1, 0, 1)
    assert remark(intake, "roster 1.csv") == "1 replaced by roster 2.csv: line 2 by line 2"


def test_what_a_list_of_masses_does_not_say_stays_as_the_roster_has_it(tmp_path: Path) -> None:
    files = {
        "roster.csv": "athlete_id,name,squad,sex,height_cm,availability\n"
        "A1,Ann,Club,f,170,out\nA2,Bea,Gym,m,180,\n",
        "roster masses.csv": "athlete_id,name,squad,Date,Weight,height_cm\n"
        "A1,Ann,Club,05/03/2024,64,\nA2,Bea,Gym,28/03/2024,80,181\nA1,Ann,Club,28/03/2024,,\n",
    }
    intake = intake_of(tmp_path, files)
    columns = ["athlete_id", "sex", "height_cm", "body_mass_kg", "availability", "measured_on"]
    assert intake.roster.select(columns).rows() == [
        ("A1", "female", 170.0, 64.0, "out", date(2024, 3, 28)),
        ("A2", "male", 181.0, 80.0, None, date(2024, 3, 28)),
    ]


def test_torque_is_divided_by_the_mass_of_its_day(tmp_path: Path) -> None:
    roster = roster_rows(
        "A1,Ann,Club,2024-06-01,,66", "A1,Ann,Club,2024-03-01,,60", "A2,Bea,Club,2024-05-01,,80",
        "A2,Bea,Club,,,75", "A3,Cid,Club,,,90", "A4,Dee,Club,2024-05-01,,70",
    )  # fmt: skip
    days = ["2024-02-01", "2024-03-01", "2024-05-31", "2024-06-01", "2024-09-01"]
    tests = TORQUE + "\n" + "".join(torque(who, day, 180) for who in ("A4", "A1") for day in days)
    tests += torque("A2", "2024-04-30", 160) + torque("A2", "2024-05-02", 160)
    tests += torque("A3", "2024-04-30", 270)
    intake = intake_of(tmp_path, {"roster.csv": roster, "t.csv": tests})
    found = {(row[0], row[1].isoformat()): row[2] for row in intake.trials.select(
        "athlete_id", "tested_on", "value").rows()}  # fmt: skip
    masses = dict(zip(days, [60, 60, 60, 66, 66], strict=True))
    assert found == {
        **{("A1", day): pytest.approx(180 / mass) for day, mass in masses.items()},
        **{("A4", day): pytest.approx(180 / 70) for day in days},
        ("A2", "2024-04-30"): pytest.approx(160 / 75),
        ("A2", "2024-05-02"): pytest.approx(160 / 80),
        ("A3", "2024-04-30"): pytest.approx(270 / 90),
    }


def test_squads_that_differ_in_case_or_spaces_alone_are_one(tmp_path: Path) -> None:
    files = {
        "roster 1.csv": "athlete_id,name,squad\nA1,Ann,U 18\nA2,Bea,HARBOUR club\nA3,Cid,Gym\n",
        "roster 2.csv": "athlete_id,name,squad\nA4,Dee,Harbour Club\nA5,Eva,u18\nA6,Fay,Gym\n"
        "A7,Gil,Harbour  Club\nA8,Hal,Harbour Club\n",
    }
    intake = intake_of(tmp_path, files)
    # Two against one each; U 18 and u18 have one athlete each, and U comes first.
    assert intake.roster.select("athlete_id", "squad").rows() == [
        ("A1", "U 18"), ("A2", "Harbour Club"), ("A3", "Gym"), ("A4", "Harbour Club"),
        ("A5", "U 18"), ("A6", "Gym"), ("A7", "Harbour Club"), ("A8", "Harbour Club"),
    ]  # fmt: skip
    assert remark(intake, "roster 1.csv") == (
        "squad HARBOUR club read as Harbour Club, as most write it"
    )
    assert remark(intake, "roster 2.csv") == (
        "squad Harbour  Club read as Harbour Club, as most write it; "
        "squad u18 read as U 18, as most write it"
    )


def test_squads_of_one_spelling_are_not_remarked(tmp_path: Path) -> None:
    roster = "athlete_id,name,squad\nA1,Ann,Club\nA2,Bea,Gym\n"
    tests = f"{LONG}\nA1,2024-03-05,single_hop,left,140\nA2,2024-03-05,single_hop,left,150\n"
    intake = intake_of(tmp_path, {"roster.csv": roster, "t.csv": tests})
    assert remark(intake, "roster.csv") == ""
    assert [row[0] for row in values(intake)] == ["A1", "A2"]
