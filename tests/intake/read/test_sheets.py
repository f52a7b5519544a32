"""Bytes into rows of text: every dialect, and the line numbers a spreadsheet shows."""

import io

import openpyxl
import pytest

from pipeline.intake.read.decoding import decode_text
from pipeline.intake.read.files import open_grids
from pipeline.intake.read.grids import UnreadableFile
from pipeline.intake.recognise.kinds import judge
from tests.intake.exports import workbook

LONG = "athlete_id,tested_on,test,side,value"


def rows_of(data: bytes) -> list[tuple[object, ...]]:
    (grid,) = open_grids("t.csv", data, judge)
    frame = grid.load(())
    return [row for row in frame.rows()]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_the_one_under_which_the_header_is_known(delimiter: str) -> None:
    (grid,) = open_grids("t.csv", LONG.replace(",", delimiter).encode(), judge)
    assert grid.delimiter == delimiter


def test_commas_inside_cells_do_not_win_against_the_real_delimiter() -> None:
    text = f"{LONG};note\n".replace(",", ";") + "A1;2024-03-05;single_hop;left;145;a, b, c, d, e\n"
    (grid,) = open_grids("t.csv", text.encode(), judge)
    assert grid.delimiter == ";"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_names_keep_their_accents_in_every_encoding(encoding: str) -> None:
    text, _ = decode_text("name,squad\nZoë Fürst,é\n".encode(encoding))
    assert text.decode() == "name,squad\nZoë Fürst,é\n"


def test_line_ends_of_every_system_are_one_row() -> None:
    assert decode_text(b"a\rb\r\nc\nd")[0] == b"a\nb\nc\nd"


def test_blank_lines_keep_their_place_in_the_count() -> None:
    assert rows_of(b"\n\na,b\n\n1,2\n") == [
        (1, None, None), (2, None, None), (3, "a", "b"), (4, None, None), (5, "1", "2"),
    ]  # fmt: skip


def test_rows_of_several_lengths_keep_every_cell() -> None:
    assert rows_of(b"title\na,b\n1,2,3,4\n5\n") == [
        (1, "title", None, None, None), (2, "a", "b", None, None),
        (3, "1", "2", "3", "4"), (4, "5", None, None, None),
    ]  # fmt: skip


def test_quoted_delimiters_quotes_and_line_ends_stay_inside_their_cell() -> None:
    assert rows_of(b'a,b\r\n"1,5","say ""so"""\r\n"x\r\ny",2\r\n')[1:] == [
        (2, "1,5", 'say "so"'), (3, "x\ny", "2"),
    ]  # fmt: skip


def test_a_quoted_cell_that_goes_on_after_its_mark_loses_nothing() -> None:
    assert rows_of('a,b\n1,"é"é\n2,x\n'.encode())[1:] == [(2, "1", "éé"), (3, "2", "x")]


def test_a_worksheet_that_begins_further_down_keeps_its_line_numbers() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet["B3"], sheet["C3"], sheet["B5"] = "a", "b", "x"
    buffer = io.BytesIO()
    book.save(buffer)
    (grid,) = open_grids("t.xlsx", buffer.getvalue(), judge)
    assert grid.load(()).rows() == [
        (1, None, None), (2, None, None), (3, "a", "b"), (4, None, None), (5, "x", None),
    ]  # fmt: skip


def test_numbers_dates_and_text_of_a_worksheet_come_as_text() -> None:
    from datetime import date

    data = workbook({"S": [["x"], [7], [12.5], ["12,5"], [date(2024, 3, 5)], [True]]})
    (grid,) = open_grids("t.xlsx", data, judge)
    assert grid.load(())["c0"].to_list() == [
        "x", "7", "12.5", "12,5", "2024-03-05 00:00:00", "true",
    ]  # fmt: skip


def test_sheets_come_in_the_order_of_their_tabs() -> None:
    grids = open_grids("t.xlsx", workbook({"B": [["b"]], "A": [["a"]], "Empty": []}), judge)
    assert [grid.sheet for grid in grids] == ["B", "A", "Empty"]


def test_a_cell_at_the_far_end_of_a_sheet_is_named_instead_of_filling_the_memory() -> None:
    book = openpyxl.Workbook()
    book.active["A1"], book.active["XFD1048576"] = "athlete_id", 1
    buffer = io.BytesIO()
    book.save(buffer)
    (grid,) = open_grids("t.xlsx", buffer.getvalue(), judge)
    assert grid.remarks == (
        "a cell far outside the table makes this sheet too large to read; delete what lies there",
    )
    assert grid.load(()).is_empty()


def test_a_file_of_blanks_is_empty() -> None:
    with pytest.raises(UnreadableFile, match="the file is empty"):
        open_grids("t.csv", b" \n\t\n", judge)
