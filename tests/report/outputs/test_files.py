"""What files are called, whatever people are called."""

import pytest

from pipeline.report.outputs.reports_folder import file_names


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("HB-01", "HB-01"),
        ("Ευα 7", "Ευα 7"),
        ("a/b\\c:d*e?f\"g<h>i|j", "a_b_c_d_e_f_g_h_i_j"),
        ("a\x00b\nc\x7fd", "a_b_c_d"),
        (" ..hidden. ", "hidden"),
        ("..", "_"),
        ("CON", "_CON"),
        ("com1.csv", "_com1.csv"),
        ("console", "console"),
        ("x" * 300, "x" * 200),
        ("王" * 100, "王" * 66),  # three bytes each
        ("x" * 199 + ". more", "x" * 199),
    ],
)  # fmt: skip
def test_a_text_becomes_a_file_name_on_every_system(text: str, name: str) -> None:
    assert file_names([text]) == {text: name}


@pytest.mark.parametrize(
    "texts",
    [("ab", "AB"), ("a/b", "a_b"), ("x" * 201, "x" * 202), ("Zo\u00e9", "Zoe\u0301"), ("..", "_")],
)
def test_two_texts_never_share_a_name(texts: tuple[str, str]) -> None:
    names = file_names([*texts, "C3"])
    assert names["C3"] == "C3"
    assert len({name.casefold() for name in names.values()}) == 3
    assert names == file_names(["C3", *reversed(texts)])


def test_a_squad_called_as_anothers_second_file_gets_a_name_of_its_own() -> None:
    squads = ["Reds", "Reds_reference", "reds_REFERENCE_reference", "Blues"]
    names = file_names(squads, ("", "_reference"))
    files = [name + end for name in names.values() for end in ("", "_reference")]
    assert len({file.casefold() for file in files}) == len(files) == 8
    assert names["Blues"] == "Blues"
    assert file_names(["Reds"], ("", "_reference")) == {"Reds": "Reds"}
