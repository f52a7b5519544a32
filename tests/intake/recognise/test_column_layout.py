"""Side tests with one column for each test and side."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.catalogue import Measure, catalogue
from pipeline.intake.recognise.kinds import recognise
from pipeline.intake.recognise.named_tests import named_tests
from tests.intake.exports import (
    counts,
    intake_of,
    refusals,
    remark,
    values,
)

DAY, LATER = "2024-03-05", "2024-03-12"
OF_THE_ROW = " (pain and notes are read from columns headed pain and note)"
MEASURES = list(catalogue().measures.values())


def one(tmp_path: Path, header: str, *rows: str) -> list[tuple[str, str, str, int, float]]:
    return values(intake_of(tmp_path, {"t.csv": "\n".join([header, *rows])}))


def headed(*headers: str) -> list[tuple[str, str | None, int | None, str | None]]:
    """Side, test, trial and unit of each header that is a column of a test."""
    reading = recognise(("athlete_id", "tested_on", *headers))
    assert reading is not None
    return [(c.name, c.measure, c.trial, c.unit) for c in reading.columns if c.measure]


def said(tmp_path: Path, *headers: str) -> str:
    """The remark on a table of these columns beside two that are read."""
    row = f"A1,{DAY},{','.join('1' for _ in headers)},40,41"
    text = f"athlete_id,tested_on,{','.join(headers)},grip L,grip R\n{row}\n"
    return remark(intake_of(tmp_path, {"t.csv": text}), "t.csv")


@pytest.mark.parametrize(
    ("header", "side", "measure", "trial", "unit"),
    [
        ("single_hop left", "left", "single_hop", None, None),
        ("Single hop L 1", "left", "single_hop", 1, None),
        ("CMJ R 2", "right", "sl_cmj_height", 2, None),
        ("L knee to wall (cm)", "left", "knee_to_wall", None, "cm"),
        ("Single-leg hop (left) [cm]", "left", "single_hop", None, "cm"),
        ("grip_r", "right", "grip_strength", None, None),
        ("left single hop trial 3", "left", "single_hop", 3, None),
        ("Hop for distance - right", "right", "single_hop", None, None),
        ("singleHopLeft2", "left", "single_hop", 2, None),
        ("SINGLEHOPRIGHT", "right", "single_hop", None, None),
        ("1L hop", "left", "single_hop", 1, None),
        ("hop.2.r", "right", "single_hop", 2, None),
        ("Hop (mm) Rt 12", "right", "single_hop", 12, "mm"),
        ("L side plank", "left", "side_plank_hold", None, None),
        ("left side side plank", "left", "side_plank_hold", None, None),
        ("Side hop 30 s L 3", "left", "side_hop_30s", 3, None),
        ("505 L 1", "left", "cod_505_time", 1, None),
        ("90/90 hamstring R (lbf)", "right", "iso_hamstring_single_force", None, "lbf"),
        ("Isokinetic extension 60°/s R 2", "right", "isok_knee_extension_60", 2, None),
        ("Leg curl 10RM L", "left", "leg_curl_machine_rm", None, None),
        ("L 3 hop", "left", "triple_hop", None, None),
        ("grip score left leg", "left", "grip_strength", None, None),
        ("non-dominant grip", "nondominant", "grip_strength", None, None),
        ("single hop involved leg", "involved", "single_hop", None, None),
        ("10 m sprint", "both", "sprint_10m_time", None, None),
        ("sprint_10m_time 2 (ms)", "both", "sprint_10m_time", 2, "ms"),
        ("R leg length (cm)", "right", "leg_length", None, "cm"),
    ],
)
def test_a_header_is_a_test_a_side_a_trial_and_a_unit_in_any_order(
    header: str, side: str, measure: str, trial: int | None, unit: str | None
) -> None:
    assert headed(header) == [(side, measure, trial, unit)]


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.id)
def test_every_name_of_a_test_heads_its_columns(measure: Measure) -> None:
    is_whole = measure.kind == "whole_body"
    for name in {measure.id, measure.name, measure.short, *measure.synonyms}:
        forms = {f"{name}": ("both", None), f"{name} trial 2": ("both", 2)}
        if not is_whole:
            forms = {
                f"{name} left": ("left", None), f"R {name}": ("right", None),
                f"{name}_r_2": ("right", 2), f"{name} (left) 3": ("left", 3),
                f"Left {name} trial 1": ("left", 1), f"{name} - RIGHT": ("right", None),
            }  # fmt: skip
        for header, (side, trial) in forms.items():
            (column,) = headed(header)
            assert column[:3] == (side, measure.id, trial), header
            assert column[3] in (None, measure.unit), header
        first = named_tests(f"{name} [{measure.unit}]" + " L" * (not is_whole))[0]
        assert (first.measure, first.unit) == (measure.id, measure.unit), name


def test_each_filled_cell_is_an_attempt_with_pain_and_note_of_its_row(tmp_path: Path) -> None:
    text = (
        "Note,CMJ L,Athlete ID,Single hop R 1,Single hop R 2,10 m,Date,Pain,knee to wall r (mm)\n"
        f"tired,14.5,A1,155,,1.91,{DAY},3,101\n"
        f",,A2,148,149.5,,{DAY},,\n"
        f"wet floor,18,A2,,,2.05,{LATER},6,\n"
    )
    intake = intake_of(tmp_path, {"t.csv": text})
    columns = ["athlete_id", "tested_on", "measure", "side", "value", "pain", "note"]
    first, later = date(2024, 3, 5), date(2024, 3, 12)
    rows = intake.trials.select(columns).rows()
    assert sorted(rows, key=lambda row: row[:5]) == [
        ("A1", first, "knee_to_wall", "right", 101 / 10, 3.0, "tired"),
        ("A1", first, "single_hop", "right", 155.0, 3.0, "tired"),
        ("A1", first, "sl_cmj_height", "left", 14.5, 3.0, "tired"),
        ("A1", first, "sprint_10m_time", "both", 1.91, 3.0, "tired"),
        ("A2", first, "single_hop", "right", 148.0, None, None),
        ("A2", first, "single_hop", "right", 149.5, None, None),
        ("A2", later, "sl_cmj_height", "left", 18.0, 6.0, "wet floor"),
        ("A2", later, "sprint_10m_time", "both", 2.05, 6.0, "wet floor"),
    ]
    assert counts(intake, "t.csv") == (3, 3, 0, 0)
    assert remark(intake, "t.csv") == ""


def test_columns_of_one_header_are_trials_from_left_to_right(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,Hop L,Hop L,Hop L,Hop R"
    rows = [f"A1,{DAY},150,152,151,160", f"A2,{DAY},140,,141,139"]
    assert one(tmp_path, header, *rows) == [
        ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "left", 2, 152.0),
        ("A1", "single_hop", "left", 3, 151.0), ("A1", "single_hop", "right", 1, 160.0),
        ("A2", "single_hop", "left", 1, 140.0), ("A2", "single_hop", "left", 2, 141.0),
        ("A2", "single_hop", "right", 1, 139.0),
    ]  # fmt: skip


def test_columns_without_a_header_right_of_a_test_are_its_further_trials(tmp_path: Path) -> None:
    header = ["athlete_id", "tested_on", "Hop L", None, "CMJ R", None, None]
    rows = [header, ["A1", DAY, 150, 152, 14, 15, 14.5], ["A2", DAY, 140, 141, 18, 17, 19]]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": rows}})
    assert values(intake) == [
        ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "left", 2, 152.0),
        ("A1", "sl_cmj_height", "right", 1, 14.0), ("A1", "sl_cmj_height", "right", 2, 15.0),
        ("A1", "sl_cmj_height", "right", 3, 14.5),
        ("A2", "single_hop", "left", 1, 140.0), ("A2", "single_hop", "left", 2, 141.0),
        ("A2", "sl_cmj_height", "right", 1, 18.0), ("A2", "sl_cmj_height", "right", 2, 17.0),
        ("A2", "sl_cmj_height", "right", 3, 19.0),
    ]  # fmt: skip


TWO_TESTS = [
    ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "left", 2, 151.0),
    ("A1", "single_hop", "right", 1, 160.0), ("A1", "single_hop", "right", 2, 161.0),
    ("A1", "sl_cmj_height", "left", 1, 14.0), ("A1", "sl_cmj_height", "left", 2, 14.5),
    ("A1", "sl_cmj_height", "right", 1, 15.0), ("A1", "sl_cmj_height", "right", 2, 15.5),
]  # fmt: skip
ROW = ["A1", DAY, 150, 151, 160, 161, 14, 14.5, 15, 15.5, "cold"]
BLANK = [None, None, None]


@pytest.mark.parametrize(
    "header",
    [
        [
            ["Athlete", "Date", "Single hop", *BLANK, "CMJ", *BLANK, "Note"],
            [None, None, "L 1", "L 2", "R 1", "R 2", "L 1", "L 2", "R 1", "R 2", None],
        ],
        [
            [None, None, "Single hop", *BLANK, "CMJ", *BLANK],
            [
                "Athlete",
                "Date",
                "Left 1",
                "Left 2",
                "Right 1",
                "Right 2",
                "Left 1",
                "Left 2",
                "Right 1",
                "Right 2",
                "Note",
            ],
        ],
        [
            ["Athlete", "Date", "Single hop", *BLANK, "CMJ", *BLANK, "Note"],
            [None, None, "Left", None, "Right", None, "Left", None, "Right", None],
            [None, None, 1, 2, 1, 2, 1, 2, 1, 2],
        ],
        [
            ["Jumps of the week"],
            [None, None, "Single hop", *BLANK, "CMJ", *BLANK],
            [None, None, "Left", None, "Right", None, "Left", None, "Right", None],
            ["Athlete", "Date", 1, 2, 1, 2, 1, 2, 1, 2, "Note"],
        ],
        [
            [
                "Athlete",
                "Date",
                "Single hop L 1",
                "Hop L 2",
                "Single hop R 1",
                "Hop R 2",
                "CMJ L 1",
                "CMJ L 2",
                "CMJ R 1",
                "CMJ R 2",
                "Note",
            ],
            [None, None, "(cm)", "(cm)", "(cm)", "(cm)", "cm", "cm", "cm", "cm", None],
        ],
    ],
    ids=["two_rows", "labels_below", "three_rows", "three_rows_labels_below", "units_below"],
)
def test_a_header_may_stand_over_several_rows(header: list[list[Any]], tmp_path: Path) -> None:
    other = ["A2", LATER, 140, 141, None, None, 18, None, None, None, None]
    intake = intake_of(tmp_path, {"t.xlsx": {"S": [*header, ROW, other]}})
    assert values(intake) == [
        *TWO_TESTS,
        ("A2", "single_hop", "left", 1, 140.0), ("A2", "single_hop", "left", 2, 141.0),
        ("A2", "sl_cmj_height", "left", 1, 18.0),
    ]  # fmt: skip
    assert intake.trials.filter(athlete_id="A1")["note"].unique().to_list() == ["cold"]
    assert counts(intake, "t.xlsx", "S") == (2, 2, 0, 0)
    assert intake.trials["source_line"].unique().sort().to_list() == [
        len(header) + 1, len(header) + 2,
    ]  # fmt: skip


def test_a_title_that_names_the_test_heads_the_sides_below_it(tmp_path: Path) -> None:
    rows = [f"A1,{DAY},150,160", f"A2,{DAY},140,139"]
    assert one(tmp_path, "Single hop,,,\nathlete,date,left,right", *rows) == [
        ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "right", 1, 160.0),
        ("A2", "single_hop", "left", 1, 140.0), ("A2", "single_hop", "right", 1, 139.0),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("header", "why"),
    [
        ("Coach", ""),
        ("Left", ""),
        ("L leg", ""),
        ("knee to wall pain", OF_THE_ROW),
        ("Pain left", OF_THE_ROW),
        ("Physio's comment on CMJ", OF_THE_ROW),
        ("single hop L/R difference", ""),
        ("Single hop", " (names no side)"),
        ("Single hop both", " (names no one side)"),
        ("10 m sprint L", " (sprint_10m_time has no sides)"),
        ("Hop % L", " (% does not fit single_hop)"),
        ("L knee to wall (°)", " (deg does not fit knee_to_wall)"),
        ("grip best L", " (sums up other columns)"),
    ],
)
def test_other_columns_are_kept_out_and_named(header: str, why: str, tmp_path: Path) -> None:
    if "difference" in header:
        assert "single hop L/R difference (no known test; nearest: " in said(tmp_path, header)
    else:
        assert said(tmp_path, header) == f"columns not used: {header}{why}"


def test_a_side_of_a_test_nobody_knows_is_named_with_the_nearest(tmp_path: Path) -> None:
    nearest = ", ".join(catalogue().nearest_measures("singel hop"))
    assert said(tmp_path, "singel hop L", "Coach", "R singel hop 2") == (
        f"columns not used: singel hop L (no known test; nearest: {nearest}), Coach, "
        f"R singel hop 2 (no known test; nearest: "
        f"{', '.join(catalogue().nearest_measures('singel hop 2'))})"
    )


def test_a_number_that_may_be_a_trial_or_a_test_is_asked_about(tmp_path: Path) -> None:
    assert said(tmp_path, "L 1 hop", "L 2 hop", "L 3 hop") == (
        "columns not used: L 3 hop (can mean triple_hop or single_hop trial 3)"
    )


def test_a_column_that_sums_up_trials_is_read_where_there_is_nothing_else() -> None:
    assert headed("grip L best", "grip L mean", "grip R max") == [
        ("left", "grip_strength", None, None), ("right", "grip_strength", None, None),
    ]  # fmt: skip
    reading = recognise(("id", "date", "grip L best", "grip L mean", "grip R 1", "grip R max"))
    assert reading is not None
    assert reading.spare == ("grip L best", "grip R max")


def test_a_table_without_a_known_test_says_why_of_every_row(tmp_path: Path) -> None:
    text = f"athlete_id,tested_on,Foo L,Single hop\nA1,{DAY},3,140\nA2,{DAY},4,150\n"
    intake = intake_of(tmp_path, {"t.csv": text})
    assert counts(intake, "t.csv") == (2, 0, 2, 0)
    nearest = ", ".join(catalogue().nearest_measures("foo"))
    assert {row[4] for row in refusals(intake)} == {
        "looks like side tests, one column a test and side, but no column for the test and its "
        f"side; found: athlete_id, tested_on; not known: Foo L (no known test; nearest: {nearest}),"
        " Single hop (names no side)"
    }


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ("athlete_id,name,squad,left_limb_length_cm,right_limb_length_cm", "roster"),
        ("id,name,team,date,height,leg length L,leg length R", "roster"),
        ("athlete_id,name,squad,height,single hop left,single hop right", "roster"),
        ("id,name,squad,date,hop L,hop R,CMJ L,CMJ R", "side_tests_columns"),
        ("athlete,date,test,left,right,hop L", "side_tests_wide"),
        ("athlete,date,test,L1,L2,R1,R2", "side_tests_wide"),
        ("athlete,date,test,side,value,CMJ L,CMJ R", "side_tests_long"),
        ("athlete,date,exercise,set,side,reps,calf raise L,grip R", "training_log"),
        ("athlete,date,exercise,side,checkpoint,finding,hop L", "film_review"),
    ],
)
def test_what_has_columns_of_tests_besides_stays_what_it_is(header: str, kind: str) -> None:
    reading = recognise(tuple(header.split(",")))
    assert reading is not None and reading.is_complete
    assert reading.kind.name == kind


@settings(deadline=None, derandomize=True)
@given(st.text(st.sampled_from("Lr 12()[%°_-cmhopgrip left505ßİ²٣\n")))
def test_whatever_stands_in_a_header_it_is_a_test_or_none(header: str) -> None:
    for found in named_tests(header):
        assert found.measure in catalogue().measures and found.side
        assert found.trial is None or 1 <= found.trial <= 99


def test_a_side_alone_is_no_test() -> None:
    reading = recognise(("athlete", "date", "Left", "Right"))
    assert reading is not None and not reading.is_complete
    assert reading.kind.name == "side_tests_wide"


def test_sides_of_the_roster_turn_dominant_and_involved_columns(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,dominant hop,non-dominant hop,grip involved"
    # A1 is left-footed with a known left side; A2 is right-footed and has no known side.
    rows = [f"A1,{DAY},150,151,40", f"A2,{DAY},140,141,"]
    assert one(tmp_path, header, *rows) == [
        ("A1", "grip_strength", "left", 1, 40.0),
        ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "right", 1, 151.0),
        ("A2", "single_hop", "left", 1, 141.0), ("A2", "single_hop", "right", 1, 140.0),
    ]  # fmt: skip


def test_a_unit_that_fits_some_tests_costs_the_others(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,hop L,grip R,unit"
    intake = intake_of(tmp_path, {"t.csv": f"{header}\nA1,{DAY},1.5,,m\nA2,{DAY},,41,m\n"})
    assert values(intake) == [("A1", "single_hop", "left", 1, 150.0)]
    assert [row[:4] for row in refusals(intake)] == [("t.csv", 3, "grip R", "m")]


def test_a_unit_comes_from_the_cell_before_the_header_before_the_column(tmp_path: Path) -> None:
    header = "athlete_id,tested_on,hop L (m),hop R,unit"
    rows = [f"A1,{DAY},1.5,62,in", f"A2,{DAY},1.4,1.45 m,mm"]
    assert one(tmp_path, header, *rows) == [
        ("A1", "single_hop", "left", 1, 150.0), ("A1", "single_hop", "right", 1, 62 * 2.54),
        ("A2", "single_hop", "left", 1, 140.0), ("A2", "single_hop", "right", 1, 145.0),
    ]  # fmt: skip
