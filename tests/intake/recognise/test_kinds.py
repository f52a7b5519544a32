"""Header rows and what they announce."""

import pytest

from pipeline.intake.recognise.kinds import explain, recognise

HEADERS = {
    "athlete_id,tested_on,test,side,value,trial,unit,pain,note": "side_tests_long",
    "Player ID;Date;Metric;Limb;Result;Attempt": "side_tests_long",
    "ATHLETE_ID;Tested On;TEST;Left;Right": "side_tests_wide",
    "athlete;date;measure;L1;L2;R1;R2": "side_tests_wide",
    "athlete;date;test;Trial 1 Left;Trial 1 Right": "side_tests_wide",
    "athlete;date;test;involved;uninvolved": "side_tests_wide",
    "id;name;team;DOB;Height (m);Handedness": "roster",
    "athlete,date,exercise,set,side,reps,load (lb),RPE": "training_log",
    "athlete,date,exercise,side,checkpoint,finding": "film_review",
    "flag_id,squad,athlete_id,name,measure,decision,owner,review_on,note": "decisions",
}


def cells(header: str) -> tuple[str, ...]:
    return tuple(header.replace(",", ";").split(";"))


@pytest.mark.parametrize("header", HEADERS)
def test_every_kind_is_known_by_its_header(header: str) -> None:
    reading = recognise(cells(header))
    assert reading is not None and reading.is_complete
    assert reading.kind.name == HEADERS[header]


def test_numbered_headers_name_side_and_trial() -> None:
    reading = recognise(cells("athlete;date;test;left_1;R2;left trial 3;Trial 2 Left"))
    assert reading is not None
    assert [(c.name, c.trial) for c in reading.columns[3:]] == [
        ("left", 1), ("right", 2), ("left", 3), ("left", 2),
    ]  # fmt: skip


def test_units_in_headers_are_kept_beside_the_name() -> None:
    reading = recognise(cells("athlete;date;test;Left (kg);Right [kg];Pain (0-10)"))
    assert reading is not None
    assert [(c.name, c.unit) for c in reading.columns[3:]] == [
        ("left", "kg"), ("right", "kg"), ("pain", None),
    ]  # fmt: skip


def test_of_two_columns_of_one_meaning_the_exact_name_wins() -> None:
    reading = recognise(cells("athlete;date;test;side;score;value"))
    assert reading is not None
    assert reading.column("value").header == "value"  # type: ignore[union-attr]
    assert reading.spare == ("score",)


def test_a_missing_column_is_explained_with_what_was_found() -> None:
    reading = recognise(cells("Athlete;Date;Test;Result;Operator"))
    assert reading is not None
    assert explain(reading) == (
        "looks like side tests, but no column for the side; "
        "found: Athlete, Date, Test, Result; not known: Operator"
    )


def test_a_row_of_values_is_no_header() -> None:
    assert recognise(("A1", "2024-03-05", "single_hop", "left", "145")) is None
