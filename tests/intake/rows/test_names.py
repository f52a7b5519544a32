"""Names of athletes where ids are asked for."""

from pathlib import Path

import pytest

from tests.intake.exports import LONG, counts, intake_of, refusals, values

DAY = "2024-03-05"
ROSTER = """\
athlete_id,name,squad
A1,Ann Berg,Handball
A2,"Holm, Bea",Handball
A3,Zoë Groß,Gym
A4,Cid Vos,Gym
A5,cid vos,Handball
Bo,A1,Gym
"""


@pytest.mark.parametrize(
    ("written", "athlete"),
    [
        ("A1", "A1"),
        ("a1", "A1"),
        ("Ann Berg", "A1"),
        ("ANN  BERG", "A1"),
        ("Berg,Ann", "A1"),
        ("bea holm", "A2"),
        ("Holm,  Bea", "A2"),
        ("Zoe\u0308 GROSS", "A3"),
        ("BO", "Bo"),
    ],
)
def test_a_name_that_one_athlete_has_is_that_athlete(
    written: str, athlete: str, tmp_path: Path
) -> None:
    tests = f'{LONG}\n"{written}",{DAY},single_hop,left,140\nA4,{DAY},single_hop,left,150\n'
    intake = intake_of(tmp_path, {"roster.csv": ROSTER, "t.csv": tests})
    assert sorted((row[0], row[4]) for row in values(intake)) == sorted(
        [(athlete, 140.0), ("A4", 150.0)]
    )


def test_a_name_two_athletes_share_is_refused(tmp_path: Path) -> None:
    tests = f"{LONG}\nCid Vos,{DAY},single_hop,left,140\nA5,{DAY},single_hop,left,150\n"
    intake = intake_of(tmp_path, {"roster.csv": ROSTER, "t.csv": tests})
    assert refusals(intake) == [
        ("t.csv", 2, "athlete_id", "Cid Vos",
         "is the name of 2 athletes; expected an id, one of A4, A5"),
    ]  # fmt: skip
    assert [row[0] for row in values(intake)] == ["A5"]
    assert counts(intake, "t.csv") == (2, 1, 1, 0)


@pytest.mark.parametrize("header", ["name", "Athlete", "PLAYER", "Full name"])
def test_a_column_of_names_is_read_in_tests_logs_and_films(header: str, tmp_path: Path) -> None:
    files = {
        "roster.csv": ROSTER,
        "film.csv": f"{header},date,exercise,side,checkpoint,finding\n"
        f"Ann Berg,{DAY},lunge,left,trunk,ok\nBea Holm,{DAY},lunge,left,trunk,adjust\n",
        "log.csv": f"{header},date,exercise,set,side,reps\n"
        f"Ann Berg,{DAY},lunge,1,left,8\nBea Holm,{DAY},lunge,1,left,9\n",
        "columns.csv": f"{header},date,hop L,hop R\nann berg,{DAY},141,142\nA2,{DAY},151,152\n",
        "wide.csv": f"{header},date,test,left,right\nann berg,{DAY},grip,41,42\n",
    }
    intake = intake_of(tmp_path, files)
    assert values(intake) == [
        ("A1", "grip_strength", "left", 1, 41.0), ("A1", "grip_strength", "right", 1, 42.0),
        ("A1", "single_hop", "left", 1, 141.0), ("A1", "single_hop", "right", 1, 142.0),
        ("A2", "single_hop", "left", 1, 151.0), ("A2", "single_hop", "right", 1, 152.0),
    ]  # fmt: skip
    assert intake.sets.select("athlete_id", "reps").rows() == [("A1", 8.0), ("A2", 9.0)]
    assert intake.film.select("athlete_id", "finding").rows() == [("A1", "ok"), ("A2", "adjust")]
    assert refusals(intake) == []


@pytest.mark.parametrize("header", ["name,athlete_id", "Player,Player ID", "ID,Athlete"])
def test_ids_win_over_names_beside_them(header: str, tmp_path: Path) -> None:
    ids = header.split(",")
    place = next(n for n, cell in enumerate(ids) if "id" in cell.lower())
    rows = [("A1", "Bea Holm", 140), ("A4", "Cid Vos", 150)]
    lines = [
        f"{','.join([who, name] if place == 0 else [name, who])},{DAY},{value},{value + 1}"
        for who, name, value in rows
    ]
    text = "\n".join([f"{header},date,hop L,hop R", *lines])
    intake = intake_of(tmp_path, {"roster.csv": ROSTER, "t.csv": text})
    assert [(row[0], row[4]) for row in values(intake)] == [
        ("A1", 140.0), ("A1", 141.0), ("A4", 150.0), ("A4", 151.0),
    ]  # fmt: skip


def test_tables_of_names_beside_each_other_are_two(tmp_path: Path) -> None:
    header = "athlete,date,test,left,right,,athlete,date,test,left,right"
    row = f"Ann Berg,{DAY},grip,40,41,,Bea Holm,{DAY},grip,50,51"
    intake = intake_of(tmp_path, {"roster.csv": ROSTER, "t.csv": f"{header}\n{row}\n"})
    assert [(row[0], row[2], row[4]) for row in values(intake)] == [
        ("A1", "left", 40.0), ("A1", "right", 41.0), ("A2", "left", 50.0), ("A2", "right", 51.0),
    ]  # fmt: skip
