"""Decision sheets as hurried people fill them in: what each row decides, and until when."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.catalogue import catalogue
from pipeline.intake.parse.day_words import read_day
from pipeline.intake.rows.decisions import day_in_name, decision_of, step_of
from schemas.vocabulary import Decision
from tests.intake.exports import counts, intake_of

LISTED = date(2026, 11, 27)
HEAD = "flag_id,decision,owner,review_on,note,listed_on"
HOP = "A1.single_hop.difference"


@pytest.mark.parametrize(
    ("said", "decision"),
    [
        ("Train", "train"), ("TRAIN both", "train"), (" re-test ", "retest"), ("Re test", "retest"),
        ("wait-and-see", "wait"), ("Accept as structural", "accept"), ("cleared step 3", "cleared"),
        ("test again", "retest"), ("seen by Dr X", "seen"), ("done.", "done"),
        ("- accept", "accept"),
        ("wait, shoulder sore", "wait"), ("Structural leg length", "accept"),
        ("to physio", "refer"),
        ("Refer → Dr Hahn", "refer"), ("not structural: train", None), ("y", None), ("yes", None),
        ("same as above", None), ("ditto", None), ("?!", None), ("no training", None),
        ("don't train", None), ("physio says fine", None), ("", None),
    ],
)  # fmt: skip
def test_the_first_word_decides(said: str, decision: str | None) -> None:
    assert decision_of(said) == decision


def test_every_decision_and_each_of_its_spellings_is_read() -> None:
    spellings = catalogue().headers.words["decision"]
    assert set(spellings) == set(Decision)
    for name, words in spellings.items():
        for word in (name, *words):
            assert decision_of(f"{word.upper()} (as we said)") == name, word


@pytest.mark.parametrize(
    ("said", "day"),
    [
        ("13/11", date(2027, 11, 13)), ("28/11", date(2026, 11, 28)), 
        ("13.11.", date(2027, 11, 13)),
        ("4.12", date(2026, 12, 4)), ("13 Nov", date(2027, 11, 13)), ("Dec 4", date(2026, 12, 4)),
        ("Friday 4th December", date(2026, 12, 4)), ("in 2 weeks", date(2026, 12, 11)),
        ("3w", date(2026, 12, 18)), ("10 days", date(2026, 12, 7)), ("29 Feb", date(2028, 2, 29)),
        ("5/5", date(2027, 5, 5)), ("27 Nov", date(2027, 11, 27)),
    ],
)  # fmt: skip
def test_a_day_without_a_year_is_the_next_one(said: str, day: date) -> None:
    assert read_day(said, LISTED, "either", is_order_known=False) == day


@pytest.mark.parametrize("said", ["soon", "3/12", "30/2", "31 April", "next block", "13/13"])
def test_what_is_no_day_is_said(said: str) -> None:
    assert isinstance(read_day(said, LISTED, "either", is_order_known=False), str)


def rows(folder: Path, *lines: str, name: str = "d.csv", head: str = HEAD) -> list[dict[str, Any]]:
    return intake_of(folder, {name: "\n".join([head, *lines]) + "\n"}).decisions.to_dicts()


def test_other_days_of_the_column_settle_what_comes_first(tmp_path: Path) -> None:
    other = "A2.single_hop.difference,wait,,3/12,,2026-11-27"
    found = rows(tmp_path, f"{HOP},wait,,13/12,,2026-11-27", other)
    assert [row["review_on"] for row in found] == [date(2026, 12, 13), date(2026, 12, 3)]


def test_a_day_that_cannot_be_read_costs_itself_alone(tmp_path: Path) -> None:
    (row,) = rows(tmp_path, f"{HOP},refer,Sam,soon,see note,2026-11-27")
    said = ("refer", None, "soon", "Sam", "see note")
    assert (
        row["decision"],
        row["review_on"],
        row["review_said"],
        row["owner"],
        row["note"],
    ) == said


def test_columns_moved_semicolons_and_no_owner(tmp_path: Path) -> None:
    lines = (
        "note;Decision;FLAG ID;Review on\nthree trials;RETEST;a1.Single_Hop.Difference;4.12.2026\n"
    )
    found = intake_of(tmp_path, {"from the meeting.csv": lines}).decisions.row(0, named=True)
    assert (found["flag_id"], found["decision"], found["owner"]) == (HOP, "retest", None)
    assert (found["review_on"], found["note"]) == (date(2026, 12, 4), "three trials")


def test_rows_that_hold_nothing_are_not_read(tmp_path: Path) -> None:
    lines = [f"{HOP},,,,,2026-11-27", "A2.single_hop.difference,train,,,,2026-11-27"]
    intake = intake_of(tmp_path, {"d.csv": "\n".join([HEAD, *lines])})
    assert counts(intake, "d.csv") == (1, 1, 0, 0)


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("decisions_2026-09-25.xlsx", date(2026, 9, 25)), 
        ("meeting 27.11.2026.csv", date(2026, 11, 27)),
        ("20261127 list.csv", date(2026, 11, 27)), ("list 2.csv", None), ("2026-13-45.csv", None),
    ],
)  # fmt: skip
def test_the_day_in_the_name_of_a_file(name: str, day: date | None) -> None:
    assert day_in_name(name) == day


def test_a_step_is_named_in_the_decision_or_nowhere() -> None:
    assert [step_of(text) for text in ("cleared step 3", "step #2", "Stage 4", "step 9", None)] == [
        3, 2, 4, None, None,
    ]  # fmt: skip


def test_an_id_is_read_whatever_its_case_and_former_names_stay_valid(tmp_path: Path) -> None:
    one = next(m for m in catalogue().measures.values() if m.synonyms)
    lines = [f"a2.{one.id.upper()}.Difference,train,,,,2026-11-27",
             f"A1.{one.synonyms[0]}.difference,wait,,,,2026-11-27"]  # fmt: skip
    found = {row["flag_id"]: row["decision"] for row in rows(tmp_path, *lines)}
    assert found == {f"A2.{one.id}.difference": "train", f"A1.{one.id}.difference": "wait"}


@pytest.mark.parametrize(
    ("flag_id", "why"),
    [
        ("A77.single_hop.difference", "names no athlete that is known; nearest: A1."),
        ("A1.singel_hop.difference", "names no test or topic that is known; nearest: A1."),
        ("A1.single_hop.diffrence", "names no kind of flag that is known; nearest: A1."),
    ],
)
def test_an_id_that_no_flag_can_have_is_refused_with_the_nearest(
    flag_id: str, why: str, tmp_path: Path
) -> None:
    lines = [HEAD, f"{flag_id},refer,,,,2026-11-27", f"{HOP},train,,,,2026-11-27"]
    intake = intake_of(tmp_path, {"d.csv": "\n".join(lines)})
    (row,) = intake.refused.to_dicts()
    assert (row["value"], row["row_kept"], row["bears_on"]) == (flag_id, False, "decision")
    assert row["reason"] == f"is no flag, it {why}single_hop.difference"
    assert intake.decisions["flag_id"].to_list() == [HOP]
