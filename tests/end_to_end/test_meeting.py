"""The meeting's round trip: build, fill in the sheet as people do, drop it back, build again."""

import shutil
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from tests.conftest import SAMPLE, Built, built

pytestmark = pytest.mark.xdist_group("meeting")

# As people fill a sheet in: capitals, spaces, dates as text.
WRITTEN = {
    "HB-08.knee_to_wall.difference": ("  Accept as structural ", "Physio", None, ""),
    "HB-22.single_hop.difference": ("RETEST", "coach", date(2026, 12, 1), "three trials"),
    "VB-07.sl_cmj_height.difference": ("train", "Sam", "15/12/2026", None),
}

NOTE_ALONE = "GM-06.upper_arm_girth.difference"  # in the sample's own sheet


@pytest.fixture(scope="module")
def next_week(tmp_path_factory: pytest.TempPathFactory) -> tuple[Built, Built]:
    """This week's build, and the one after its sheet came back filled in and renamed."""
    folder = tmp_path_factory.mktemp("meeting")
    exports = folder / "exports"
    shutil.copytree(SAMPLE, exports)
    this_week = built(exports, folder / "this")
    book = openpyxl.load_workbook(this_week.reports / "decisions.xlsx")
    sheet = book.active
    assert sheet is not None
    columns = {cell.value: cell.column for cell in sheet[1]}
    for row in range(2, sheet.max_row + 1):
        said = WRITTEN.get(str(sheet.cell(row, columns["flag_id"]).value))
        for name, value in zip(
            ("decision", "owner", "review_on", "note"), said or (), strict=False
        ):
            sheet.cell(row, columns[name]).value = value
    sheet.insert_rows(1)
    sheet["A1"] = "meeting of Friday, please file"
    folder_of_staff = exports / "agreed on Friday.xlsx"
    book.save(folder_of_staff)
    return this_week, built(exports, folder / "next")


def flags_of(build: Built) -> pl.DataFrame:
    return pl.read_csv(build.reports / "flags.csv")


def test_the_sheet_is_read_whatever_it_is_called(next_week: tuple[Built, Built]) -> None:
    files = pl.read_csv(next_week[1].reports / "intake.csv")
    row = files.filter(file="agreed on Friday.xlsx").row(0, named=True)
    assert row["kind"] == "decisions"
    carried_over = flags_of(next_week[0]).drop_nulls("decision")["flag_id"]
    # A note that came without a decision is carried over too: it is still asked about.
    filled_in = len({*WRITTEN, *carried_over, NOTE_ALONE})
    assert (row["rows_accepted"], row["rows_refused"]) == (filled_in, 0)
    assert "not used" not in (row["remark"] or "")


def test_an_accepted_difference_is_silent_and_stands_last(next_week: tuple[Built, Built]) -> None:
    flag_id = "HB-08.knee_to_wall.difference"
    squads = [flags_of(build).filter(squad="Tidewick Handball") for build in next_week]
    before, after = (squad["flag_id"].to_list() for squad in squads)
    assert flag_id in before[:-2] and flag_id in after[-2:]
    assert [build.summary.flag_count for build in next_week] == [18, 17]


def test_what_was_decided_stands_beside_the_flag(next_week: tuple[Built, Built]) -> None:
    flags = flags_of(next_week[1])
    decided = dict(flags.select("flag_id", "decision").drop_nulls().iter_rows())
    assert decided["HB-22.single_hop.difference"].lower() == "retest"
    assert decided["VB-07.sl_cmj_height.difference"] == "train"


def test_flag_ids_stay_from_week_to_week(next_week: tuple[Built, Built]) -> None:
    before, after = (set(flags_of(build)["flag_id"]) for build in next_week)
    assert after == before


def test_the_sheet_comes_back_with_what_was_said(next_week: tuple[Built, Built]) -> None:
    sheet = openpyxl.load_workbook(next_week[1].reports / "decisions.xlsx").active
    assert sheet is not None
    head, *rows = sheet.iter_rows(values_only=True)
    assert set(head) >= {"flag_id", "decision", "owner", "review_on", "note", "listed_on"}
    said = {r[0]: dict(zip(head, r, strict=True)) for r in rows}
    retest = said["HB-22.single_hop.difference"]
    assert retest["owner"] == "coach"
    assert retest["review_on"].date() == date(2026, 12, 1)
    assert retest["note"] == "three trials"
    assert retest["listed_on"].date() == next_week[1].summary.as_of


def test_a_retest_that_was_not_done_is_late_and_stands_there_once(
    next_week: tuple[Built, Built], tmp_path: Path
) -> None:
    exports = next_week[1].reports.parent / "exports"
    later = tmp_path / "exports"
    shutil.copytree(exports, later)
    day = date(2026, 12, 1) + timedelta(days=25)
    (later / "one_more_session.csv").write_text(
        "athlete_id,trained_on,exercise,set_number,side,reps,load\n"
        f"HB-01,{day},split squat,1,left,8,10\n",
        encoding="utf-8",
    )
    flags = flags_of(built(later, tmp_path / "reports"))
    own = flags.filter((pl.col("athlete_id") == "HB-22") & (pl.col("measure") == "single_hop"))
    assert own.select("reason", "status").rows() == [("retest", "late")]
