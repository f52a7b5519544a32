"""Text into numbers and words."""

import polars as pl
import pytest

from pipeline.intake.parse.values import (
    Style,
    chosen,
    numbers,
    put,
    read_numbers,
    read_words,
    settle_style,
    whole_numbers,
)

POINT_COMMA: list[tuple[str, float | None, float | None]] = [
    # text, read with a decimal point, read with a decimal comma
    ("48", 48.0, 48.0),
    ("48.5", 48.5, 48.5),
    ("48,5", 48.5, 48.5),
    ("1,234", 1234.0, 1.234),
    ("1.234", 1.234, 1234.0),
    ("1,234.5", 1234.5, 1234.5),
    ("1.234,5", 1234.5, 1234.5),
    ("1 234,5", 1234.5, 1234.5),
    ("1\u00a0234.5", 1234.5, 1234.5),
    ("1'234.5", 1234.5, 1234.5),
    ("1,234,567", 1234567.0, 1234567.0),
    ("0,500", 0.5, 0.5),
    (" 7 ", 7.0, 7.0),
    ("\u22125", -5.0, -5.0),
    ("+3", 3.0, 3.0),
    ("1e3", 1000.0, 1000.0),
    (".5", 0.5, 0.5),
    ("1.2.3", None, None),
    ("5-6", None, None),
    ("1/2", None, None),
    ("14o", None, None),
    ("48 cm", 48.0, 48.0),
    ("12°", 12.0, 12.0),
]


@pytest.mark.parametrize(("text", "point", "comma"), POINT_COMMA)
def test_numbers_are_read_by_the_files_decimal_mark(
    text: str, point: float | None, comma: float | None
) -> None:
    cells = pl.Series([text])
    assert read_numbers(cells, "point", ",").values.to_list() == [point]
    assert read_numbers(cells, "comma", ";").values.to_list() == [comma]


def test_in_a_workbook_a_point_is_never_a_thousand() -> None:
    assert read_numbers(pl.Series(["1.234", "48,5"]), "comma", "").values.to_list() == [1.234, 48.5]


STYLES = [
    (["48,5"], ";", "comma"),
    (["48,5", "1.234"], ",", "comma"),
    (["1,234", "4.5"], ",", "point"),
    (["1,234"], ";", "comma"),
    (["1,234"], ",", "point"),
    (["1,234"], "\t", "open"),
    (["1,234"], "", "open"),
    (["48,5", "48.5"], ";", "mixed"),
    (["48,5", "48.5"], "", "comma"),
    (["1.234,5"], "\t", "comma"),
]


@pytest.mark.parametrize(("texts", "delimiter", "style"), STYLES)
def test_the_whole_file_settles_the_decimal_mark(
    texts: list[str], delimiter: str, style: Style
) -> None:
    assert settle_style(pl.Series(texts), delimiter) == style


def test_a_unit_behind_the_number_is_kept() -> None:
    read = numbers(pl.Series(["48 kg", "12", "3 apples"]), "point", ",")
    assert read["unit"].to_list() == ["kg", None, None]
    assert read["number"].to_list() == [48.0, 12.0, None]


def test_what_was_read_before_is_not_changed_by_reading_on() -> None:
    quick = pl.Series([1.0, None])
    read_numbers(pl.Series(["1", "2,5"]), "comma", "\t", quick)
    assert quick.to_list() == [1.0, None]
    assert put(quick, pl.Series([1]), pl.Series([9.0])).to_list() == [1.0, 9.0]
    assert quick.to_list() == [1.0, None]


def test_words_for_no_value_are_blank() -> None:
    words = read_words(pl.Series(["a ", "N/A", None, "-", " "]))
    assert words.rows.to_list() == ["a", None, None, None, None]


def test_a_header_in_the_dictionary_is_no_text_of_the_column() -> None:
    cells = pl.Series(["side", "a", "b"]).cast(pl.Categorical(pl.Categories.random()))
    assert read_words(cells.slice(1), "side").texts.to_list() == [None, "a", "b"]
    assert read_words(cells, "side").texts.to_list() == ["side", "a", "b"]


def test_spellings_become_our_words() -> None:
    known = {"left": ["l", "lt"], "right": ["r"]}
    assert chosen(pl.Series(["L", " Left_", "R.", "x"]), known).to_list() == [
        "left", "left", "right", None,
    ]  # fmt: skip


def test_trial_numbers_may_carry_a_word() -> None:
    texts = ["1", "2.0", "Trial 3", "#4", "1 of 3", "T5", "best", "-1", "1.5"]
    assert whole_numbers(pl.Series(texts)).to_list() == [1, 2, 3, 4, 1, 5, None, None, None]


NEITHER = "can mean a thousand or a decimal, and nothing else in the file settles which"
OPEN = [  # where nothing settles the decimal mark: text, number, fault
    ("1,234", None, NEITHER),
    ("14o", None, "is not a number"),
    ("fell", None, "is not a number"),
    ("145 cm", 145.0, None),
    ("1.234 m", 1.234, None),
    ("12,5", 12.5, None),
]


@pytest.mark.parametrize(("text", "number", "fault"), OPEN)
@pytest.mark.parametrize("style", ["open", "mixed"])
def test_only_what_can_mean_two_things_is_called_so(
    style: Style, text: str, number: float | None, fault: str | None
) -> None:
    assert numbers(pl.Series([text]), style, "\t").select("number", "fault").row(0) == (
        number, fault,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("style", "delimiter", "number"), [("point", ",", 1.234), ("comma", ";", 1234.0)]
)
def test_a_point_before_three_digits_and_a_unit(
    style: Style, delimiter: str, number: float
) -> None:
    read = numbers(pl.Series(["1.234 m"]), style, delimiter)
    assert read.select("number", "unit", "fault").row(0) == (number, "m", None)
