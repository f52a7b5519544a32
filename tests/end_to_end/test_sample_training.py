"""The training stories of the sample come out as they were written."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import duckdb
import polars as pl
import pytest

from pipeline.warehouse import Warehouse
from schemas.contracts.training_relations import REVIEWED
from tests.closed_columns import COLUMNS
from tests.conftest import Built
from tests.end_to_end.pdf_checks import said


@pytest.fixture(scope="module")
def house(sample: Built) -> Iterator[Warehouse]:
    with Warehouse(sample.reports / "warehouse.duckdb", read_only=True) as warehouse:
        yield warehouse


def test_the_reviews_marts_keep_their_contracts(house: Warehouse) -> None:
    for contract in REVIEWED:
        frame = house.fetch(str(contract.to_schema().name))
        assert not frame.is_empty()
        contract.validate(frame, lazy=True)


def test_no_table_holds_a_word_that_its_set_lacks(sample: Built, tmp_path: Path) -> None:
    """Also those that review and plan fill without a contract: flags, findings, decisions."""
    held: dict[str, set[str]] = {}
    copied = shutil.copy(sample.reports / "warehouse.duckdb", tmp_path)  # `house` has it open
    with duckdb.connect(copied, read_only=True) as database:
        for table, column in database.execute(
            "select table_name, column_name from information_schema.columns "
            "where data_type = 'VARCHAR'"
        ).fetchall():
            is_sentence = (table, column) == ("raw_refused", "reason")  # why a row was not read
            if column in COLUMNS and not is_sentence:
                found = database.execute(f'select distinct "{column}" from "{table}"').fetchall()
                held.setdefault(column, set()).update(word for (word,) in found if word is not None)
    assert {"reason", "verdict", "moved", "status", "became", "log_state"} <= held.keys()
    strange = {column: words - set(COLUMNS[column]) for column, words in held.items()}
    assert {column: words for column, words in strange.items() if words} == {}


def steps(house: Warehouse, athlete: str) -> pl.DataFrame:
    return house.fetch("mart_plans").filter(athlete_id=athlete).sort("session", "step")


def outcome(house: Warehouse, flag_id: str) -> dict[str, object]:
    return house.fetch("mart_block_outcomes").filter(flag_id=flag_id).row(0, named=True)


def test_the_closing_story_did_most_of_its_block_and_is_said_to_be_smaller(
    house: Warehouse,
) -> None:
    row = outcome(house, "HB-04.single_hop.difference")
    assert (row["verdict"], row["lower_side"]) == ("smaller", "left")
    # Logged: 11 days of the plan's exercises, of two a week in eight weeks, all with more.
    assert (row["done_sessions"], row["planned_sessions"], row["done_extras"]) == (11, 16.0, 11)
    assert row["adherence"] == 11 / 16
    # Its last four tests lie about the line and no longer clearly over it: the extra ends.
    assert set(steps(house, "HB-04")["plan"]) == {"done"}


def test_the_ankle_that_did_not_change_in_eight_weeks_is_talked_over(house: Warehouse) -> None:
    assert outcome(house, "HB-08.knee_to_wall.difference")["verdict"] == "no change shown"
    assert steps(house, "HB-08")["plan"].to_list() == ["stop"]


def test_the_leg_curl_that_was_never_done_is_not_judged(house: Warehouse) -> None:
    row = outcome(house, "VB-03.hq_ratio_con_60.ratio")
    assert (row["done_sessions"], row["adherence"]) == (0, 0.0)
    block = steps(house, "VB-03")
    assert set(block["plan"]) == {"train"}
    assert set(block["part"]).isdisjoint({"extra", "isolation"})  # a shorter plan


def test_the_gym_member_whose_right_does_more_gets_equal_work_left_first(house: Warehouse) -> None:
    block = steps(house, "GM-06")
    one_sided = block.filter(part="one_side")
    assert set(one_sided["side"]) == {"left_first"}
    record = house.fetch("mart_findings").filter(
        pl.col("athlete_id") == "GM-06", pl.col("measure_group") == "training_record"
    )
    # Two plateaus of each lift: what a log with steps of 2.5 kg can tell, and no more.
    assert set(record["session_count"]) == {2}
    assert "confirmed" not in set(record["verdict"])
    assert set(record["lower_side"]) == {"left"}


def test_equal_by_design_is_no_evidence(house: Warehouse) -> None:
    loads = house.fetch("mart_log_loads").filter(athlete_id="GM-09")
    assert loads["is_by_design"].all()
    found = house.fetch("mart_findings").filter(athlete_id="GM-09")
    assert "training_record" not in found["measure_group"].to_list()


@pytest.mark.parametrize("athlete", ["HB-11", "HB-18", "VB-12", "VB-16"])
def test_whoever_is_hurt_or_back_from_surgery_has_no_plan(house: Warehouse, athlete: str) -> None:
    assert steps(house, athlete)["plan"].to_list() == ["medical"]


def test_who_trains_with_limits_is_sent_to_the_staff_before_any_number(sample: Built) -> None:
    opening = said(sample.reports / "athletes" / "HB-11.pdf").split("Each side")[0]
    first, rest = opening.split("speak with them before your next test or hard session.")
    assert "For now your plan comes from your medical staff and your coach;" in first
    assert "%" not in first
    assert rest.strip() == ""  # no verdict before theirs


def test_the_known_leg_length_is_kept(house: Warehouse) -> None:
    assert steps(house, "HB-15")["plan"].to_list() == ["keep"]


def test_one_day_waits_and_noise_changes_nothing(house: Warehouse) -> None:
    assert steps(house, "HB-22")["plan"].to_list() == ["retest"]
    assert steps(house, "HB-09")["plan"].to_list() == ["none"]


def test_the_training_record_is_in_the_table_of_asymmetries(sample: Built) -> None:
    table = pl.read_csv(sample.reports / "asymmetries.csv")
    rows = table.filter(pl.col("measure") == "est_1rm:single_arm_dumbbell_row")
    assert rows["athlete_id"].to_list() == ["GM-06"]
    assert rows.select("value_unit", "unit", "formula").row(0) == ("kg", "%", "pct_of_best")
    assert rows["typical_error"][0] > 6  # larger than any strength test's


def test_no_referred_athlete_has_a_step(house: Warehouse) -> None:
    referred = house.fetch("mart_flags").filter(reason="refer")["athlete_id"].unique()
    planned = house.fetch("mart_plans").filter(pl.col("part").is_not_null())
    assert not set(referred) & set(planned["athlete_id"])


@pytest.mark.parametrize(
    ("page", "told", "never"),
    [
        ("athletes/HB-13.pdf", "“Single hop” is due again.", "larger than most"),
        ("athletes/HB-15.pdf", "One other stands out; your coaches decide", "others stand out"),
        ("athletes/HB-08.pdf", "Thursday, 7 January", "2 January"),  # the squad's own weekday
        ("athletes/VB-16.pdf", "speak with them before your next", "nothing to change"),
        ("athletes/VB-07.pdf", "What this card does not name stays as it is", "Under 18"),
        ("squad_Tidewick Handball.pdf", "the sign is of 11 Nov", "within two days"),
        ("squad_Tidewick Handball.pdf", "how much of it was done?", "No test of both sides"),
        ("squad_Tidewick Volleyball.pdf", "in these files (Daichi N.)", "Daichi N. and"),
    ],
)
def test_a_page_tells_what_is_so_and_not_its_opposite(
    page: str, told: str, never: str, sample: Built
) -> None:
    text = said(sample.reports / page).replace("\xa0", " ")
    assert told in text
    assert never not in text
