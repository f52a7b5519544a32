"""The blank workbooks: complete, explained, and never data."""

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pipeline.__main__ import main
from pipeline.catalogue import catalogue
from pipeline.errors import SquadsidesError
from pipeline.intake import read_exports
from pipeline.report.outputs.templates import templates, write_templates
from pipeline.settings import Settings
from schemas.columns import named
from schemas.contracts.own_sheets import EXAMPLES
from tests.intake.exports import ROSTER, intake_of, remark

KINDS = list(catalogue().headers.kinds)
# Columns that are another way to say the same, or our own sheet's.
OTHER_WAYS = {
    "involved", "uninvolved", "dominant", "nondominant", "sets", "reps_left", "reps_right",
    "load_left", "load_right", "rpe", "planned_reps", "planned_load", "done", "decided_on",
    "listed_decision",
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("templates") / "new"
    assert main(["templates", str(place)]) == 0
    return place


def sheet_of(path: Path) -> Any:
    return openpyxl.load_workbook(path).worksheets[0]


def test_there_is_a_workbook_for_every_kind_of_export(folder: Path) -> None:
    assert list(templates()) and set(templates()) == set(KINDS)
    assert {path.name for path in folder.iterdir()} == {one["file"] for one in templates().values()}


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_of_a_kind_is_there_and_explained(kind: str, folder: Path) -> None:
    entry = templates()[kind]
    book = openpyxl.load_workbook(folder / entry["file"])
    assert book.sheetnames == [kind, "columns", "lists"]
    head = [cell.value for cell in book[kind][1]]
    assert head == list(entry["columns"])
    known = catalogue().headers.kinds[kind]
    wanted = {*known.required, *known.columns} - OTHER_WAYS
    if kind != "roster":
        wanted -= {"name"}
    if kind == "side_tests_columns":
        wanted -= {"unit"}  # which a header names in brackets
    numbered = {name.rpartition("_")[0] for name in head if name[-1].isdigit()}
    assert wanted <= {*head, *numbered}
    explained = {row[0].value: row[1].value for row in book["columns"].iter_rows(min_row=5)}
    assert list(explained) == head
    assert {name for name in known.required if explained[name] != "yes"} == set()


@pytest.mark.parametrize("kind", KINDS)
def test_a_template_reads_as_its_kind_and_its_examples_are_no_data(
    kind: str, folder: Path, tmp_path: Path
) -> None:
    file = templates()[kind]["file"]
    data = (folder / file).read_bytes()
    kept = {"people.csv": ROSTER, "roster file.csv": ROSTER, file: data}
    intake = intake_of(tmp_path, kept)
    rows = intake.files.filter(file=file).to_dicts()
    assert [row["kind"] for row in rows] == [kind, "", ""]
    assert {row["rows_read"] for row in rows} == {0}
    told = "example rows of a template, which are no data: 2; a header without rows"
    assert remark(intake, file, kind) == told
    assert intake.refused.is_empty()
    everything = str(intake.roster.to_dicts()) + str(intake.trials) + str(intake.decisions)
    assert not any(who in everything for who in EXAMPLES)


def test_the_examples_would_be_read_if_they_were_somebody(folder: Path, tmp_path: Path) -> None:
    """With real ids in their place every row is accepted: the examples are right."""
    for kind, entry in templates().items():
        book = openpyxl.load_workbook(folder / entry["file"])
        for row in book.worksheets[0].iter_rows(min_row=2):
            row[0].value = row[0].value.replace("EXAMPLE-", "A")
        book.save(tmp_path / entry["file"])
        assert kind in KINDS
    intake = read_exports(tmp_path, Settings())
    assert intake.refused.is_empty()
    read = intake.files.filter(intake.files["kind"] != "")
    assert dict(read.select("kind", "rows_accepted").iter_rows()) == dict.fromkeys(KINDS, 2)
    assert intake.trials.height == 5 + 4 + 2 + 7
    assert "not in the dictionary" not in "".join(read["remark"])


def test_what_is_filled_in_below_or_over_the_examples_is_data(folder: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(folder / "side_tests_wide.xlsx")
    sheet = book["side_tests_wide"]
    sheet.append(["A1", "2026-02-02", "single_hop", 150, 160])
    book.save(tmp_path / "side_tests_wide.xlsx")
    intake = intake_of(tmp_path, {"roster.csv": ROSTER})
    assert intake.trials.select("athlete_id", "value", "source_line").rows() == [
        ("A1", 150.0, 4), ("A1", 160.0, 4),
    ]  # fmt: skip


def test_nothing_but_examples_is_told_as_such(folder: Path) -> None:
    with pytest.raises(SquadsidesError, match="nothing in them but their example rows"):
        read_exports(folder, Settings())


def test_a_file_that_is_there_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "roster.xlsx").write_text("mine")
    assert main(["templates", str(tmp_path)]) == 0
    assert (tmp_path / "roster.xlsx").read_text() == "mine"
    assert "roster.xlsx is there already" in capsys.readouterr().out


def test_a_folder_that_cannot_be_written_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("")
    assert main(["templates", str(tmp_path / "file")]) == 1
    assert "cannot be written" in capsys.readouterr().err


def test_templates_are_the_same_bytes_each_time(folder: Path, tmp_path: Path) -> None:
    write_templates(tmp_path)
    for path in folder.iterdir():
        assert path.read_bytes() == (tmp_path / path.name).read_bytes()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "athlete id;test date;Testt;Left;Right\nA1;2026-01-02;single hop;3;4\n",
            "nearest template: side_tests_wide.xlsx (`make templates` writes it); "
            "rename “Testt” to test",
        ),
        (
            "athlete;Trainingday;exercize;side;repz\nA1;2026-01-02;squat;left;4\n",
            "nearest template: training_log.xlsx (`make templates` writes it); rename “exercize” "
            "to exercise, “Trainingday” to trained_on, “repz” to reps",
        ),
        ("athlete_id,name\nA1,Ada\n", "nearest template: roster.xlsx (`make templates` writes it); "
         "add squad"),
    ],
)  # fmt: skip
def test_unknown_headers_get_the_nearest_template(text: str, told: str, tmp_path: Path) -> None:
    said = remark(intake_of(tmp_path, {"odd.csv": text}), "odd.csv")
    assert said.endswith(told)


def test_a_table_of_something_else_gets_no_template(tmp_path: Path) -> None:
    said = remark(intake_of(tmp_path, {"odd.csv": "price,shop\n1,2\n"}), "odd.csv")
    assert "template" not in said


def test_every_day_of_the_examples_shows_as_a_day(folder: Path) -> None:
    """A birth date of 36999 would be no date to whoever reads it."""
    for path in sorted(folder.iterdir()):
        sheet = sheet_of(path)
        head = [cell.value for cell in sheet[1]]
        for row in sheet.iter_rows(min_row=2, max_row=3):
            for name, cell in zip(head, row, strict=True):
                is_number = isinstance(cell.value, int | float)
                assert not (name in named("day") and is_number), (path.name, cell.coordinate)
