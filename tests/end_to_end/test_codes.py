"""A week built to be shared: nothing that anybody typed is in any file of it."""

import hashlib
import random
import re
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.__main__ import main
from pipeline.intake import Intake, read_exports
from pipeline.intake.privacy.forgotten import as_text
from pipeline.intake.privacy.own_words import in_own_words
from pipeline.intake.privacy.pseudonyms import CLOSED, with_codes
from pipeline.settings import Settings
from tests.conftest import built
from tests.end_to_end.small import ATHLETES, write_small_exports
from tests.end_to_end.test_privacy import everything, exports_with_comments

KEY = bytes(range(32))
MARK = "Zqxwvkyj"  # stands in every text typed below; too long to stand in packed bytes by chance
FIRST = date(2026, 3, 2)
PEOPLE = [f"{MARK}-{number}" for number in range(1, 7)]


def write(path: Path, header: str, rows: Iterable[str]) -> None:
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")


def marked_exports(folder: Path) -> Path:
    """A week whose every text cell, header, file name and sheet name that is free holds the mark.

    Six people; one file copied side to side, one with a correction, unreadable rows in each.
    """
    chance = random.Random(7)
    folder.mkdir()
    write(
        folder / f"{MARK} people.csv",
        f"athlete_id,name,squad,sex,birth_date,dominant_hand,position,availability,"
        f"known_difference,known_side,known_since,{MARK} head",
        [
            f"{who},Person {who},{MARK} squad {place % 2},female,199{place}-03-04,right,"
            f"{MARK} wing,full,{f'{MARK} scar' if place == 3 else ''},"
            f"{'left' if place == 3 else ''},{'2019-05-06' if place == 3 else ''},{MARK}"
            for place, who in enumerate(PEOPLE)
        ]
        + [f"{MARK}-9,Person {MARK}-9,,male,,,,,,,,{MARK}"],
    )
    tests = "athlete_id,tested_on,test,side,trial,value,unit,pain,note"
    for week in range(4):
        day = FIRST + timedelta(days=14 * week)
        level = {(PEOPLE[0], "left"): 120}
        rows = [
            f"{who},{day},single_hop,{side},{trial},"
            f"{level.get((who, side), 160) * chance.gauss(1, 0.02):.1f},cm,"
            f"{2 if place == 2 else ''},{MARK} said knee gave way"
            for place, who in enumerate(PEOPLE)
            for side in ("left", "right")
            for trial in (1, 2, 3)
        ]
        rows += [
            f"{PEOPLE[1]},{FIRST},single_hop,left,7,{MARK},cm,,{MARK}",
            f"{PEOPLE[1]},{FIRST},{MARK} jump,left,1,100,cm,,{MARK}",
            f"{MARK}-7,{FIRST},single_hop,left,1,100,cm,,{MARK}",
            f"{PEOPLE[1]},{FIRST},single_hop,{MARK},1,100,cm,,{MARK}",
            f"{PEOPLE[1]},{FIRST},single_hop,left,8,100,{MARK},,{MARK}",
            f"{PEOPLE[1]},{MARK},single_hop,left,8,100,cm,,{MARK}",
        ]
        write(
            folder / f"{MARK} week {week} of Person {PEOPLE[0]}.csv", f"{tests},{MARK} head", rows
        )
    write(
        folder / f"{MARK} copied.csv",
        tests,
        [
            f"{who},{FIRST},triple_hop,{side},{trial},{500 + 9 * place + 4 * trial},cm,,{MARK}"
            for place, who in enumerate(PEOPLE)
            for side in ("left", "right")
            for trial in (1, 2, 3)
        ],
    )
    write(
        folder / f"{MARK} corrected.csv",
        tests,
        [f"{PEOPLE[4]},{FIRST},single_hop,left,1,158,cm,,{MARK} typed anew"],
    )
    write(
        folder / f"{MARK} films.csv",
        "athlete_id,filmed_on,exercise,side,checkpoint,finding,note",
        [
            f"{PEOPLE[1]},2026-04-13,{lift},{side},{MARK} knee over {MARK} toe,{found},{MARK}"
            for lift in ("Split squat", f"{MARK} lift")
            for side, found in (("left", "adjust"), ("right", "ok"), ("left", MARK))
        ],
    )
    book = openpyxl.Workbook()
    for place, title in enumerate((f"{MARK} tab", f"{MARK} other tab")):
        sheet = book.active if place == 0 else book.create_sheet()
        assert sheet is not None
        sheet.title = title
        sheet.append(
            ["athlete_id", "trained_on", "exercise", "set_number", "side", "reps", "load", "unit",
             "tempo", "note", f"{MARK} head"]
        )  # fmt: skip
        for who in PEOPLE:
            for later in range(0, 42, 7):
                when = FIRST + timedelta(days=later + place)
                for lift, side, reps in (
                    ("Split squat", "left", 6),
                    ("Split squat", "right", 12),
                    (f"{MARK} lift {place}", "both", 8),
                ):
                    sheet.append([who, when, lift, 1, side, reps, 16, "kg", "3-1-1", MARK, MARK])
        sheet.append([PEOPLE[0], FIRST, f"{MARK} lift", 1, "left", MARK, 16, "kg", MARK, MARK])
    book.save(folder / f"{MARK} log.xlsx")
    write(
        folder / f"{MARK} decisions 2026-03-20.csv",
        "flag_id,decision,owner,review_on,note",
        [
            f"{PEOPLE[0]}.single_hop.difference,train {MARK},{MARK},2026-05-04,{MARK}",
            f"{PEOPLE[2]}.single_hop.difference,{MARK},{MARK},,{MARK}",
            f"{PEOPLE[3]}.{MARK.lower()}_lift_0.refer,wait,{MARK},,{MARK}",
            f"{PEOPLE[3]}.{MARK.lower()}_no_test.refer,wait,{MARK},,{MARK}",
            f"{MARK}-8.single_hop.difference,accept,{MARK},,{MARK}",
        ],
    )
    (folder / f"{MARK} unknown.csv").write_text(f"{MARK},{MARK} b\n1,2\n")
    (folder / f"{MARK} letter.txt").write_text(f"Dear {MARK}\n")
    return folder


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Reports, with all pages, of a marked week."""
    folder = tmp_path_factory.mktemp("shared")
    exports = marked_exports(folder / "exports")
    settings = folder / "team.toml"
    settings.write_text(
        f'[report]\nheader = "{MARK} Club"\nmedical_contact = "Dr {MARK}"\n'
        f'[review_lines."{MARK} squad 0"]\nsingle_hop = 14\n'
    )
    folders = ["--exports", str(exports), "--reports", str(folder / "reports")]
    assert main(["build", *folders, "--settings", str(settings), "--pseudonyms"]) == 0
    return folder / "reports"


def test_nothing_that_anybody_typed_is_in_any_file(shared: Path) -> None:
    said = everything(shared)
    assert [line for line in said.splitlines() if MARK.casefold() in line.casefold()] == []
    for path in shared.rglob("*"):
        assert not path.is_file() or MARK.encode() not in path.read_bytes(), path


def test_what_is_shared_still_tells_the_week(shared: Path) -> None:
    """The test above would hold for an empty folder, too."""
    said = everything(shared)
    for part in (
        "squad_Squad ", "athletes/P", "file 1", " outside the dictionary", "checkpoint ",
        "one side looks copied to the other", "known difference", "split squat",
        "is not a known test; nearest: ", "replaced by file ", "corrected from file ",
    ):  # fmt: skip
        assert part in said, part
    files = pl.read_csv(shared / "intake.csv", infer_schema=False)
    assert sorted(set(files["file"])) == [f"file {n:02d}" for n in range(1, 13)]
    assert set(files["sheet"]) == {"", "1", "2"}
    refused = pl.read_csv(shared / "refused_rows.csv", infer_schema=False)
    assert set(refused["file"]) <= set(files["file"])
    assert {"test", "side", "unit", "tested_on"} <= set(refused["column"])
    assert set(refused["value"]) | set(refused["original"]) == {"(removed)"}
    lines = pl.read_csv(shared / "asymmetries.csv").filter(measure="single_hop")
    assert set(lines["review_line"].round(6)) == {14.0, 15.0}  # the settings' and the catalogue's


def test_figures_are_the_same_person_for_person(tmp_path: Path) -> None:
    exports, plain = exports_with_comments(tmp_path / "exports"), tmp_path / "plain"
    built(exports, plain)
    folders = ["--exports", str(exports), "--reports", str(tmp_path / "shared")]
    assert main(["build", *folders, "--skip-pdf", "--pseudonyms"]) == 0
    said = everything(tmp_path / "shared")
    assert "Person" not in said
    assert "stood in for" not in said
    assert not any(f"'{who}'" in said or f"{who}," in said for who in ATHLETES)
    figures = [
        sorted(line.split(",")[3:] for line in (folder / "asymmetries.csv").read_text().split("\n"))
        for folder in (plain, tmp_path / "shared")
    ]
    assert figures[0] == figures[1]


def coded(folder: Path) -> tuple[Intake, Intake]:
    """An intake as it is, and as it is shared."""
    intake = as_text(read_exports(folder, Settings()))
    return intake, with_codes(intake, Settings(), KEY)[0]


def test_of_every_text_column_it_is_said_what_is_shared(tmp_path: Path) -> None:
    """What is not named among the closed sets must not come through as it was."""
    intake, shared = coded(marked_exports(tmp_path / "exports"))
    for name in ("files", "refused", "roster", "trials", "sets", "film", "decisions", "doubts"):
        before, after = getattr(intake, name), getattr(shared, name)
        assert before.height or name == "doubts"
        for column, kind in before.schema.items():
            if kind == pl.String and column not in CLOSED:
                texts = set(before[column].drop_nulls()) - {""}
                kept = texts & set(after[column].drop_nulls())
                assert not any(MARK.casefold() in text.casefold() for text in kept), (name, column)


def test_what_was_logged_first_is_known_with_codes_too(tmp_path: Path) -> None:
    intake, shared = coded(marked_exports(tmp_path / "exports"))
    place = pl.concat_str("source_file", pl.lit(", sheet "), "source_sheet")
    for sets in (intake.sets, shared.sets):
        assert sets["order_file"].null_count() == 0
        assert sets.filter(pl.col("order_file") != place).is_empty()


def test_a_decision_keeps_its_day_and_its_first_word(tmp_path: Path) -> None:
    _, shared = coded(marked_exports(tmp_path / "exports"))
    rows = shared.decisions.select("decision", "owner", "listed_on", "note").rows()
    day = date(2026, 3, 20)  # of the file's name, which is not shared
    assert sorted(rows, key=str) == [
        ("train", "(removed)", day, None),
        ("wait", "(removed)", day, None),
        (None, "(removed)", day, None),  # it could not be read, which is asked about
    ]
    about = shared.decisions["flag_id"].str.extract(r"^P[0-9A-Z]{5}\.(.*)$").sort().to_list()
    assert about[1:] == ["single_hop.difference"] * 2
    assert re.fullmatch(r"exercise_[0-9A-Z]{5}_outside_the_dictionary\.refer", about[0])


def test_words_of_our_own_are_kept_and_all_others_left_out() -> None:
    say = in_own_words(["Mark Line"], ["P3", "file 2"])
    for said, kept in (
        (
            "columns not used: Ada’s phone, 0123456789; 3 repeated",
            "columns not used: …; 3 repeated",
        ),
        ("exercises not in the dictionary: 2008 Ada 5, Bo", "exercises not in the dictionary: …"),
        ("2 replaced by file 2, from its day 5", "2 replaced by file 2, from its day 5"),
        ("unusual: hip_ir_rom 12 deg in row 75; P3", "unusual: hip_ir_rom 12 deg in row 75; P3"),
        ("1 replaced: line 3", "1 replaced: …"),  # as somebody is called Line
    ):
        assert say(said) == kept


def test_the_same_week_is_told_the_same_way_twice(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    first, second = (
        as_text(with_codes(read_exports(exports, Settings()), Settings(), KEY)[0]) for _ in "ab"
    )
    assert first.roster.equals(second.roster)
    assert first.files.equals(second.files)


def codes_of(exports: Path, reports: Path, *more: str) -> dict[str, str]:
    """The code of each athlete of the small squad, by the one figure that is theirs alone."""
    folders = ["--exports", str(exports), "--reports", str(reports)]
    assert main(["build", *folders, "--skip-pdf", "--pseudonyms", *more]) == 0
    rows = pl.read_csv(reports / "asymmetries.csv").filter(measure="single_hop")
    return {str(row["left_value"]): row["athlete_id"] for row in rows.iter_rows(named=True)}


def test_codes_stay_from_week_to_week_until_new_ones_are_wanted(tmp_path: Path) -> None:
    exports = write_small_exports(tmp_path / "exports")
    first = codes_of(exports, tmp_path / "reports")
    key = exports / ".codes"
    assert key.stat().st_mode & 0o777 == 0o600
    assert len(set(first.values())) == len(ATHLETES)
    for file in exports.glob("*.csv"):  # somebody leaves
        lines = file.read_text().splitlines(keepends=True)
        file.write_text("".join(line for line in lines if not line.startswith("BL-1,")))
    left = codes_of(exports, tmp_path / "reports")
    assert left.items() < first.items()
    new = codes_of(exports, tmp_path / "reports", "--new-codes")
    assert not set(new.values()) & set(first.values())
    assert new == codes_of(exports, tmp_path / "other")


def test_without_the_key_no_code_leads_to_a_person(tmp_path: Path) -> None:
    """Neither a digest of the id nor the place among such digests is in a code."""
    exports = write_small_exports(tmp_path / "exports")
    codes = [as_text(with_codes(read_exports(exports, Settings()), Settings(), key)[0])
             .roster["athlete_id"].sort().to_list() for key in (KEY, bytes(32))]  # fmt: skip
    assert not set(codes[0]) & set(codes[1])
    known = {hashlib.sha256(who.encode()).hexdigest().upper() for who in ATHLETES}
    assert not any(code[1:] in digest for code in codes[0] for digest in known)


@pytest.mark.parametrize("text", ["", "0123", "\xff"])
def test_a_damaged_key_makes_no_other_codes(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exports = write_small_exports(tmp_path / "exports")
    (exports / ".codes").write_text(text, encoding="latin-1")
    folders = ["--exports", str(exports), "--reports", str(tmp_path / "reports")]
    assert main(["build", *folders, "--skip-pdf", "--pseudonyms"]) == 1
    assert "ask for new codes with --new-codes" in capsys.readouterr().err
    assert not (tmp_path / "reports").exists()
