"""What looks through weeks sees what is wrong: a check that cannot fail checks nothing."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from tests.weeks import care
from tests.weeks.command_line import write
from tests.weeks.conservation import faults
from tests.weeks.folders import made
from tests.weeks.naive import Told, read_folder
from tests.weeks.scan import page_faults, table_faults
from tests.weeks.shown import alike
from tests.weeks.turned import other_head

PEOPLE = {"A1": "Ann Berg", "A2": "Bea Holm"}
SOUND = (
    "<h1>Ann Berg</h1><p>Single hop: right lower by 12 % (3 to 20).</p><table><thead><tr>"
    "<th>Test</th><th>Left</th></tr></thead><tbody><tr><td>Single hop</td><td>-0.4</td></tr>"
    "</tbody></table><p>Tempo 3-0-1, on 2026-02-03, from 0 to -10; “Nan” said so … twice.</p>"
)
WRONG = {
    "a number that is none": ("12 %", "nan %"),
    "a value that is none": ("Single hop:", "None:"),
    "an endless number": ("12 %", "inf %"),
    "a minus before nothing": ("-0.4", "-0.0"),
    "a minus before a nothing of its own sign": ("12 %", "\u22120 %"),
    "a name left to fill in": ("12 %", "{amount}"),
    "a heading without words": ("<h1>Ann Berg</h1>", "<h1> </h1>"),
    "a paragraph without words": ("<h1>", "<p></p><h1>"),
    "a cell that its heading promises": ("-0.4", ""),
    "two full stops": ("20).", "20).."),
    "a full stop after a mark": ("20).", "20)!."),
    "a space before a full stop": ("20).", "20) ."),
    "brackets around nothing": ("(3 to 20)", "()"),
    "quotation marks around nothing": ("“Nan”", "“”"),
    "two spaces in a row": ("right lower", "right  lower"),
    "a picture without words": ("<h1>", '<img src=""><h1>'),
}


def test_a_sound_page_has_no_fault() -> None:
    assert page_faults(SOUND, PEOPLE) == []


@pytest.mark.parametrize("what", WRONG)
def test_a_fault_of_a_page_is_seen(what: str) -> None:
    sound, wrong = WRONG[what]
    assert sound in SOUND
    assert page_faults(SOUND.replace(sound, wrong, 1), PEOPLE) != []


def test_a_page_that_contradicts_itself_is_seen() -> None:
    said = "<ul><li>Single hop: it became larger (about 95 in 100).</li><li>{}</li></ul>"
    closing = "Single hop: was 12 %, closing (about 9 in 10)."
    same = "Single hop. The difference has not clearly changed since your first test."
    other = "Triple hop: was 12 %, closing (about 9 in 10)."
    beside = "Single hop: right lower by 12 %. · No clear change: Triple hop since 3 Mar."
    behind = "Triple hop: right lower by 12 %. · No clear change: Single hop since 3 Mar."
    for second, count in ((closing, 1), (same, 1), (other, 0), (beside, 0), (behind, 1)):
        assert len(page_faults(said.format(second), PEOPLE)) == count


def test_of_two_people_on_a_page_each_may_go_its_way() -> None:
    rows = (
        "<table><tr><td>Ann Berg, Single hop, widening (9 in 10)</td></tr>"
        "<tr><td>{}, Single hop, closing (9 in 10)</td></tr></table>"
    )
    assert page_faults(rows.format("Bea Holm"), PEOPLE) == []
    assert len(page_faults(rows.format("Ann Berg"), PEOPLE)) == 1


def test_a_fault_of_a_table_is_seen(tmp_path: Path) -> None:
    write(tmp_path, {"flags.csv": "flag_id,squad,estimate\nA1.x,Club,-0.4\nA2.x,Club,12\n"})
    assert table_faults(tmp_path) == []
    write(tmp_path, {"flags.csv": "flag_id,squad,estimate\nA1.x,,-0.0\nA2.x,Club,nan\n"})
    assert len(table_faults(tmp_path)) == 3


FILES = {
    "roster.csv": "athlete_id,name,squad,sex\nA1,Ann,Club,f\nA2,Bea,Club,m\nA3,Cid,Gym,\n",
    "tests.csv": "athlete_id,tested_on,test,side,value,pain,note\n"
    "A1,2026-03-02,single hop,left,150,2,wet\nA1,2026-03-02,single hop,right,155,,\n"
    "A2,2026-03-02,single hop,left,160,5,\nA3,2026-03-02,triple hop,left,,7,fell\n",
    "log.csv": "athlete_id,trained_on,exercise,set_number,side,reps,load\n"
    "A1,2026-03-02,split squat,1,left,8,20\nA2,2026-03-02,split squat,1,left,8,22\n",
}


def test_whatever_moves_to_another_row_is_seen(tmp_path: Path) -> None:
    folder = write(tmp_path / "exports", FILES)
    build = made(folder, tmp_path / "reports")
    assert faults(read_folder(folder), build) == []
    first, second = ("A1", "A2")
    hop, squat = ("2026-03-02", "single_hop", "left"), ("2026-03-02", "split_squat", "left")

    def swap_pain(told: Told) -> None:
        one, two = told.trials[first, *hop][0], told.trials[second, *hop][0]
        one.said, two.said = (
            replace(one.said, pain=two.said.pain), replace(two.said, pain=one.said.pain),
        )  # fmt: skip

    def other_note(told: Told) -> None:
        one = told.trials[first, *hop][0]
        one.said = replace(one.said, note=None)

    def other_trial(told: Told) -> None:
        told.trials[first, *hop][0].number = 2

    def one_set_more(told: Told) -> None:
        told.sets[first, *squat].append(told.sets[first, *squat][0])

    def other_pain_unheard(told: Told) -> None:
        ((group, (one,)),) = told.silent.items()
        told.silent[group] = [replace(one, pain=3.0)]

    def other_person(told: Told) -> None:
        told.roster.people[first]["sex"] = "male"

    def one_row_less(told: Told) -> None:
        told.counts["tests.csv"].read -= 1

    def lost_cell(told: Told) -> None:
        told.lost.add(("tests.csv", 2))

    for change in (
        swap_pain, other_note, other_trial, one_set_more, other_pain_unheard, other_person,
        one_row_less, lost_cell,
    ):  # fmt: skip
        told = read_folder(folder)
        change(told)
        assert faults(told, build) != [], change.__name__


def test_whoever_is_passed_over_is_seen(tmp_path: Path) -> None:
    folder = write(tmp_path / "exports", FILES)
    build = made(folder, tmp_path / "reports")
    assert care.faults(read_folder(folder), build) == []
    told = read_folder(folder)
    (one,) = told.trials["A1", "2026-03-02", "single_hop", "right"]
    one.said = replace(one.said, pain=6.0, note="knee gave way")
    assert len(care.faults(told, build)) == 2
    told = read_folder(folder)
    told.roster.unclear.add("A1")
    told.rows["log.csv"][1].hole = ("A2", "2026-03-02")
    assert len(care.faults(told, build)) == 2
    calm = write(
        tmp_path / "calm", {"roster.csv": FILES["roster.csv"], "log.csv": FILES["log.csv"]}
    )
    told, build = read_folder(calm), made(calm, tmp_path / "calm_reports")
    assert care.faults(told, build) == []
    told.rows["log.csv"][0].hole = (None, None)
    assert [care.CALMING in fault for fault in care.faults(told, build)] == [True, True]


def test_texts_are_alike_but_for_the_last_digit_of_their_figures() -> None:
    assert alike("left 0.41237 of 3", "left 0.41238 of 3")
    assert not alike("left 0.4124 of 3", "left 0.4134 of 3")
    assert not alike("left 0.4124 of 3", "left 0.4124 of 4")
    assert not alike("left 0.4124", "right 0.4124")


def test_a_header_names_the_other_side_in_the_same_unit() -> None:
    turned = {
        head: other_head(head) for head in ("CMJ L 2", "right hop (cm)", "hop_left_1", "Note")
    }
    assert turned == {
        "CMJ L 2": "CMJ r 2", "right hop (cm)": "left hop (cm)", "hop_left_1": "hop_right_1",
        "Note": "Note",
    }  # fmt: skip
    assert Counter(turned.values())["Note"] == 1
