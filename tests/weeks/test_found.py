"""What real folders of exports did to a build: each a command line and what lies in the reports."""

from pathlib import Path

import openpyxl
import pytest

from tests.weeks.command_line import Reports, build, run, write

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


def week_of(day: str, **said: str) -> str:
    """One trial a side of everybody; `said` holds pain and note of an athlete's left side."""
    lines = [TESTS]
    for who, (left, right) in HOPS.items():
        lines.append(f"{who},{day},single hop,left,{left},{said.get(who, ',')}")
        lines.append(f"{who},{day},single hop,right,{right},,")
    return "\n".join(lines) + "\n"


def rows_of(text: str) -> str:
    """The text without its header."""
    return text.split("\n", 1)[1]


def pains(reports: Reports) -> list[tuple[str, str, str, float | None, str | None]]:
    """athlete, day, side, pain and note of every trial that has one of both."""
    rows = reports.fetch(
        "raw_trials", "athlete_id::varchar", "tested_on::varchar", "side::varchar", "pain", "note"
    )
    return [row for row in rows if row[3] is not None or row[4] is not None]


def test_the_same_roster_twice_leaves_everybody_who_they_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {"roster.csv": ROSTER, "tests.csv": week_of(FIRST)}
    once = build(tmp_path, files, capsys)
    twice = build(tmp_path, {**files, "roster_again.csv": ROSTER}, capsys)
    columns = ("athlete_id", "name", "squad", "sex", "body_mass_kg", "known_difference")
    assert twice.fetch("raw_roster", *columns) == once.fetch("raw_roster", *columns)
    assert twice.fetch("raw_roster", *columns)[2] == (
        "A3", "Cid Vos", "Gym", "other", 74.0, "scoliosis",
    )  # fmt: skip
    for table in ("asymmetries", "flags"):
        assert twice.table(table) == once.table(table)
    assert twice.counts("roster_again.csv") == {
        "read": 3, "accepted": 0, "refused": 0, "repeated": 3,
    }  # fmt: skip


def test_an_export_that_holds_last_weeks_rows_again_leaves_pain_and_notes_where_they_were(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    week_1 = week_of(FIRST, A1="2,tired", A2="6,knee gave way", A3=",wet floor")
    week_2 = week_1 + rows_of(week_of(SECOND, A3="1,"))
    reports = build(
        tmp_path, {"roster.csv": ROSTER, "week_1.csv": week_1, "week_2.csv": week_2}, capsys
    )
    assert pains(reports) == [
        ("A1", FIRST, "left", 2.0, "tired"),
        ("A2", FIRST, "left", 6.0, "knee gave way"),
        ("A3", FIRST, "left", None, "wet floor"),
        ("A3", SECOND, "left", 1.0, None),
    ]
    assert {row["athlete_id"] for row in reports.table("flags") if row["reason"] == "refer"} == {
        "A2"
    }
    assert reports.counts("week_2.csv") == {"read": 12, "accepted": 6, "refused": 0, "repeated": 6}


def test_a_correction_with_pain_is_the_pain_of_one_athlete(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    later = f"{TESTS}\nA2,{FIRST},single hop,left,140,8,stopped\n"
    files = {
        "roster.csv": ROSTER, "tests_1.csv": week_of(FIRST, A1="1,"), "tests_2.csv": later,
    }  # fmt: skip
    reports = build(tmp_path, files, capsys)
    assert pains(reports) == [
        ("A1", FIRST, "left", 1.0, None),
        ("A2", FIRST, "left", 8.0, "stopped"),
    ]
    values = reports.fetch("raw_trials", "athlete_id::varchar", "side::varchar", "value")
    assert values == [
        ("A1", "left", 150.0), ("A1", "right", 155.0),
        ("A2", "left", 140.0), ("A2", "right", 148.0),
        ("A3", "left", 170.0), ("A3", "right", 171.0),
    ]  # fmt: skip
    said = {row["file"]: row["remark"] for row in reports.table("intake")}
    assert "tests_2.csv" in said["tests_1.csv"]
    assert "tests_1.csv" in said["tests_2.csv"]


@pytest.mark.parametrize(
    ("column", "text", "stored"),
    [
        ("body_mass_kg", "8", "body_mass_kg"),
        ("body_mass_kg", "heavy", "body_mass_kg"),
        ("height_cm", "1.70", "height_cm"),
        ("known_since", "2019", "known_since"),
        ("known_since", "spring", "known_since"),
        ("sex", "prefer not to say", "sex"),
        ("birth_date", "2009", "birth_date"),
        ("birth_date", "31/02/2009", "birth_date"),
        ("dominant_hand", "mostly left", "dominant_hand"),
        ("dominant_foot", "?!", "dominant_foot"),
        ("known_side", "the knee", "known_side"),
        ("left_limb_length_cm", "890", "left_limb_length_cm"),
        ("right_limb_length_cm", "n", "right_limb_length_cm"),
    ],
)
def test_an_unreadable_cell_of_the_roster_keeps_its_person(
    column: str, text: str, stored: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    roster = (
        f"athlete_id,name,squad,position,{column}\n"
        f"A1,Ann Berg,Club,wing,\nA2,Bea Holm,Club,keeper,{text}\nA3,Cid Vos,Gym,back,\n"
    )
    files = {"roster.csv": roster, "tests.csv": week_of(FIRST, A2="8,")}
    reports = build(tmp_path, files, capsys, "--strict")
    assert reports.status == 0
    assert reports.fetch("raw_roster", "athlete_id", "name", "position", stored) == [
        ("A1", "Ann Berg", "wing", None),
        ("A2", "Bea Holm", "keeper", None),
        ("A3", "Cid Vos", "back", None),
    ]
    assert reports.kept() == [(column, text)]
    assert reports.counts("roster.csv") == {"read": 3, "accepted": 3, "refused": 0, "repeated": 0}
    assert [row["athlete_id"] for row in reports.table("flags") if row["reason"] == "refer"] == [
        "A2"
    ]


def test_an_availability_that_cannot_be_read_keeps_its_person_and_is_none_of_the_three(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    roster = (
        "athlete_id,name,squad,availability\nA1,Ann,Club,\nA2,Bea,Club,see physio\n"
        "A3,Cid,Club,out\n"
    )
    reports = build(tmp_path, {"roster.csv": roster, "tests.csv": week_of(FIRST)}, capsys)
    found = dict(reports.fetch("raw_roster", "athlete_id", "availability"))
    assert (found["A1"], found["A3"]) == (None, "out")
    assert found["A2"] not in ("full", "modified", "out")
    assert reports.kept() == [("availability", "see physio")]


def test_the_first_word_of_availability_decides(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    roster = (
        "athlete_id,name,squad,availability\nA1,Ann,Club,modified (knee)\n"
        "A2,Bea,Club,Out until May\nA3,Cid,Club,full\n"
    )
    reports = build(tmp_path, {"roster.csv": roster, "tests.csv": week_of(FIRST)}, capsys)
    assert reports.fetch("raw_roster", "athlete_id", "availability") == [
        ("A1", "modified"), ("A2", "out"), ("A3", "full"),
    ]  # fmt: skip
    assert reports.kept() == []


@pytest.mark.parametrize(
    ("text", "pain"),
    [
        ("7!", 7.0), ("3-4", 4.0), ("5/10", 5.0), ("yes", 4.0), ("no", 0.0), ("none", 0.0),
        ("about 6", 6.0), ("2,5", 2.5), ("8.5", 8.5), ("5 of 10", 5.0), ("0", 0.0),
    ],
)  # fmt: skip
def test_pain_is_read_generously(
    text: str, pain: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    quoted = f'"{text}",'
    tests = week_of(FIRST, A1='"1",', A2=quoted)
    log = f"{LOG}\nA2,{FIRST},split squat,1,left,9,20,{quoted}\n"
    reports = build(tmp_path, {"roster.csv": ROSTER, "tests.csv": tests, "log.csv": log}, capsys)
    assert pains(reports) == [
        ("A1", FIRST, "left", 1.0, None), ("A2", FIRST, "left", pain, None),
    ]  # fmt: skip
    assert reports.fetch("raw_sets", "pain") == [(pain,)]
    assert reports.kept() == []


@pytest.mark.parametrize("text", ["tbc", "11", "70"])
def test_pain_that_says_no_number_of_ten_costs_its_cell_alone(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tests = week_of(FIRST, A2=f"{text},sat down")
    reports = build(tmp_path, {"roster.csv": ROSTER, "tests.csv": tests}, capsys)
    assert pains(reports) == [("A2", FIRST, "left", None, "sat down")]
    assert reports.kept() == [("pain", text)]
    assert len(reports.fetch("raw_trials", "value")) == 6


def test_pain_and_note_of_an_untested_side_are_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tests = week_of(FIRST, A1="1,") + (
        f"A2,{FIRST},triple hop,left,,7,\nA3,{FIRST},triple hop,right,,,knee gave way\n"
    )
    reports = build(tmp_path, {"roster.csv": ROSTER, "tests.csv": tests}, capsys)
    referred = [row for row in reports.table("flags") if row["reason"] == "refer"]
    assert sorted(row["athlete_id"] for row in referred) == ["A2", "A3"]
    assert reports.counts("tests.csv") == {"read": 8, "accepted": 8, "refused": 0, "repeated": 0}
    assert pains(reports) == [
        ("A1", FIRST, "left", 1.0, None),
        ("A2", FIRST, "left", 7.0, None),
        ("A3", FIRST, "right", None, "knee gave way"),
    ]


def test_a_slip_in_the_year_is_refused_in_a_folder_of_three(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tests = week_of(FIRST) + rows_of(week_of(SECOND)) + "A1,2062-03-09,single hop,left,151,,\n"
    reports = build(tmp_path, {"roster.csv": ROSTER, "tests.csv": tests}, capsys)
    assert f"as of {SECOND}" in reports.printed
    assert reports.refused() == [("tests.csv", 14)]
    assert {row["last_tested_on"] for row in reports.table("asymmetries")} == {SECOND}


def test_spellings_of_a_squad_are_one_squad(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    roster = "athlete_id,name,squad\nA1,Ann,CLUB\nA2,Bea, club \nA3,Cid,Club\nA4,Dee,Club\n"
    reports = build(tmp_path, {"roster.csv": roster, "tests.csv": week_of(FIRST)}, capsys)
    assert reports.fetch("raw_roster", "athlete_id", "squad") == [
        ("A1", "Club"), ("A2", "Club"), ("A3", "Club"), ("A4", "Club"),
    ]  # fmt: skip
    assert {row["squad"] for row in reports.table("asymmetries")} == {"Club"}
    assert "Club" in next(
        row["remark"] for row in reports.table("intake") if row["file"] == "roster.csv"
    )


@pytest.mark.parametrize("word", ["no", "none", "nothing", "ok", "Healthy", "0", "-"])
def test_a_known_difference_that_says_there_is_none_is_blank(
    word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    roster = (
        f"athlete_id,name,squad,known_difference\nA1,Ann,Club,{word}\n"
        "A2,Bea,Club,left leg 1 cm shorter\nA3,Cid,Club,\n"
    )
    reports = build(tmp_path, {"roster.csv": roster, "tests.csv": week_of(FIRST)}, capsys)
    assert reports.fetch("raw_roster", "athlete_id", "known_difference") == [
        ("A1", None), ("A2", "left leg 1 cm shorter"), ("A3", None),
    ]  # fmt: skip


@pytest.mark.parametrize("place", [".", "reports", ".."])
def test_reports_are_never_written_among_the_exports(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {"roster.csv": ROSTER, "flags.csv": week_of(FIRST)}
    exports = write(tmp_path / "week" / "exports", files)
    before = {path: path.is_file() and path.read_bytes() for path in tmp_path.rglob("*")}
    refused = run(exports, exports / place, capsys)
    assert (refused.status, "Traceback" in refused.printed) == (1, False)
    assert {p: p.is_file() and p.read_bytes() for p in tmp_path.rglob("*")} == before


def test_one_typing_error_of_two_athletes_is_no_other_unit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    roster = "athlete_id,name,squad\nA1,Ann,Club\nA2,Bea,Club\n"
    tests = (
        f"{TESTS}\nA1,{FIRST},single hop,left,150,,\nA1,{FIRST},single hop,right,155,,\n"
        f"A2,{FIRST},single hop,left,1.6,,\nA2,{FIRST},single hop,right,161,,\n"
    )
    reports = build(tmp_path, {"roster.csv": roster, "tests.csv": tests}, capsys)
    (row,) = (row for row in reports.table("intake") if row["file"] == "tests.csv")
    assert "looks like" not in row["remark"]
    assert reports.refused() == [("tests.csv", 4)]
    assert [row["athlete_id"] for row in reports.table("asymmetries")] == ["A1"]


def test_one_column_a_test_and_side_is_an_export(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tests = (
        "Athlete ID,Date,Single hop L 1,Single hop L 2,Single hop R 1,CMJ L,CMJ R,"
        "L knee to wall (cm),right knee to wall (mm),Coach\n"
        f"A1,{FIRST},150,151,155,14.5,15.5,9.5,101,Sam\n"
        f"A2,{FIRST},160,,148,18,17,,120,Kim\n"
    )
    reports = build(tmp_path, {"roster.csv": ROSTER, "tests.csv": tests}, capsys)
    rows = reports.fetch(
        "raw_trials",
        "athlete_id::varchar",
        "measure::varchar",
        "side::varchar",
        "trial",
        "round(value, 6)",
    )
    assert rows == [
        ("A1", "knee_to_wall", "left", 1, 9.5),
        ("A1", "knee_to_wall", "right", 1, 10.1),
        ("A1", "single_hop", "left", 1, 150.0),
        ("A1", "single_hop", "left", 2, 151.0),
        ("A1", "single_hop", "right", 1, 155.0),
        ("A1", "sl_cmj_height", "left", 1, 14.5),
        ("A1", "sl_cmj_height", "right", 1, 15.5),
        ("A2", "knee_to_wall", "right", 1, 12.0),
        ("A2", "single_hop", "left", 1, 160.0),
        ("A2", "single_hop", "right", 1, 148.0),
        ("A2", "sl_cmj_height", "left", 1, 18.0),
        ("A2", "sl_cmj_height", "right", 1, 17.0),
    ]
    assert reports.counts("tests.csv") == {"read": 2, "accepted": 2, "refused": 0, "repeated": 0}
    (remark,) = (row["remark"] for row in reports.table("intake") if row["file"] == "tests.csv")
    assert "Coach" in remark


def test_one_test_file_alone_is_a_week(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    reports = build(tmp_path, {"hops.csv": week_of(FIRST, A2="5,")}, capsys)
    assert reports.status == 0
    assert reports.fetch("raw_roster", "athlete_id", "squad") == [
        ("A1", "Everyone"), ("A2", "Everyone"), ("A3", "Everyone"),
    ]  # fmt: skip
    assert {row["athlete_id"] for row in reports.table("asymmetries")} == {"A1", "A2", "A3"}
    referred = [row for row in reports.table("flags") if row["reason"] == "refer"]
    assert [(row["squad"], row["athlete_id"]) for row in referred] == [("Everyone", "A2")]
    assert "roster" in reports.table("intake")[0]["remark"]


def test_a_name_in_place_of_an_id_is_its_athlete(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tests = (
        "name,date,test,side,value\n"
        f"Ann Berg,{FIRST},single hop,left,150\nbea holm,{FIRST},single hop,left,160\n"
    )
    reports = build(tmp_path, {"roster.csv": ROSTER, "tests.csv": tests}, capsys)
    assert reports.fetch("raw_trials", "athlete_id::varchar", "value") == [
        ("A1", 150.0), ("A2", 160.0),
    ]  # fmt: skip


def test_what_was_accepted_stays_when_the_next_sheet_takes_the_place_of_the_last(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    days = ("2026-02-02", "2026-02-16", FIRST)
    tests = "athlete_id,tested_on,test,side,trial,value\n" + "".join(
        f"{who},{day},single hop,{side},{trial},{value + trial}\n"
        for who, sides in (("A1", (100, 150)), ("A2", (150, 100)), ("A3", (150, 151)))
        for day in days
        for side, value in zip(("left", "right"), sides, strict=True)
        for trial in (1, 2, 3)
    )
    files = {"roster.csv": ROSTER, "tests.csv": tests}
    listed = build(tmp_path, files, capsys)
    assert {row["flag_id"] for row in listed.table("flags")} >= {
        "A1.single_hop.difference", "A2.single_hop.difference",
    }  # fmt: skip
    exports = write(tmp_path / "exports", files)
    sheet = exports / "decisions.xlsx"
    _filled_in(listed.folder / "decisions.xlsx", sheet, {"A1.single_hop.difference": "accept"})
    second = run(exports, tmp_path / "second", capsys)
    _filled_in(second.folder / "decisions.xlsx", sheet, {"A2.single_hop.difference": "train"})
    third = run(exports, tmp_path / "third", capsys)
    decided = {row["flag_id"]: row["decision"] for row in third.table("flags")}
    assert decided["A1.single_hop.difference"] == "accept"
    assert decided["A2.single_hop.difference"] == "train"


def _filled_in(sheet: Path, copy: Path, said: dict[str, str]) -> None:
    """The decision sheet of a build with these decisions, as somebody saves it elsewhere."""
    book = openpyxl.load_workbook(sheet)
    page = book.active
    assert page is not None
    columns = {cell.value: cell.column for cell in page[1]}
    for row in range(2, page.max_row + 1):
        flag = str(page.cell(row, columns["flag_id"]).value)
        if flag in said:
            page.cell(row, columns["decision"]).value = said[flag]
    book.save(copy)
