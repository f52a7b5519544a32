"""A row without a value is no trial, no session and no part; its pain and its note are kept."""

from datetime import date
from typing import Any

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from schemas.contracts.relations import RELATIONS
from tests.raw import warehouse

DAY, LATER = date(2026, 9, 1), date(2026, 9, 15)
NOTHING = {"value": None, "value_given": None}
COUNTED = [
    "stg_part_trials", "stg_derived_trials", "mart_side_values", "mart_day_asymmetry",
    "mart_test_coverage",
]  # fmt: skip


def trials() -> list[dict[str, Any]]:
    """Two athletes with trials of both sides, of parts, and of a test without sides."""
    rows = []
    for who, level in (("A1", 100.0), ("A2", 130.0)):
        for measure, share in (
            ("single_hop", 1.5), ("isok_knee_flexion_60", 1.0), ("isok_knee_extension_60", 1.9),
            ("hip_ir_rom", 0.3), ("hip_er_rom", 0.35), ("cod_505_time", 0.02),
        ):  # fmt: skip
            rows += [
                {"athlete_id": who, "measure": measure, "side": side, "trial": n,
                 "value": level * share + n + (side == "right")}
                for side in ("left", "right")
                for n in (1, 2)
            ]  # fmt: skip
        rows.append(
            {"athlete_id": who, "measure": "sprint_10m_time", "side": "both", "value": level / 60}
        )
    return rows


def hurt() -> list[dict[str, Any]]:
    """What was broken off: beside trials of the day, on a day of its own, and of a derived test."""
    return [
        {"athlete_id": "A1", "measure": "single_hop", "side": "left", "trial": 3, "pain": 7.0,
         "note": "knee gave way", **NOTHING},
        {"athlete_id": "A2", "measure": "single_hop", "side": "both", "trial": 1, "pain": 5.0,
         "tested_on": LATER, **NOTHING},
        {"athlete_id": "A1", "measure": "isok_knee_flexion_60", "side": "right", "trial": 3,
         "pain": 6.0, **NOTHING},
        {"athlete_id": "A2", "measure": "hq_ratio_con_60", "side": "left", "trial": 1,
         "note": "strap slipped", **NOTHING},
        {"athlete_id": "A2", "measure": "sprint_10m_time", "side": "both", "trial": 2,
         "pain": 4.0, **NOTHING},
    ]  # fmt: skip


def test_nothing_that_counts_trials_knows_of_them() -> None:
    without, beside = warehouse(trials=trials()), warehouse(trials=trials() + hurt())
    for name in COUNTED:
        expected = without.fetch(name)
        assert not expected.is_empty(), name
        assert_frame_equal(beside.fetch(name), expected, check_row_order=False)


def test_their_pain_and_note_are_kept_with_their_person() -> None:
    kept = warehouse(trials=trials() + hurt()).fetch("stg_trials")
    kept = kept.filter(pl.col("value").is_null())
    columns = ["athlete_id", "measure", "side", "tested_on", "pain", "note"]
    assert kept.select(columns).sort(columns).rows() == [
        ("A1", "isok_knee_flexion_60", "right", DAY, 6.0, None),
        ("A1", "single_hop", "left", DAY, 7.0, "knee gave way"),
        ("A2", "hq_ratio_con_60", "left", DAY, None, "strap slipped"),
        ("A2", "single_hop", "both", LATER, 5.0, None),
        ("A2", "sprint_10m_time", "both", DAY, 4.0, None),
    ]
    assert kept["score"].is_null().all()


@pytest.mark.parametrize("name", ["stg_trials", *COUNTED])
def test_every_relation_keeps_its_contract(name: str) -> None:
    RELATIONS[name].validate(warehouse(trials=trials() + hurt()).fetch(name), lazy=True)
