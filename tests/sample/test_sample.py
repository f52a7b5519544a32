"""The sample folder is what its generator writes, and the scenario holds what it promises."""

import io
import re
import unicodedata
import zipfile
from collections import Counter
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from pipeline.catalogue import catalogue
from tests.sample.__main__ import SAMPLE_EXPORTS, write_sample
from tests.sample.files import sample_files
from tests.sample.scenario import (
    FIRST_MONDAY,
    LAST_DAY,
    day_of,
    people,
    read,
    rounds,
    stories,
)
from tests.sample.training import sets_of
from tests.sample.trials import Trial, trials_of

SQUADS = {"HB": 22, "VB": 16, "GM": 12}


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return sample_files()


def all_trials() -> list[Trial]:
    return [t for sheet in dict.fromkeys(r.sheet for r in rounds()) for t in trials_of(sheet)]


def unpacked(content: bytes) -> dict[str, bytes]:
    """The parts of a workbook: how they are compressed is the machine's affair (zlib differs)."""
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        return {part.filename: parts.read(part) for part in parts.infolist()}


def test_the_sample_folder_holds_exactly_the_files_of_the_generator(files: dict[str, bytes]):
    found = {path.name for path in SAMPLE_EXPORTS.iterdir() if not path.name.startswith(".")}
    assert found == set(files)


@pytest.mark.parametrize("name", [spec["name"] for spec in read("files")["files"]])
def test_every_sample_file_is_byte_for_byte_what_the_generator_writes(
    name: str, files: dict[str, bytes]
):
    standing = (SAMPLE_EXPORTS / name).read_bytes()
    if name.endswith(".xlsx"):
        assert unpacked(standing) == unpacked(files[name])
    else:
        assert standing == files[name]


def test_writing_again_gives_the_same_bytes_and_takes_leftovers_away(
    tmp_path: Path, files: dict[str, bytes]
):
    (tmp_path / "leftover.csv").write_text("old")
    write_sample(tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == files


def test_the_folder_is_small_and_the_season_of_a_believable_size(files: dict[str, bytes]):
    assert sum(map(len, files.values())) < 1_500_000
    assert 10_000 <= len(all_trials()) <= 20_000
    assert 8_000 <= sum(len(sets_of(squad)) for squad in SQUADS) <= 10_000
    assert len(files) >= 12


def test_three_groups_of_invented_people_fill_the_roster():
    assert Counter(who.squad.code for who in people()) == SQUADS
    assert len({who.id for who in people()}) == len({who.name for who in people()}) == 50
    assert all(who.squad.name.startswith("Tidewick ") for who in people())
    assert {who.sex for who in people() if who.squad.code == "GM"} == {"female", "male"}
    ages = [LAST_DAY.year - who.born.year for who in people() if who.squad.code == "GM"]
    assert min(ages) < 30 and max(ages) > 65


def test_names_are_written_in_several_scripts():
    letters = {letter for who in people() for letter in who.name if letter.isalpha()}
    scripts = {unicodedata.name(letter).split()[0] for letter in letters}
    assert {"LATIN", "GREEK", "CYRILLIC"} <= scripts
    assert sum(not who.name.isascii() for who in people()) >= 15


def test_the_roster_has_the_blanks_of_real_life():
    blanks = {column for who in people() for column in who.blank}
    assert {"dominant_foot", "height_cm", "body_mass_kg", "birth_date"} <= blanks
    assert {"availability", "left_limb_length_cm"} <= blanks


def test_the_season_runs_over_sixteen_weeks_to_a_friday():
    days = [t.tested_on for t in all_trials()] + [
        s.trained_on for squad in SQUADS for s in sets_of(squad)
    ]
    assert (date(2026, 11, 20).weekday(), LAST_DAY) == (4, max(days))
    assert min(days) >= FIRST_MONDAY and (LAST_DAY - FIRST_MONDAY).days == 16 * 7 - 3


def test_the_morning_group_has_no_test_device():
    sheets = {block.sheet for block in rounds() if block.squad == "GM"}
    assert sheets == {"girths", "range_gym"}


@pytest.mark.parametrize("measure", read("tests")["measures"])
def test_every_test_is_named_so_that_the_catalogue_knows_it(measure: str):
    assert catalogue().find_measure(read("tests")["measures"][measure]["label"]) == measure


def test_every_exercise_is_named_so_that_the_dictionary_knows_it():
    for squad in read("programme")["squads"].values():
        for session in squad["sessions"]:
            for exercise in session["exercises"]:
                assert catalogue().find_exercise(exercise["label"]) == exercise["id"]


def test_no_value_lies_outside_the_hard_limits_but_the_typing_slip():
    for trial in all_trials():
        kind = catalogue().measures[trial.measure]
        if trial.unit == kind.unit:
            assert kind.hard[0] <= trial.value <= kind.hard[1], trial


def test_workbooks_have_title_lines_several_sheets_and_both_kinds_of_dates(
    files: dict[str, bytes],
):
    roster = openpyxl.load_workbook(io.BytesIO(files["roster_autumn_2026.xlsx"])).active
    assert "roster" in roster["A1"].value and roster["A2"].value == "Athlete ID"
    book = openpyxl.load_workbook(io.BytesIO(files["physio_range_of_motion.xlsx"]))
    assert book["Handball"]["B4"].value.date() == day_of(1, 3)
    assert book["Volleyball"]["B2"].value == "11 Aug 2026"
    assert len(openpyxl.load_workbook(io.BytesIO(files["strength_tests.xlsx"])).sheetnames) == 4


def test_text_files_come_in_different_dialects(files: dict[str, bytes]):
    device = files["jump_device_export.csv"]
    assert b"Zo\xeb" in device and b";17,8;cm;" in device and b"10.08.2026" in device
    assert files["reach_balance.csv"].startswith(b"\xef\xbb\xbf")
    assert b"\tboth\t" in files["turns_505.tsv"]
    assert b",lb\r\n" in files["grip_handball_lb.csv"]


def test_the_slips_of_real_life_are_in_the_files(files: dict[str, bytes]):
    slips = read("meetings")["slips"]
    assert files["turns_505.tsv"].count(slips["unreadable"][0]["text"].encode()) == 1
    unknown = slips["unknown_test"][0]["label"]
    assert catalogue().find_measure(unknown) is None
    assert files["jump_device_export.csv"].count(unknown.encode("cp1252")) == 1
    hip = openpyxl.load_workbook(io.BytesIO(files["strength_tests.xlsx"]))["Hip"]
    repeated = [r for r, n in Counter(hip.iter_rows(values_only=True)).items() if n > 1]
    assert [row[0] for row in repeated] == [slips["twice"][0]["athlete"]]


def test_the_hop_sheet_of_week_16_lies_there_twice_with_one_correction(files: dict[str, bytes]):
    first = set(files["hops.csv"].decode().splitlines())
    again = files["hops_17_november_again.csv"].decode().splitlines()[1:]
    corrected = [line for line in again if line not in first]
    assert len(again) > 30
    assert [line.split(",")[0] for line in corrected] == ["HB-10"]


def test_decisions_name_athletes_and_measures_that_exist():
    ids = {who.id for who in people()}
    for decision in read("meetings")["decisions"]:
        athlete, measure, family = decision["flag_id"].split(".")
        assert athlete in ids and measure in catalogue().measures
        assert family in {"difference", "ratio"}


def test_every_story_is_told_of_somebody_else_in_a_key_of_its_own():
    assert len(stories()) == len(read("stories")["stories"]) == 15
    assert set(stories()) <= {who.id for who in people()}


def test_the_readme_names_every_story_and_file():
    text = (Path(__file__).parent / "README.md").read_text(encoding="utf-8")
    for story in stories().values():
        assert re.search(rf"\b{story.athlete}\b", text), story.key
    for spec in read("files")["files"]:
        assert spec["name"] in text
