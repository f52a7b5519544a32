"""The sample from files to reports: everything the contract names, and nothing torn or lost."""

import hashlib
import shutil
from pathlib import Path

import duckdb
import openpyxl
import polars as pl
import pytest

from pipeline.__main__ import main
from pipeline.report.outputs.tables import (
    ASYMMETRY_COLUMNS,
    FLAG_COLUMNS,
    HEADERS,
    INTAKE_COLUMNS,
    REFUSED_COLUMNS,
)
from pipeline.warehouse import Warehouse
from pipeline.warehouse.database import LISTED, RAISED, ROOMS, sql_files
from schemas.contracts.flag_relations import FLAGS
from schemas.contracts.relations import RELATIONS
from tests.conftest import SAMPLE, Built, built

TABLES = {
    "flags.csv": [HEADERS.get(name, name) for name in FLAG_COLUMNS],
    "asymmetries.csv": ASYMMETRY_COLUMNS,
    "intake.csv": INTAKE_COLUMNS,
    "refused_rows.csv": REFUSED_COLUMNS,
}


def test_every_file_of_the_reports_folder_is_there(sample: Built) -> None:
    names = {path.name for path in sample.reports.iterdir()}
    assert names >= {*TABLES, "decisions.xlsx", "warehouse.duckdb", "athletes"}
    packs = {path.stem for path in sample.reports.glob("squad_*.pdf")}
    squads = {name for name in packs if not name.endswith("_reference")}
    assert len(squads) == 3 and packs == squads | {f"{name}_reference" for name in squads}
    assert len(list(sample.reports.glob("athletes/*.pdf"))) == 50
    assert not list(sample.reports.rglob("*.part"))
    assert not (sample.reports / ".unfinished").exists()


@pytest.mark.parametrize("name", TABLES)
def test_tables_hold_exactly_their_columns(sample: Built, name: str) -> None:
    assert pl.read_csv(sample.reports / name, infer_schema=False).columns == TABLES[name]


def test_every_row_is_accounted_for(sample: Built) -> None:
    files = pl.read_csv(sample.reports / "intake.csv")
    parts = files["rows_accepted"] + files["rows_refused"] + files["rows_repeated"]
    assert files["rows_read"].to_list() == parts.to_list()
    refused = pl.read_csv(sample.reports / "refused_rows.csv", infer_schema=False)
    kept = refused["row_kept"] == "yes"  # a cell of such a row costs itself alone
    lost = refused.filter(~kept).select("file", "sheet", "line").unique()
    assert files["rows_refused"].sum() == lost.height
    assert refused.filter(kept).join(lost, on=["file", "sheet", "line"]).is_empty()
    assert not lost.is_empty() and kept.any()


WITHOUT_ROWS = {"stg_log_remarks"}  # nobody of the sample wrote of pain in a log


def test_every_relation_keeps_its_contract(sample: Built) -> None:
    assert RELATIONS.keys() == sql_files(*ROOMS).keys()
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as warehouse:
        for name, contract in RELATIONS.items():
            frame = warehouse.fetch(name)
            assert not frame.is_empty() or name in WITHOUT_ROWS, name
            contract.validate(frame, lazy=True)
        for name in sql_files("flags").keys() - {"flags_raised"}:
            FLAGS[name].validate(warehouse.fetch(name), lazy=True)


def test_every_relation_says_its_grain_first() -> None:
    for name, text in sql_files(*ROOMS, *RAISED, *LISTED).items():
        assert text.startswith("-- One row per "), name


def test_every_trial_can_be_traced_to_file_sheet_and_line(sample: Built) -> None:
    with duckdb.connect(str(sample.reports / "warehouse.duckdb"), read_only=True) as connection:
        untraced = connection.sql(
            "from stg_trials where source_file is null or source_line is null or source_line < 2"
        ).fetchall()
    assert untraced == []


def test_the_decision_sheet_lists_every_flag_with_its_choices(sample: Built) -> None:
    sheet = openpyxl.load_workbook(sample.reports / "decisions.xlsx").active
    assert sheet is not None
    rows = list(sheet.iter_rows(values_only=True))
    flags = pl.read_csv(sample.reports / "flags.csv")
    assert rows[0][0] == "flag_id"
    assert [row[0] for row in rows[1:]] == flags["flag_id"].to_list()
    choice, day = sheet.data_validations.dataValidation
    assert str(choice.formula1) == '"refer,seen,cleared,wait,retest,done,train,accept"'
    assert (day.type, str(day.sqref)[0]) == ("date", "I")


def test_the_estimate_lies_in_its_interval_and_chances_are_chances(sample: Built) -> None:
    rows = pl.read_csv(sample.reports / "asymmetries.csv")
    assert rows.filter(~pl.col("estimate").is_between("low90", "high90")).is_empty()
    for name in ("chance_over_line", "chance_closing"):
        assert rows[name].drop_nulls().is_between(0, 1).all()
    ratio = (rows["mdc95"] / rows["typical_error"]).drop_nans()
    assert ratio.is_between(1.96 * 2**0.5 - 0.05, 1.96 * 2**0.5 + 0.05).mean() > 0.95
    assert set(rows["verdict"]) <= {"confirmed", "retest", "within", "one_session"}


def test_another_order_of_arrival_changes_nothing(sample: Built, tmp_path: Path) -> None:
    copy = tmp_path / "exports"
    copy.mkdir()
    for path in sorted(SAMPLE.iterdir(), reverse=True):
        shutil.copyfile(path, copy / path.name)
    again = built(copy, tmp_path / "reports")
    for name in TABLES:
        assert _digest(sample.reports / name) == _digest(again.reports / name), name


def test_a_build_on_top_of_another_week_equals_one_from_scratch(
    sample: Built, tmp_path: Path
) -> None:
    folder = tmp_path / "reports"
    built(SAMPLE, folder, as_of=sample.summary.as_of.replace(day=1))
    built(SAMPLE, folder)
    for name in TABLES:
        assert _digest(sample.reports / name) == _digest(folder / name), name


def test_a_broken_cell_is_refused_with_its_place_while_the_build_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exports = tmp_path / "exports"
    shutil.copytree(SAMPLE, exports)
    hops = (exports / "hops.csv").read_text(encoding="utf-8").splitlines()
    cells = hops[4].split(",")
    cells[4] = "1o9"
    hops[4] = ",".join(cells)
    (exports / "hops.csv").write_text("\n".join(hops) + "\n", encoding="utf-8")
    (exports / "half a book.xlsx").write_bytes(b"PK\x03\x04 cut off while it was copied")
    assert main(_arguments(exports, tmp_path)) == 0
    said = capsys.readouterr().out.splitlines()
    assert [line for line in said if line.startswith("Not read")] == [
        "Not read: half a book.xlsx (intake.csv says why)."
    ]
    refused = pl.read_csv(tmp_path / "reports" / "refused_rows.csv", infer_schema=False)
    row = refused.filter(file="hops.csv").row(0, named=True)
    assert (row["line"], row["column"], row["value"]) == ("5", "left_2", "1o9")
    assert row["reason"]
    assert main([*_arguments(exports, tmp_path), "--strict"]) == 3


def test_no_exports_at_all_is_one_plain_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "exports").mkdir()
    assert main(_arguments(tmp_path / "exports", tmp_path)) == 1
    printed = capsys.readouterr().err.strip().splitlines()
    message = [line for line in printed if line.startswith("squadsides:")]
    assert len(message) == 1
    assert "Traceback" not in "\n".join(printed)
    assert not (tmp_path / "reports").exists()


def test_wrong_arguments_exit_with_two(tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["build", "--exports", str(tmp_path)])
    with pytest.raises(SystemExit, match="2"):
        main([*_arguments(tmp_path, tmp_path), "--as-of", "20.11.2026"])


def test_check_prints_every_file_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exports = tmp_path / "exports"
    shutil.copytree(SAMPLE, exports)
    assert main(["check", "--exports", str(exports)]) == 0
    printed = capsys.readouterr().out
    for path in SAMPLE.iterdir():
        assert path.name in printed
    assert "column Test “" in printed  # what was found stands before why it was refused
    assert {path.name for path in tmp_path.iterdir()} == {"exports"}


def test_explain_walks_from_the_files_to_the_verdict(
    sample: Built, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["explain", "--reports", str(sample.reports), "HB-04", "single hop"]) == 0
    printed = capsys.readouterr().out
    for part in (
        "hops.csv, line",
        "same shoes",
        "typical error",
        "review line",
        "Verdict: retest",
    ):
        assert part in printed


@pytest.mark.parametrize(
    ("athlete", "measure", "part"),
    [
        ("HB-99", "single_hop", "not in the roster"),
        ("HB-04", "moon_jump", "nearest"),
        ("VB-16", "single_hop", "has no Single hop"),
    ],
)
def test_explain_says_what_it_does_not_find(
    sample: Built, capsys: pytest.CaptureFixture[str], athlete: str, measure: str, part: str
) -> None:
    assert main(["explain", "--reports", str(sample.reports), athlete, measure]) == 1
    assert part in capsys.readouterr().err


def _arguments(exports: Path, folder: Path) -> list[str]:
    return [
        "build", "--exports", str(exports), "--reports", str(folder / "reports"), "--skip-pdf",
    ]  # fmt: skip


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
