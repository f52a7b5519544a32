"""Files whose names are no text, or hold line ends: told in one line, read like any other."""

import os
from pathlib import Path

import pytest

from pipeline.__main__ import main
from pipeline.control_characters import TURNING, set_apart, visible
from pipeline.intake import read_exports
from pipeline.settings import Settings
from tests.end_to_end.small import write_small_exports
from tests.intake.exports import LONG, intake_of, remark

NAMES = {
    b"caf\xe9.csv": "caf\\xe9.csv",
    b"x\nRead 99 files; 0 rows refused.\n.csv": "x\\x0aRead 99 files; 0 rows refused.\\x0a.csv",
    b"\x1b[2J.csv": "\\x1b[2J.csv",
    "\u202evsc.csv".encode(): "\\u202evsc.csv",
    "\u200bz.csv".encode(): "\\u200bz.csv",
}


def test_such_files_are_read_and_named_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exports = write_small_exports(tmp_path / "exports")
    for number, name in enumerate(NAMES):
        with open(os.path.join(os.fsencode(exports), name), "w") as file:  # noqa: PTH123, PTH118
            file.write(f"{LONG}\nBL-{number + 1},2026-05-0{number + 1},single_hop,left,x\n")
    folders = ["--exports", str(exports), "--reports", str(tmp_path / "reports")]
    assert main(["check", *folders[:2]]) == 0
    said = capsys.readouterr().out
    assert "\nRead 99" not in said
    assert "\x1b" not in said
    assert main(["build", *folders, "--skip-pdf"]) == 0
    files = read_exports(exports, Settings()).files["file"].to_list()
    assert set(NAMES.values()) <= set(files)
    assert "caf\\xe9.csv" in (tmp_path / "reports" / "intake.csv").read_text()


def test_a_reports_folder_whose_name_is_no_text_is_refused_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exports = write_small_exports(tmp_path / "exports")
    reports = os.fsdecode(os.fsencode(tmp_path) + b"/r\xe9")
    assert main(["build", "--exports", str(exports), "--reports", reports, "--skip-pdf"]) == 1
    assert "holds bytes that are no letters" in capsys.readouterr().err
    assert not Path(reports).exists()


def test_ids_that_look_the_same_are_one_athlete_and_look_alikes_are_told(tmp_path: Path) -> None:
    people = ["A1,Ann,Blues", "A\u200b1,Ann,Blues", "\uff211,Ann,Blues", "\u04101,Ada,Blues"]
    roster = "athlete_id,name,squad\n" + "\n".join(people) + "\n"
    rows = ["A\u00ad1,2024-03-05,single_hop,left,145", "\u0392,2024-03-05,single_hop,left,145"]
    intake = intake_of(
        tmp_path, {"roster.csv": roster + "B,Bo,Blues\n", "t.csv": "\n".join([LONG, *rows])}
    )
    assert intake.roster["athlete_id"].to_list() == ["A1", "B", "\u04101"]
    assert intake.trials["athlete_id"].to_list() == ["A1"]
    said = remark(intake, "roster.csv")
    assert "athlete_id A1 is written in two ways that look the same; read as one" in said
    assert "look alike but hold letters of another script: A1, \u04101" in said
    assert intake.refused["reason"].to_list() == [
        "is not in the roster; it looks like B, but holds letters of another script"
    ]


def test_texts_are_cut_where_a_page_ends_and_the_remark_says_so(tmp_path: Path) -> None:
    long = "w " * 60_000
    roster = f"athlete_id,name,squad,position\nA1,{long},{long},{long}\n{'L' * 301},Bo,Blues,\n"
    tests = f"{LONG},note,{'h' * 5_000}\nA1,2024-03-05,single_hop,left,145,{long},1\n"
    log = "athlete_id,trained_on,exercise,set_number,side,reps\n"
    intake = intake_of(
        tmp_path,
        {"roster.csv": roster, "t.csv": tests, "log.csv": f"{log}A1,2024-03-05,{long},1,left,8\n"},
    )
    assert [*map(len, intake.roster.select("name", "squad", "position").row(0))] == [120] * 3
    assert [len(note) for note in intake.trials["note"]] == [2_000]
    assert [len(name) for name in intake.sets["exercise"]] == [120]
    assert "note is longer than 2000 letters in 1 cell; cut there" in remark(intake, "t.csv")
    assert "name is longer than 120 letters in 1 cell; cut there" in remark(intake, "roster.csv")
    assert max(map(len, intake.files["remark"])) < 2_000
    assert "is longer than 300 letters; expected an id" in intake.refused["reason"][0]


def test_what_is_read_from_right_to_left_turns_nothing_beside_it() -> None:
    said = set_apart("<p>יוסף בן-דוד, דוד 12 cm · Ann</p>")
    assert said == "<p>\u2068יוסף בן-דוד\u2069, \u2068דוד\u2069 12 cm · Ann</p>"
    assert set_apart("Ann 12 cm") == "Ann 12 cm"
    assert set_apart(f"é{TURNING}x") == "éx"
    assert visible("a\nb\u202e\udce9é") == "a\\x0ab\\u202e\\xe9é"


def test_marks_that_turn_a_line_are_left_out_on_reading(tmp_path: Path) -> None:
    text = f"{LONG},note\nA1,2024-03-05,single_hop,left,145,\u202eback\u202c \u2066x\u2069 שם\n"
    sheet = [row.split(",") for row in text.replace("A1", "A2").splitlines()]
    intake = intake_of(tmp_path, {"t.csv": text, "u.xlsx": {"S": sheet}})
    assert intake.trials["note"].to_list() == ["back x שם"] * 2
