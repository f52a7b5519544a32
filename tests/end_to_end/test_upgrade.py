"""A new version takes over: history and decisions stay, what an old version left is made anew."""

import json
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest

from pipeline.__main__ import main
from pipeline.last_build import RECORD, LastBuild
from pipeline.warehouse.database import ROOMS, sql_files
from tests.conftest import Built, built
from tests.end_to_end.small import contents, write_small_exports

EARLIER = Path(__file__).parent / "data" / "earlier"  # see the README there
ACCEPTED = "RV-2.single_hop.difference"
# The estimate follows those who change since then: it finds a loss of one side that the earlier
# one did not, and sees three weeks sooner what that loss made of the difference.
FOUND, SOONER = "RV-5.single_hop.refer", {"RV-5.single_hop.difference": "2026-09-14"}


@pytest.fixture(scope="module")
def followed_up(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Today's build a week after an earlier version's, whose sheet came back filled in."""
    folder = tmp_path_factory.mktemp("upgrade")
    exports = folder / "exports"
    shutil.copytree(EARLIER / "exports", exports)
    shutil.copy(EARLIER / "reports" / "decisions.xlsx", exports / "filled in.xlsx")
    (exports / "log.csv").write_text(
        "athlete_id,trained_on,exercise,set_number,side,reps,load,unit\n"
        "RV-1,2026-10-12,Goblet squat,1,left,8,16,kg\n"
    )
    return built(exports, folder / "reports")


def test_flags_keep_their_ids_and_the_day_they_began(followed_up: Built) -> None:
    before = pl.read_csv(EARLIER / "reports" / "flags.csv")
    after = pl.read_csv(followed_up.reports / "flags.csv").filter(pl.col("flag_id") != FOUND)
    assert followed_up.summary.as_of == date(2026, 10, 12)
    days = dict(before.select("flag_id", "first_flagged_on").iter_rows())
    assert dict(after.select("flag_id", "first_flagged_on").iter_rows()) == days | SOONER
    a_week_on = dict(before.select("flag_id", pl.col("weeks_open") + 1).iter_rows())
    weeks = dict(after.select("flag_id", "weeks_open").iter_rows())
    assert {who: weeks[who] for who in weeks if who not in SOONER} == {
        who: a_week_on[who] for who in a_week_on if who not in SOONER
    }


def test_what_was_decided_stands_beside_the_flags(followed_up: Built) -> None:
    files = pl.read_csv(followed_up.reports / "intake.csv")
    sheet = files.row(by_predicate=pl.col("file") == "filled in.xlsx", named=True)
    assert (sheet["kind"], sheet["rows_accepted"], sheet["rows_refused"]) == ("decisions", 5, 0)
    flags = pl.read_csv(followed_up.reports / "flags.csv")
    assert dict(flags.select("flag_id", "decision").iter_rows()) == {
        "RV-6.sharp_pain.refer": "refer",
        "RV-7.sl_cmj_height.difference": "train",
        "RV-3.knee_to_wall.difference": "retest",
        "RV-5.single_hop.difference": "wait",
        ACCEPTED: "accept",
        FOUND: None,
    }
    assert flags["flag_id"][-1] == ACCEPTED


FORMER = {
    "cmj_limb_con_impulse": ("cmj_limb_pushoff_impulse", 100, "Ns"),
    "cmj_limb_ecc_impulse": ("cmj_limb_braking_impulse", 55, "Ns"),
    "cmj_limb_con_peak_force": ("cmj_limb_pushoff_peak_force", 900, "N"),
}


@pytest.mark.parametrize("former", FORMER)
def test_former_ids_are_read_as_the_new_ones(former: str, tmp_path: Path) -> None:
    """In tests, in a meeting's sheet and where somebody asks for the figures behind a finding."""
    now, level, unit = FORMER[former]
    exports, reports = write_small_exports(tmp_path / "exports"), tmp_path / "reports"
    lines = ["athlete_id,tested_on,test,side,trial,value,unit"]
    for day in ("2026-03-02", "2026-03-16", "2026-03-30"):
        for who in range(1, 9):
            for side in ("left", "right"):
                for trial in (1, 2, 3):
                    lower = 0.7 if (who, side) == (2, "left") else 1.0
                    value = level * lower * (1 + 0.01 * ((who + trial) % 3))
                    lines.append(f"BL-{who},{day},{former},{side},{trial},{value:.1f},{unit}")
    (exports / "jumps.csv").write_text("\n".join(lines) + "\n")
    (exports / "decisions_2026-04-03.csv").write_text(
        f"flag_id,decision,owner\nBL-2.{former}.difference,train,Kim\n"
    )
    folders = ["--exports", str(exports), "--reports", str(reports)]
    assert main(["build", *folders, "--skip-pdf"]) == 0
    flags = pl.read_csv(reports / "flags.csv")
    decided = flags.drop_nulls("decision").select("flag_id", "measure", "decision").rows()
    assert decided == [(f"BL-2.{now}.difference", now, "train")]
    assert not flags["measure"].is_in([former]).any()
    for name in (former, now):
        assert main(["explain", "--reports", str(reports), "BL-2", name]) == 0


def of_another_version(path: Path) -> None:
    with duckdb.connect(str(path)) as base:
        base.execute("create table mart_findings as select 'BL-1' as athlete, 99.0 as asymmetry")
        base.execute("create table stg_trials as select 1 as other")


def changed(change: Callable[[dict[str, Any]], object]) -> Callable[[str], str]:
    def make(text: str) -> str:
        record = json.loads(text)
        change(record)
        return json.dumps(record)

    return make


RECORDS: dict[str, Callable[[str], str]] = {
    "of another program": lambda text: '{"version": 3, "targets": ["all"]}',
    "not finished": lambda text: text[: len(text) // 2],
    "empty": lambda text: "",
    "a list": lambda text: "[1, 2]",
    "endlessly nested": lambda text: "[" * 200_000,
    "without pages": changed(lambda record: record.pop("pages")),
    "with a list of pages": changed(lambda record: record.update(pages=["a.pdf"])),
    "with a list of files": changed(lambda record: record.update(files=[])),
    "with another summary": changed(lambda record: record["summary"].pop("newest_day")),
    "with a day that is none": changed(lambda record: record["summary"].update(as_of=5)),
}


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Built:
    folder = tmp_path_factory.mktemp("clean")
    return built(write_small_exports(folder / "exports"), folder / "reports")


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_that_is_not_ours_is_not_read(name: str, clean: Built, tmp_path: Path) -> None:
    text = (clean.reports / RECORD).read_text(encoding="utf-8")
    assert LastBuild.read(clean.reports) is not None
    (tmp_path / RECORD).write_text(RECORDS[name](text), encoding="utf-8")
    assert LastBuild.read(tmp_path) is None


@pytest.mark.parametrize(
    ("warehouse", "record"),
    [
        (of_another_version, "with a list of pages"),
        (lambda path: path.write_bytes(b"no database" * 1000), "of another program"),
    ],
)
def test_what_another_version_left_is_replaced(
    warehouse: Callable[[Path], object], record: str, clean: Built, tmp_path: Path
) -> None:
    text = (clean.reports / RECORD).read_text(encoding="utf-8")
    reports = tmp_path / "reports"
    reports.mkdir()
    (reports / RECORD).write_text(RECORDS[record](text), encoding="utf-8")
    (reports / "flags.csv").write_text("flag_id,from an older version\n")
    warehouse(reports / "warehouse.duckdb")
    built(clean.reports.parent / "exports", reports)
    assert contents(reports) == contents(clean.reports)
    with duckdb.connect(str(reports / "warehouse.duckdb"), read_only=True) as base:
        tables = {name for (name,) in base.execute("show tables").fetchall()}
        who = base.execute("select distinct athlete_id from mart_findings order by 1").fetchall()
    assert set(sql_files(*ROOMS)) < tables
    assert who == [(f"BL-{number}",) for number in range(1, 9)]
