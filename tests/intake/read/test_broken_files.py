"""Small files with one fault in the whole: a plain remark, never a crash, no row lost."""

import io
import zipfile
from datetime import date, datetime
from pathlib import Path

import pytest

from pipeline.errors import SquadsidesError
from pipeline.intake import read_exports
from pipeline.settings import Settings
from tests.intake.exports import (
    LONG,
    ROSTER,
    WIDE,
    counts,
    intake_of,
    refusals,
    remark,
    values,
    workbook,
)

HOP = "A1,2024-03-05,single_hop,left,145"
SHEET = [LONG.split(","), ["A1", date(2024, 3, 5), "single_hop", "left", 145]]
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
RESAVE = "damaged, or no workbook; open it where it was made and save it again as .xlsx"
NOTHING = "no table of a known kind was found in it; nothing was read"


def packed(name: str) -> bytes:
    """An archive with one part."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as archive:
        archive.writestr(name, "<a/>")
    return written.getvalue()


UNREADABLE = {
    "empty.csv": (b"", "the file is empty"),
    "only blanks.csv": (b" \n \n", "the file is empty"),
    "only a mark.csv": (b"\xef\xbb\xbf", "the file is empty"),
    "old.xls": (
        OLD_OFFICE + b"\0" * 600, "an old .xls workbook; open it and save it as .xlsx",
    ),
    "locked.xlsx": (
        OLD_OFFICE + "EncryptedPackage".encode("utf-16-le"),
        "protected with a password; save it without one and drop it again",
    ),
    "cut off.xlsx": (workbook({"S": SHEET})[:900], RESAVE),
    "renamed archive.xlsx": (b"PK\x03\x04 something else", RESAVE),
    "other format.xlsx": (
        workbook({"S": SHEET}).replace(b"xl/workbook.xml", b"xl/wxrkbook.xml"), RESAVE,
    ),
    "report.pdf": (b"%PDF-1.7\n1 0 obj", "a PDF, not a table; export it as CSV or XLSX"),
    "board.png": (b"\x89PNG\r\n\x1a\n", "a picture, not a table; export it as CSV or XLSX"),
    "IMG_2041.HEIC": (
        b"\x00\x00\x00\x24ftypheic", "a picture, not a table; export it as CSV or XLSX",
    ),
    "board.webp": (
        b"RIFF\x10\0\0\0WEBPVP8 ", "a picture, not a table; export it as CSV or XLSX",
    ),
    "long clip.mov": (
        b"\x00\x00\x00\x14ftypqt  ", "a film, not a table; export it as CSV or XLSX",
    ),
    "list.docx": (
        packed("word/document.xml"),
        "a text document, not a table; copy its table into a workbook or a template",
    ),
    "list.ods": (
        packed("META-INF/manifest.xml"),
        "a workbook or document of another kind; open it and save it as .xlsx",
    ),
    "week.zip": (
        packed("tests.csv"), "a compressed archive; unpack it and drop the files in it",
    ),
    "clip.mp4": (b"\x00\x00\x00\x18ftypmp42", "a film, not a table; export it as CSV or XLSX"),
    "all.gz": (b"\x1f\x8b\x08", "a compressed archive, not a table; export it as CSV or XLSX"),
    "web.xls": (
        b"<html><table><tr><td>A1</td></tr></table></html>",
        "a web page, whatever its ending says; export it as CSV or XLSX",
    ),
    "letter.txt": (b"Dear coach,\nsee you on Monday.\n", NOTHING),
    "shopping.csv": (b"milk,2\nbread,1\n", NOTHING),
    "one column.csv": (b"athlete_id\nA1\nA2\n", NOTHING),
    "broad.csv": (b"," * 1200 + b"\n", "more than 1000 columns; this is no table of tests"),
}  # fmt: skip


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_file_that_is_no_export_gets_one_plain_remark(name: str, tmp_path: Path) -> None:
    data, said = UNREADABLE[name]
    intake = intake_of(tmp_path, {name: data})
    assert remark(intake, name) == said
    assert counts(intake, name) == (0, 0, 0, 0)
    assert intake.refused.is_empty()


def test_of_noise_it_is_said_first_that_nothing_was_read(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"noise.csv": b'a\0b,"c\x07d\n1,2\n'})
    said = remark(intake, "noise.csv")
    assert said.startswith(NOTHING)
    assert "zero bytes between the characters were left out" in said


def test_a_header_without_rows_says_so(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": LONG + "\n"})
    assert remark(intake, "t.csv") == "a header without rows"


def test_an_empty_sheet_says_so(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.xlsx": {"Hops": SHEET, "Sheet2": []}})
    assert remark(intake, "t.xlsx", "Sheet2") == "an empty sheet"
    assert counts(intake, "t.xlsx", "Hops") == (1, 1, 0, 0)


def test_a_file_whose_dates_settle_nothing_says_so_as_a_whole(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\nA1,03/04/2024,single_hop,left,145\n"})
    assert remark(intake, "t.csv") == (
        "its dates can be read with the day or the month first and nothing in it settles which; "
        "rows with such dates are refused"
    )


def test_unknown_columns_are_named(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG},Operator,Device no\n{HOP},Jo,7\n"})
    assert remark(intake, "t.csv") == "columns not used: Operator, Device no"
    assert counts(intake, "t.csv") == (1, 1, 0, 0)


def test_codes_for_not_tested_leave_no_row_behind_and_are_counted(tmp_path: Path) -> None:
    cells = ["", "-", "n/a", "999", "145"]
    rows = "".join(f"A1,2024-03-05,single_hop,left,{cell}\n" for cell in cells)
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\n{rows}"})
    assert counts(intake, "t.csv") == (1, 1, 0, 0)
    assert remark(intake, "t.csv") == (
        "cells with 999 taken as not tested: 1; rows without a value, not read: 4"
    )


def test_a_code_inside_the_limits_is_a_value(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\nA1,2024-03-05,side_plank_hold,left,99\n"})
    assert values(intake) == [("A1", "side_plank_hold", "left", 1, 99.0)]


def test_a_quotation_mark_never_closed_swallows_no_row(tmp_path: Path) -> None:
    text = f'{LONG},note\n{HOP},"sore\nA1,2024-03-06,single_hop,left,146,fine\n'
    intake = intake_of(tmp_path, {"t.csv": text})
    assert counts(intake, "t.csv") == (2, 2, 0, 0)
    assert intake.trials["note"].to_list() == ['"sore', "fine"]
    assert remark(intake, "t.csv") == (
        "the quotation mark in line 2 is never closed; "
        "quotation marks were read as plain characters"
    )


def test_two_open_quotation_marks_swallow_no_row_between_them(tmp_path: Path) -> None:
    days = ["2024-03-05", "2024-03-06", "2024-03-07"]
    notes = ['"sore', "fine", '"ok']
    rows = "".join(
        f"A1,{day},single_hop,left,145,{note}\n" for day, note in zip(days, notes, strict=True)
    )
    intake = intake_of(tmp_path, {"t.csv": f"{LONG},note\n{rows}"})
    assert counts(intake, "t.csv") == (3, 3, 0, 0)


def test_inch_marks_inside_cells_are_plain_characters(tmp_path: Path) -> None:
    text = f'{LONG},note\n{HOP},5" box\nA1,2024-03-06,single_hop,left,145,6" box\n'
    intake = intake_of(tmp_path, {"t.csv": text})
    assert intake.trials["note"].to_list() == ['5" box', '6" box']


def test_a_note_over_two_lines_counts_as_one_line_of_the_spreadsheet(tmp_path: Path) -> None:
    text = f'{LONG},note\n{HOP},"sore\nknee, left"\nA1,2024-03-06,single_hop,left,x,fine\n'
    intake = intake_of(tmp_path, {"t.csv": text})
    assert refusals(intake) == [
        ("t.csv", 3, "value", "x", "is not a number; expected a number in cm")
    ]
    assert intake.trials["note"].to_list() == ["sore\nknee, left"]


def test_zero_bytes_are_left_out_with_a_remark(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\n{HOP}\n".replace("145", "1\x0045")})
    assert values(intake) == [("A1", "single_hop", "left", 1, 145.0)]
    assert remark(intake, "t.csv") == "zero bytes between the characters were left out"


def test_a_separator_line_is_neither_read_nor_counted(tmp_path: Path) -> None:
    text = f"sep=;\n{LONG}\nA1,2024-03-05,single_hop,left,x\n".replace(",", ";")
    intake = intake_of(tmp_path, {"t.csv": text})
    assert refusals(intake)[0][:4] == ("t.csv", 2, "value", "x")


def test_lines_that_are_one_quoted_cell_are_unwrapped(tmp_path: Path) -> None:
    text = "\n".join(f'"{line}"' for line in (LONG, HOP))
    intake = intake_of(tmp_path, {"t.csv": text})
    assert values(intake) == [("A1", "single_hop", "left", 1, 145.0)]


def test_title_lines_above_the_header_move_no_line_number(tmp_path: Path) -> None:
    text = f"Hop tests\n\n{LONG}\nA1,2024-03-05,single_hop,left,x\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert refusals(intake)[0][:4] == ("t.csv", 4, "value", "x")


def test_a_row_above_the_header_is_refused_not_passed_over(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{HOP}\n{LONG}\n{HOP}\n"})
    assert refusals(intake) == [
        ("t.csv", 1, "", "", "stands above the header, so nothing says what its cells mean")
    ]
    assert counts(intake, "t.csv") == (2, 1, 1, 0)


def test_totals_below_a_table_are_not_read_and_named(tmp_path: Path) -> None:
    text = f"{WIDE}\nA1,2024-03-05,single_hop,145,150\nMean,,,145,150\nSD,,single_hop,2,3\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert counts(intake, "t.csv") == (1, 1, 0, 0)
    assert remark(intake, "t.csv") == "lines 3, 4 sum up other rows and were not read"


def test_an_athlete_called_max_is_no_total(tmp_path: Path) -> None:
    roster = "athlete_id,name,squad\nMax,Max Ode,S\n"
    tests = f"{LONG}\nMax,2024-03-05,single_hop,left,145\n"
    intake = intake_of(tmp_path, {"roster.csv": roster, "t.csv": tests})
    assert values(intake) == [("Max", "single_hop", "left", 1, 145.0)]


def test_a_second_table_below_the_first_keeps_its_own_columns(tmp_path: Path) -> None:
    text = f"{LONG}\n{HOP}\n\nHops again\n{WIDE}\nA2,2024-03-05,single_hop,140,x\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert values(intake) == [
        ("A1", "single_hop", "left", 1, 145.0), ("A2", "single_hop", "left", 1, 140.0),
    ]  # fmt: skip
    assert refusals(intake)[0][:4] == ("t.csv", 6, "right", "x")


def test_a_header_repeated_in_the_middle_is_no_row(tmp_path: Path) -> None:
    text = f"{LONG}\n{HOP}\n{LONG}\nA2,2024-03-05,single_hop,left,140\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert counts(intake, "t.csv") == (2, 2, 0, 0)


def test_tables_beside_each_other_are_both_read(tmp_path: Path) -> None:
    header = [*WIDE.split(","), None, *WIDE.split(",")]
    row = ["A1", "2024-03-05", "single_hop", 140, 150, None]
    row += ["A2", "2024-03-05", "grip", 30, "x"]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": [header, row]}})
    assert [value[4] for value in values(intake)] == [140.0, 150.0, 30.0]
    assert counts(intake, "t.xlsx", "S") == (2, 2, 0, 0)


def test_a_hidden_sheet_is_read_and_named(tmp_path: Path) -> None:
    data = workbook({"Open": SHEET, "Old": SHEET}, hidden=["Old"])
    intake = intake_of(tmp_path, {"t.xlsx": data})
    assert remark(intake, "t.xlsx", "Old").startswith("a hidden sheet; it was read like the others")
    assert counts(intake, "t.xlsx", "Old") == (1, 0, 0, 1)


def test_merged_headers_over_two_rows_are_read_together(tmp_path: Path) -> None:
    rows = [
        ["athlete", "date", "test", "Left", None, "Right", None],
        [None, None, None, 1, 2, 1, 2],
        ["A1", date(2024, 3, 5), "single_hop", 140, 141, 150, 151],
    ]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert [value[2:] for value in values(intake)] == [
        ("left", 1, 140.0), ("left", 2, 141.0), ("right", 1, 150.0), ("right", 2, 151.0),
    ]  # fmt: skip


def test_a_merged_side_header_covers_the_columns_under_it(tmp_path: Path) -> None:
    rows = [
        ["athlete", "date", "test", "Left", None, "Right", None],
        ["A1", date(2024, 3, 5), "single_hop", 140, 141, 150, 151],
    ]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert [value[3] for value in values(intake)] == [1, 2, 1, 2]
    assert remark(intake, "t.xlsx", "S") == (
        '1 column without a header right of "Left" read as further trials; '
        '1 column without a header right of "Right" read as further trials'
    )


def test_notes_beside_the_table_are_not_taken_for_trials(tmp_path: Path) -> None:
    rows = [[*WIDE.split(","), None], ["A1", "2024-03-05", "single_hop", 140, 150, "see Jo"]]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert counts(intake, "t.xlsx", "S") == (1, 1, 0, 0)
    assert remark(intake, "t.xlsx", "S") == "columns without a header, not used: 1"


def test_a_row_of_units_under_the_header_is_part_of_it(tmp_path: Path) -> None:
    rows = [
        ["athlete", "date", "test", "left", "right"],
        [None, None, None, "(m)", "(m)"],
        ["A1", date(2024, 3, 5), "single_hop", 1.4, 1.5],
    ]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert [value[4] for value in values(intake)] == [140.0, 150.0]


def test_a_time_or_date_in_a_number_cell_is_named_as_such(tmp_path: Path) -> None:
    hold = ["A1", date(2024, 3, 5), "side_plank_hold", "left"]
    rows = [LONG.split(","), [*hold, datetime(1900, 1, 1, 1, 35)], [*hold, date(2024, 3, 5)]]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert [reason for *_, reason in refusals(intake)] == [
        "is a time of day to the spreadsheet; expected a number in s",
        "is a date to the spreadsheet; expected a number in s",
    ]


def test_a_tempo_that_became_a_date_is_named_as_such(tmp_path: Path) -> None:
    header = ["athlete_id", "trained_on", "exercise", "set_number", "side", "reps", "tempo"]
    row = ["A1", date(2024, 3, 5), "back squat", 1, "both", 8, date(2003, 1, 1)]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": [header, row]}})
    assert refusals(intake)[0][4] == (
        "is a date to the spreadsheet; expected a tempo such as 3-1-1 as text"
    )


def test_error_cells_and_uncomputed_formulas_are_refused_not_taken_for_untested(
    tmp_path: Path,
) -> None:
    rows = [
        *SHEET,
        ["A1", date(2024, 3, 6), "single_hop", "left", ("=1/0", "#DIV/0!")],
        ["A1", date(2024, 3, 7), "single_hop", "left", ("=A1*2", "")],
        ["A1", date(2024, 3, 8), "single_hop", "left", ("=100+45", 145)],
    ]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert [row[1:4] for row in refusals(intake)] == [
        (3, "value", "#DIV/0!"), (4, "value", "=A1*2"),
    ]  # fmt: skip
    assert counts(intake, "t.xlsx", "S") == (4, 2, 2, 0)
    assert remark(intake, "t.xlsx", "S").startswith(
        "1 formula without a result; open the file in a spreadsheet program, save it and drop"
    )


def test_no_exports_give_one_plain_sentence(tmp_path: Path) -> None:
    with pytest.raises(SquadsidesError, match=r"^The folder .* holds no exports; put the CSV or"):
        read_exports(tmp_path, Settings())
    with pytest.raises(SquadsidesError, match=r"^There is no folder .*; create it and put the"):
        read_exports(tmp_path / "missing", Settings())


def test_a_folder_of_pictures_is_told_in_a_sentence_or_two(tmp_path: Path) -> None:
    (tmp_path / "board.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    (tmp_path / "plan.pdf").write_bytes(b"%PDF-1.7")
    with pytest.raises(SquadsidesError) as raised:
        read_exports(tmp_path, Settings())
    assert str(raised.value) == (
        "None of the files can be read as a table. board.jpg: a picture, not a table; export it as "
        "CSV or XLSX. plan.pdf: a PDF, not a table; export it as CSV or XLSX."
    )


@pytest.mark.parametrize("name", ["~$tests.xlsx", ".~lock.tests.xlsx#"])
def test_a_file_that_is_open_and_not_yet_saved_here_is_told(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(b"x")
    with pytest.raises(SquadsidesError, match=r"mark of a file that is open .* and close it\.$"):
        read_exports(tmp_path, Settings())


def test_a_roster_without_a_readable_row_names_its_first_fault(tmp_path: Path) -> None:
    (tmp_path / "roster.csv").write_text("athlete_id,name,squad,sex\nA1,Ann,,f\n")
    with pytest.raises(SquadsidesError) as raised:
        read_exports(tmp_path, Settings())
    assert str(raised.value) == (
        "No row of the roster can be read; the first fault: roster.csv line 2, squad '' "
        "is blank; expected the name of a squad."
    )


def test_lock_files_dot_files_and_folders_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "last season").mkdir()
    intake = intake_of(tmp_path, {"roster.csv": ROSTER, "~$t.xlsx": b"x", ".DS_Store": b"x"})
    assert intake.files.select("file", "remark").rows() == [
        ("last season", "a folder; only files lying directly here are read"),
        ("roster.csv", ""),
    ]
