"""Side tests, long and wide, into attempts."""

from pathlib import Path

import pytest

from tests.intake.exports import LONG, ROSTER, WIDE, counts, intake_of, refusals, remark, values

DAY = "2024-03-05"


def one(tmp_path: Path, header: str, *rows: str) -> list[tuple[str, str, str, int, float]]:
    return values(intake_of(tmp_path, {"t.csv": "\n".join([header, *rows])}))


def test_a_wide_row_gives_an_attempt_for_each_filled_cell(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,test,left_1,left_2,right_1,right_2"
    assert one(tmp_path, header, f"A1,{DAY},single_hop,140,,150,151.5") == [
        ("A1", "single_hop", "left", 1, 140.0),
        ("A1", "single_hop", "right", 1, 150.0),
        ("A1", "single_hop", "right", 2, 151.5),
    ]


def test_synonyms_of_a_test_lead_to_the_same_measure(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},Single Hop,L,140", f"A1,{DAY},SINGLE-HOP test,R,150"]
    assert {value[1] for value in one(tmp_path, LONG, *rows)} == {"single_hop"}


def test_ids_match_whatever_a_spreadsheet_did_to_them(tmp_path: Path) -> None:
    roster = "athlete_id,name,squad\n007,Jo,S\nHB-1,Bo,S\n"
    tests = f"{LONG}\n7,{DAY},single_hop,left,140\n7.0,{DAY},single_hop,right,141\n"
    tests += f"hb-1,{DAY},single_hop,left,142\n"
    intake = intake_of(tmp_path, {"roster.csv": roster, "t.csv": tests})
    assert [value[0] for value in values(intake)] == ["007", "007", "HB-1"]


def test_units_come_from_the_cell_before_the_column_before_the_header(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,test,side,value (m),unit"
    rows = [
        f"A1,{DAY},single_hop,left,145 cm,",
        f"A2,{DAY},single_hop,left,57,in",
    ]
    assert [value[4] for value in one(tmp_path, header, *rows)] == [145.0, 57 * 2.54]
    header = "athlete_id,tested_on,test,side,value (m)"
    (tmp_path / "b").mkdir()
    row = f"A1,{DAY},single_hop,left,1.45"
    assert [value[4] for value in one(tmp_path / "b", header, row)] == [145.0]


def test_a_typed_unit_in_one_wide_cell_leaves_the_others_alone(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},single_hop,1.40 m,150", f"A2,{DAY},single_hop,141,1.51 m"]
    assert [value[4] for value in one(tmp_path, WIDE, *rows)] == [140.0, 150.0, 141.0, 151.0]


def test_the_given_text_and_unit_are_kept(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG},unit\nA1,{DAY},grip,left,100,lbs\n"})
    row = intake.trials.row(0, named=True)
    assert (row["value_given"], row["unit_given"]) == ("100", "lbs")
    assert row["value"] == 100 * 0.45359237


def test_minutes_and_seconds_count_as_seconds(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},side_plank_hold,left,1:35", f"A1,{DAY},side_plank_hold,right,95"]
    assert [value[4] for value in one(tmp_path, LONG, *rows)] == [60 + 35, 95.0]


def test_reach_in_centimetres_is_scaled_by_the_limb_of_its_side(tmp_path: Path) -> None:
    roster = "athlete_id,name,squad,height_cm,left limb length,right limb length\n"
    roster += "A1,Ann,S,,80,100\nA2,Bea,S,,80,\nA3,Cid,S,200,,\nA4,Dee,S,,,\n"
    rows = "".join(f"A{n},{DAY},reach_anterior,60,60,cm\n" for n in range(1, 5))
    files = {"roster.csv": roster, "t.csv": f"{WIDE},unit\n{rows}"}
    intake = intake_of(tmp_path, files)
    shown = intake.trials.sort("athlete_id", "side").select("value", "factor").rows()
    limbs = [80, 100, 80, 80, 0.505 * 200, 0.505 * 200, 90, 90]
    assert shown == [(pytest.approx(100 * 60 / limb), limb / 100) for limb in limbs]
    assert remark(intake, "t.csv") == (
        "reach scaled by 0.505 of the height, limb lengths not in the roster; "
        "reach scaled by a limb length of 90 cm, none in the roster; "
        "reach scaled by one limb length for both sides, the roster has no other"
    )


def test_torque_is_divided_by_the_body_mass_of_the_roster(tmp_path: Path) -> None:
    header = f"{LONG},unit"
    row = f"A1,{DAY},iso_knee_extension_torque,left,192,Nm"
    assert [value[4] for value in one(tmp_path, header, row)] == [192 / 64]


def test_dominant_and_involved_sides_come_from_the_roster(tmp_path: Path) -> None:
    # A1 is left-footed with a known left side; A2 is left-handed and right-footed.
    rows = [
        f"A1,{DAY},single_hop,dominant,150",
        f"A1,{DAY},knee_to_wall,involved,10",
        f"A2,{DAY},grip_strength,non-dominant,35",
        f"A2,{DAY},single_hop,Dom,140",
    ]
    assert [value[1:3] for value in one(tmp_path, LONG, *rows)] == [
        ("knee_to_wall", "left"), ("single_hop", "left"),
        ("grip_strength", "right"), ("single_hop", "right"),
    ]  # fmt: skip


def test_headers_of_involved_sides_are_turned_by_the_roster(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,test,involved,uninvolved"
    assert one(tmp_path, header, f"A1,{DAY},single_hop,140,150") == [
        ("A1", "single_hop", "left", 1, 140.0), ("A1", "single_hop", "right", 1, 150.0),
    ]  # fmt: skip


def test_a_test_without_sides_needs_none(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},sprint_10m_time,,1.9", f"A2,{DAY},sprint_10m_time,both,2.0"]
    assert [value[2] for value in one(tmp_path, LONG, *rows)] == ["both", "both"]


def test_a_row_without_a_value_is_not_read_whatever_else_is_wrong(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\nNobody,soon,moon_jump,middle,\n"})
    assert counts(intake, "t.csv") == (0, 0, 0, 0)
    assert refusals(intake) == []


def test_unusual_values_are_accepted_and_named(tmp_path: Path) -> None:
    intake = intake_of(tmp_path, {"t.csv": f"{LONG}\nA1,{DAY},single_hop,left,25\n"})
    assert remark(intake, "t.csv") == "unusual: single_hop 25 cm in line 2"
    assert counts(intake, "t.csv") == (1, 1, 0, 0)


def test_pain_is_a_number_from_0_to_10_however_it_is_put(tmp_path: Path) -> None:
    pains = ["4", "4/10", "3,5", "no pain", ""]
    rows = [f'A1,2024-03-{10 + n},single_hop,left,145,"{pain}"' for n, pain in enumerate(pains)]
    intake = intake_of(tmp_path, {"t.csv": "\n".join([f"{LONG},pain", *rows])})
    assert intake.trials.sort("tested_on")["pain"].to_list() == [4.0, 4.0, 3.5, 0.0, None]


def test_every_row_ends_in_its_file_sheet_and_line(tmp_path: Path) -> None:
    sheet = [LONG.split(","), ["A1", DAY, "single_hop", "left", 145]]
    intake = intake_of(tmp_path, {"roster.csv": ROSTER, "t.xlsx": {"Hops": [[], *sheet]}})
    row = intake.trials.row(0, named=True)
    assert (row["source_file"], row["source_sheet"], row["source_line"]) == ("t.xlsx", "Hops", 3)
    assert intake.trials.columns[-3:] == ["source_file", "source_sheet", "source_line"]


def test_a_code_for_untested_beside_pain_is_no_value(tmp_path: Path) -> None:
    text = f"{LONG},pain,note\nA1,2024-03-05,single_hop,left,999,7,knee gave way\n"
    text += "A2,2024-03-05,single_hop,left,-99,,\nA3,2024-03-05,single_hop,right,120,2,\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    columns = ["athlete_id", "side", "value", "pain", "note"]
    assert intake.trials.select(columns).rows() == [
        ("A1", "left", None, 7.0, "knee gave way"), ("A3", "right", 120.0, 2.0, None),
    ]  # fmt: skip
    assert counts(intake, "t.csv") == (2, 2, 0, 0)
