"""A folder without a roster: everyone named in it is one squad."""

from pathlib import Path

import pytest

from pipeline.errors import SquadsidesError
from pipeline.intake import Intake, read_exports
from pipeline.last_lines import NO_ROSTER
from pipeline.settings import Settings
from tests.intake.exports import LONG, built, listed, refusals, remark, values, workbook

DAY, LATER = "2024-03-05", "2024-03-12"
LOG = "athlete_id,trained_on,exercise,set_number,side,reps"
FILM = "athlete_id,filmed_on,exercise,side,checkpoint,finding"
SHEET = "flag_id,decision\nA1.single_hop.difference,train\n"


def read(folder: Path, files: dict[str, str | bytes]) -> Intake:
    for name, text in files.items():
        (folder / name).write_bytes(text.encode() if isinstance(text, str) else text)
    return read_exports(folder, Settings())


def people(intake: Intake) -> list[tuple[str, str, str, str, int]]:
    """Id, name, squad, and where each athlete was first named."""
    columns = ["athlete_id", "name", "squad", "source_file", "source_line"]
    return intake.roster.select(columns).rows()


def test_everyone_named_in_tests_logs_and_films_is_one_squad(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "film.csv": f"{FILM}\nD4,{DAY},lunge,left,trunk,ok\n",
        "hops.csv": f"{LONG}\nB2,{DAY},single_hop,left,150\nA1,{DAY},single_hop,left,140\n",
        "log.csv": f"{LOG}\nC3,{DAY},lunge,1,left,8\nA1,{DAY},lunge,1,left,9\n",
        "meeting.csv": SHEET.replace("A1", "E5"),
        "wide.csv": f"id,date,hop L,hop R\nF6,{DAY},,\nB2,{LATER},151,160\n",
    }
    intake = read(tmp_path, files)
    assert people(intake) == [
        ("A1", "A1", "Everyone", "hops.csv", 3),
        ("B2", "B2", "Everyone", "hops.csv", 2),
        ("C3", "C3", "Everyone", "log.csv", 2),
        ("D4", "D4", "Everyone", "film.csv", 2),
        ("F6", "F6", "Everyone", "wide.csv", 2),
    ]
    assert values(intake) == [
        ("A1", "single_hop", "left", 1, 140.0), ("B2", "single_hop", "left", 1, 150.0),
        ("B2", "single_hop", "left", 1, 151.0), ("B2", "single_hop", "right", 1, 160.0),
    ]  # fmt: skip
    assert intake.sets.select("athlete_id", "reps").rows() == [("C3", 8.0), ("A1", 9.0)]
    # A decision names nobody: E5 could never be on a list.
    assert [row[:4] for row in refusals(intake)] == [
        ("meeting.csv", 2, "flag_id", "E5.single_hop.difference")
    ]
    said = intake.files.filter(intake.files["remark"].str.contains(NO_ROSTER, literal=True))
    assert said["file"].to_list() == ["film.csv"]


def test_ids_and_names_alike_but_for_their_spelling_are_one_person(tmp_path: Path) -> None:
    rows = [
        ("007", 140), ("7", 141), ("7.0", 142), ("hb-1", 150), ("HB-1", 151),
        ("Zoë  Fürst", 160), ("Zoe\u0308 Fu\u0308rst", 161), ('"FÜRST, Zoë"', 162),
    ]  # fmt: skip
    text = "\n".join(f"{who},{DAY},single_hop,left,{value}" for who, value in rows)
    intake = read(tmp_path, {"t.csv": f"{LONG}\n{text}\n"})
    assert [row[0] for row in people(intake)] == ["007", "Zoë  Fürst", "hb-1"]
    assert [(row[0], row[4]) for row in values(intake)] == [
        ("007", 140.0), ("007", 141.0), ("007", 142.0),
        ("Zoë  Fürst", 160.0), ("Zoë  Fürst", 161.0), ("Zoë  Fürst", 162.0),
        ("hb-1", 150.0), ("hb-1", 151.0),
    ]  # fmt: skip


def test_what_stands_below_a_table_is_no_person(tmp_path: Path) -> None:
    text = f"{LONG}\nA1,{DAY},single_hop,left,140\nmeasured by Sam,,,,\nMean,,,,140\n"
    intake = read(tmp_path, {"t.csv": text})
    assert [row[0] for row in people(intake)] == ["A1"]


@pytest.mark.parametrize("order", [("a.csv", "b.csv"), ("b.csv", "a.csv")])
def test_the_order_in_which_files_arrive_does_not_matter(
    order: tuple[str, str], tmp_path: Path
) -> None:
    texts = {
        "a.csv": f"{LONG}\nab-1,{DAY},single_hop,left,140\n",
        "b.csv": f"{LONG}\nAB-1,{LATER},single_hop,left,150\nAA-2,{DAY},grip,left,40\n",
    }
    intake = read(tmp_path, {name: texts[name] for name in order})
    assert people(intake) == [
        ("AA-2", "AA-2", "Everyone", "b.csv", 3),
        ("ab-1", "ab-1", "Everyone", "a.csv", 2),
    ]


def test_decisions_alone_make_nobody(tmp_path: Path) -> None:
    with pytest.raises(SquadsidesError) as raised:
        read(tmp_path, {"meeting.csv": SHEET})
    assert str(raised.value) == (
        "There is no roster among the exports, and nobody is named in them. Add a table with the "
        "columns athlete_id, name and squad, or a file of side tests."
    )


@pytest.mark.parametrize(
    ("roster", "fault"),
    [
        (
            "athlete_id,name,squad\nA1,,S\n",
            "roster.csv line 2, name '' is blank; expected a name.",
        ),
        (
            "athlete_id,name\nA1,Ann\n",
            "roster.csv line 2: looks like roster, but no column for the squad; found: "
            "athlete_id, name.",
        ),
    ],
)
def test_a_roster_whose_rows_are_all_refused_is_not_passed_over(
    roster: str, fault: str, tmp_path: Path
) -> None:
    tests = f"{LONG}\nA1,{DAY},single_hop,left,140\n"
    with pytest.raises(SquadsidesError) as raised:
        read(tmp_path, {"roster.csv": roster, "tests.csv": tests})
    assert str(raised.value) == f"No row of the roster can be read; the first fault: {fault}"


def test_a_roster_with_nobody_in_it_is_none(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "roster.xlsx": workbook({"S": [["athlete_id", "name", "squad"], [None, None, None]]}),
        "tests.csv": f"{LONG}\nA1,{DAY},single_hop,left,140\nA2,{DAY},single_hop,left,150\n",
    }
    intake = read(tmp_path, files)
    assert [row[:3] for row in people(intake)] == [
        ("A1", "A1", "Everyone"), ("A2", "A2", "Everyone"),
    ]  # fmt: skip
    assert remark(intake, "tests.csv") == NO_ROSTER


def test_a_first_week_is_built_and_says_what_a_roster_would_add(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = f"name,date,hop L 1,hop R 1,pain\nAnn Berg,{DAY},150,155,\nBea Holm,{DAY},160,148,7\n"
    reports = built(tmp_path / "first", {"hops.csv": rows})
    last = capsys.readouterr().out.splitlines()[-4]
    assert last == f"{NO_ROSTER[0].upper()}{NO_ROSTER[1:]}."
    assert [(row["squad"], row["athlete_id"]) for row in listed(reports, "asymmetries")] == [
        ("Everyone", "Ann Berg"), ("Everyone", "Bea Holm"),
    ]  # fmt: skip
    referred = [row["athlete_id"] for row in listed(reports, "flags") if row["reason"] == "refer"]
    assert referred == ["Bea Holm"]
    roster = "athlete_id,name,squad\nA1,Ann Berg,Club\nA2,Bea Holm,Club\n"
    reports = built(tmp_path / "second", {"hops.csv": rows, "roster.csv": roster})
    assert NO_ROSTER[1:] not in capsys.readouterr().out
    assert [(row["squad"], row["athlete_id"]) for row in listed(reports, "asymmetries")] == [
        ("Club", "A1"), ("Club", "A2"),
    ]  # fmt: skip
