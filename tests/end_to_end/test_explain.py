"""One figure from the lines of the files to the verdict, or the reason why there is none."""

import shutil
from datetime import date
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.__main__ import main
from pipeline.commands.console import refused_line
from pipeline.commands.explain.who import naming
from tests.conftest import built
from tests.end_to_end.small import ATHLETES, FIRST, write_small_exports

TESTS = "athlete_id,tested_on,test,side,trial,value,unit,pain,note\n"
MORE_ROSTER = """athlete_id,name,squad
BL-20,Only Logged,Blues
BL-21,Sam Twin,Blues
BL-22,sam  twin,Reds
BL-23,Nobody Atall,Reds
BL-24,No Squad,
bl-25,Lower Case,Reds
BL-25,Upper Case,Reds
"""
# On calf raises: unreadable, one side only, both sides on two days, a zero, and nobody's.
ODD_TESTS = f"""{TESTS}BL-1,{FIRST},calf_raise_reps,left,1,x,reps,,
BL-1,{FIRST},calf_raise_reps,right,1,many,reps,,
BL-2,{FIRST},calf_raise_reps,left,1,21,reps,,
BL-3,{FIRST},calf_raise_reps,left,1,21,reps,,
BL-3,{FIRST.replace(month=4)},calf_raise_reps,right,1,22,reps,2,after a run
BL-4,{FIRST},calf_raise_reps,left,1,0,reps,,
BL-4,{FIRST},calf_raise_reps,right,1,0,reps,,
BL-24,{FIRST},calf_raise_reps,left,1,20,reps,,
BL-77,{FIRST},calf_raise_reps,left,1,20,reps,,
BL-5,{FIRST},moon_jump,left,1,20,reps,,
"""


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("explained")
    exports = write_small_exports(folder / "exports")
    (exports / "roster_more.csv").write_text(MORE_ROSTER)
    (exports / "odd.csv").write_text(ODD_TESTS)
    copied = [
        f"{who},{FIRST},triple_hop,{side},{trial},{500 + 9 * place + 3.7 * trial:.1f},cm,,"
        for place, who in enumerate(ATHLETES)
        for side in ("left", "right")
        for trial in (1, 2, 3)
    ]
    (exports / "copied.csv").write_text(TESTS + "\n".join(copied) + "\n")
    with (exports / "log.csv").open("a") as log:
        log.write(f"BL-20,{FIRST},Goblet squat,1,both,8,16,kg\n")
    built(exports, folder / "reports")
    return folder / "reports"


def explain(
    reports: Path, capsys: pytest.CaptureFixture[str], athlete: str, measure: str, status: int = 0
) -> str:
    assert main(["explain", "--reports", str(reports), athlete, measure]) == status
    told = capsys.readouterr()
    return told.err if status else told.out


def test_held_trials_are_shown_with_why_and_how_to_release_them(
    reports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = explain(reports, capsys, "BL-6", "triple hop")
    for place in range(3):  # rows of the sixth athlete: after the head and five times six rows
        assert f"copied.csv, line {1 + 5 * 6 + 1 + place}  (held out: whole-file doubt)" in told
    assert "Held out of the estimates:\n  copied.csv: one side looks copied to the other" in told
    assert "name the file under trust in the settings" in told
    assert "There is no figure: all 6 trials are held out of the estimates" in told
    assert "Verdict" not in told


@pytest.mark.parametrize(
    ("athlete", "said"),
    [
        ("BL-1", "There is no figure: no row of it could be read."),
        ("BL-2", "There is no figure: only the left side was tested."),
        ("BL-3", "There is no figure: left and right were never tested on the same day."),
        ("BL-4", "There is no figure: a zero has no logarithm, so there is nothing to compare."),
    ],
)
def test_without_a_figure_the_reason_is_told(
    reports: Path, capsys: pytest.CaptureFixture[str], athlete: str, said: str
) -> None:
    assert said in explain(reports, capsys, athlete, "calf_raise_reps")


def test_refused_rows_are_shown_where_they_may_be_about_the_test(
    reports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = explain(reports, capsys, "BL-1", "calf_raise_reps")
    assert "Trials (reps), and the score of each on the scale of the estimate:\n  none" in told
    assert "  odd.csv, line 2, column value “x”: " in told
    assert "  odd.csv, line 3, column value “many”: " in told
    assert "line 4" not in told
    assert "Could not be read" not in explain(reports, capsys, "BL-1", "single_hop")
    assert "“moon_jump”" in explain(reports, capsys, "BL-5", "single_hop")


def test_pain_and_note_stand_with_their_trial(
    reports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = explain(reports, capsys, "BL-3", "calf_raise_reps")
    [line] = [line for line in told.splitlines() if "after a run" in line]
    assert "right" in line
    assert line.endswith("(scored, but shapes nothing; pain 2; note “after a run”)")


def test_a_side_that_was_not_tested_is_shown_with_what_was_said_of_it(
    reports: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A blank value is no trial; its pain and note are in the warehouse without a value."""
    later = tmp_path / "reports"
    shutil.copytree(reports, later)
    with duckdb.connect(str(later / "warehouse.duckdb")) as base:
        for who, day, side, pain, note in (
            ("BL-2", date(2026, 4, 20), "left", 7.0, "knee gave way"),
            ("BL-2", date(2026, 4, 20), "right", 0.0, "kept for later"),
            ("BL-8", date(2026, 4, 20), "left", 3.0, None),
        ):
            base.execute(
                "insert into raw_trials (athlete_id, tested_on, measure, side, trial, pain, note, "
                "held, source_file, source_sheet, source_line) "
                "values (?, ?, 'calf_raise_reps', ?, 1, ?, ?, false, 'april.csv', '', 9)",
                [who, day, side, pain, note],
            )
    told = explain(later, capsys, "BL-2", "calf_raise_reps").splitlines()
    lines = [" ".join(line.split()) for line in told if "not tested" in line]
    assert lines == [
        "2026-04-20 left 1 not tested april.csv, line 9 (pain 7; note “knee gave way”)",
        "2026-04-20 right 1 not tested april.csv, line 9 (note “kept for later”)",
    ]
    assert any("2026-03-02  left  1" in line and " 21 " in line for line in told)
    alone = explain(later, capsys, "BL-8", "calf_raise_reps")
    assert "not tested" in alone
    assert "(pain 3)" in alone
    assert "There is no figure: no side was tested." in alone


def test_a_cell_that_cost_itself_is_told_as_such() -> None:
    row = {"file": "a.csv", "sheet": "", "line": 3, "column": "rir", "value": "2-3"}
    reason = {"reason": "is not a number"}
    plain = refused_line(row | reason)
    assert plain == "  a.csv, line 3, column rir “2-3”: is not a number"
    assert refused_line(row | reason | {"row_kept": ""}) == plain
    kept = refused_line(row | reason | {"row_kept": "yes"})
    assert kept == f"{plain} (left blank; the rest of the row counts)"


def test_an_athlete_known_from_the_log_alone_is_not_told_to_be_unknown(
    reports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = explain(reports, capsys, "BL-20", "single_hop", 1)
    assert "BL-20 has no Single hop in these reports. Only the training log tells of BL-20" in told
    told = explain(reports, capsys, "BL-23", "single_hop", 1)
    assert "No test and no training of BL-23 was read." in told
    told = explain(reports, capsys, "BL-1", "side_hop", 1)
    assert "Measures tested: knee_to_wall, single_hop, triple_hop." in told


def test_a_name_stands_for_its_athlete_and_two_of_one_name_are_told_apart(
    reports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    by_id = explain(reports, capsys, "BL-3", "single_hop")
    assert explain(reports, capsys, "person  bl-3", "single_hop") == by_id
    assert explain(reports, capsys, "bl-3", "single_hop") == by_id
    assert "BL-3, Person BL-3, Blues" in by_id
    told = explain(reports, capsys, "Sam Twin", "single_hop", 1)
    assert "may be any of BL-21 (Sam Twin, Blues), BL-22 (sam  twin, Reds)" in told
    assert "BL-25 has no" in explain(reports, capsys, "BL-25", "single_hop", 1)
    assert "may be any of BL-25 (" in explain(reports, capsys, "Bl-25", "single_hop", 1)


def test_of_an_unknown_athlete_the_nearest_are_named_and_what_was_refused(
    reports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = explain(reports, capsys, "BL-33", "single_hop", 1)
    assert told.startswith("squadsides: BL-33 is not in the roster of these reports; nearest: BL-3")
    assert "refused" not in told
    told = explain(reports, capsys, "Persn BL-7", "single_hop", 1)
    assert "nearest: BL-7" in told
    told = explain(reports, capsys, "BL-24", "single_hop", 1)
    assert "Rows that were refused hold BL-24:\n" in told
    assert "roster_more.csv, line 6, column squad" in told
    assert "odd.csv, line 9" in told
    assert "odd.csv, line 10" in explain(reports, capsys, "BL-77", "calf_raise_reps", 1)


def test_a_number_is_no_id_wherever_it_stands() -> None:
    originals = ["7,2026-03-02,single_hop,left,7,x", "8,2026-03-02,single_hop,left,7,x",
                 '9,2026-03-02,"Doe, Jo",left,7,x', None]  # fmt: skip
    refused = pl.DataFrame({"original": originals})
    for who, places in (({"athlete_id": "7", "name": "7"}, [0]),
                        ({"athlete_id": "9", "name": "Jo Doe"}, [2]),
                        ({"athlete_id": "4", "name": "Doe,  jo"}, [2]),
                        ({"athlete_id": "5", "name": "Single_Hop"}, [0, 1])):  # fmt: skip
        assert naming(refused, who)["original"].to_list() == [originals[at] for at in places]


def test_a_test_that_the_settings_do_not_show_is_told_as_such(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exports = write_small_exports(tmp_path / "exports")
    (tmp_path / "team.toml").write_text('[report]\nmeasures = ["single_hop"]\n')
    folders = ["--exports", str(exports), "--reports", str(tmp_path / "reports")]
    main(["build", *folders, "--settings", str(tmp_path / "team.toml"), "--skip-pdf"])
    capsys.readouterr()
    told = explain(tmp_path / "reports", capsys, "BL-3", "knee_to_wall")
    assert "knee_to_wall is not among the tests that the settings show" in told
