"""Every kind of flag from literal rows; each keeps its contract, and no figure stands in SQL."""

import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.catalogue import full_catalogue
from pipeline.review.decisions.cleared_signs import SETTLED, WRITTEN
from pipeline.review.decisions.standing import STANDING
from pipeline.review.flags.agenda import agenda
from pipeline.review.flags.flag_inputs import in_force
from pipeline.review.flags.notes import SIGN
from pipeline.settings import ReviewSettings, Settings
from pipeline.warehouse.database import LISTED, RAISED, ROOMS, reads, sql_files
from schemas.contracts.flag_relations import FLAGS
from tests.raw import warehouse

AS_OF = date(2026, 11, 20)
TEXT, REAL, DAY, WHOLE = pl.String, pl.Float64, pl.Date, pl.Int64
OF_TEST = {"squad": TEXT, "athlete_id": TEXT, "measure": TEXT}
COLUMNS: dict[str, dict[str, Any]] = {
    "mart_findings": {
        **OF_TEST, "region": TEXT, "measure_group": TEXT, "lower_side": TEXT, "estimate": REAL,
        "low90": REAL, "high90": REAL, "unit": TEXT, "chance_over_line": REAL,
        "chance_closing": REAL, "session_count": WHOLE, "verdict": TEXT, "last_tested_on": DAY,
        "estimate_d": REAL, "lead_d": REAL, "sd_d": REAL,
    },
    "mart_known_then": {**OF_TEST, "tested_on": DAY, "own_on": DAY, "chance_over_line": REAL},
    "mart_side_levels": {
        "athlete_id": TEXT, "measure": TEXT, "side": TEXT, "last_tested_on": DAY, "level": REAL,
        "level_se": REAL, "below_line_chance": REAL, "recent_level": REAL, "change_recent": REAL,
        "change_recent_se": REAL,
    },
    "mart_falls": {
        **OF_TEST, "side": TEXT, "fall": TEXT, "fall_share": REAL, "last_tested_on": DAY,
    },
    "mart_falls_then": {"athlete_id": TEXT, "measure": TEXT, "tested_on": DAY},
    "mart_session_estimates": {
        "athlete_id": TEXT, "measure": TEXT, "tested_on": DAY, "estimate": REAL, "low": REAL,
        "high": REAL,
    },
    "mart_work_by_side": {
        "squad": TEXT, "athlete_id": TEXT, "part": TEXT, "session_count": WHOLE, "left_reps": REAL,
        "right_reps": REAL,
    },
    "mart_lower_sides": {"athlete_id": TEXT, "part": TEXT, "measure": TEXT, "lower_side": TEXT},
    "mart_noted_signs": SIGN,
    "mart_written_signs": WRITTEN,
    "mart_settled_signs": SETTLED,
    "mart_standing": STANDING,
}  # fmt: skip
Known = Mapping[str, Sequence[Mapping[str, Any]]]  # rows by table, as far as they differ from HOP
HOP: dict[str, Any] = {
    "squad": "Squad", "athlete_id": "A1", "measure": "single_hop", "region": "lower",
    "measure_group": "hop", "lower_side": "left", "estimate": 20.0, "low90": 12.0, "high90": 28.0,
    "unit": "%", "chance_over_line": 0.9, "session_count": 4, "verdict": "confirmed",
    "last_tested_on": AS_OF, "own_on": AS_OF, "side": "left", "tested_on": AS_OF,
}  # fmt: skip


def raised(
    name: str, known: Known, review: ReviewSettings | None = None,
    **rows: list[dict[str, Any]],
) -> pl.DataFrame:  # fmt: skip
    """A relation of flags from literal rows: of the exports, and of what is known besides."""
    house = warehouse(roster=[{"athlete_id": f"A{n}"} for n in range(1, 7)], **rows)
    settings = Settings(review=review or ReviewSettings())
    for table, frame in in_force(["Squad"], full_catalogue(), AS_OF, settings).items():
        house.load(table, frame)
    for table, columns in COLUMNS.items():
        plain = {column: HOP.get(column) for column in columns}
        filled = [{**plain, **row} for row in known.get(table, [])]
        house.load(table, pl.DataFrame(filled, schema=columns))
    agenda(house, {}, full_catalogue(), AS_OF, settings)
    for table, contract in FLAGS.items():
        contract.validate(house.fetch(table), lazy=True)
    return house.fetch(name)


def test_every_relation_of_flags_has_a_contract_with_its_name() -> None:
    assert FLAGS.keys() == sql_files(*RAISED, *LISTED).keys()


def test_a_kind_of_flag_reads_what_the_warehouse_and_the_review_hold() -> None:
    """So a table that nobody fills is noticed, and a flag reads no raw row."""
    given = {*sql_files(*ROOMS, *RAISED), *COLUMNS, "mart_flag_states"}
    for name, text in sql_files(*RAISED, *LISTED).items():
        tables = {one for one in reads(text) if one.split("_")[0] in {"raw", "stg", "mart"}}
        assert tables <= given and not any(one.startswith("raw_") for one in tables), name


# A share of one, percent, the days of a week, and the two ends of an interval.
PLAIN = {"0", "1", "100", "7", "2"}


def figures(statement: str) -> set[str]:
    """The numbers of a statement, without its comments and texts."""
    plain = re.sub(r"--.*|'[^']*'", "", statement)
    return set(re.findall(r"(?<![\w.])\d+(?:\.\d+)?", plain))


def test_no_figure_that_a_flag_is_held_against_stands_in_sql() -> None:
    found = {name: figures(text) - PLAIN for name, text in sql_files(*RAISED, *LISTED).items()}
    assert {name: numbers for name, numbers in found.items() if numbers} == {}
    assert figures("where chance >= 0.4 and low90 > 12 -- of 95\n and x = '3'") == {"0.4", "12"}


def test_a_difference_began_on_the_first_of_the_unbroken_days() -> None:
    days = [AS_OF - timedelta(days=7 * back) for back in (4, 3, 2, 1, 0)]
    known: Known = {
        "mart_findings": [{}],
        "mart_known_then": [
            {"tested_on": day, "chance_over_line": chance}
            for day, chance in zip(days, (0.9, 0.39, 0.4, 0.8, 0.9), strict=True)
        ],
    }
    (row,) = raised("flag_difference", known).iter_rows(named=True)
    assert (row["reason"], row["first_flagged_on"]) == ("confirmed", days[2])
    assert raised("flags_raised", known)["flag_id"].to_list() == ["A1.single_hop.difference"]


def test_the_figures_of_the_settings_are_in_force() -> None:
    known: Known = {"mart_findings": [{"chance_over_line": 0.5}]}
    assert raised("flag_difference", known).height == 1
    stricter = ReviewSettings(retest_chance=0.6)
    assert raised("flag_difference", known, stricter).is_empty()


def test_of_exercises_of_one_region_the_surest_stands_and_none_beside_a_test() -> None:
    record = {"measure_group": "training_record"}
    exercises = [
        {"measure": f"est_1rm:{name}", "chance_over_line": chance, "region": region, **record}
        for name, chance, region in (
            ("split_squat", 0.7, "lower"), ("step_up", 0.8, "lower"),
            ("pistol_squat", 0.8, "lower"), ("single_arm_dumbbell_row", 0.6, "upper"),
        )
    ]  # fmt: skip
    girth = {"measure": "upper_arm_girth", "measure_group": "size", "region": "upper"}
    found = raised("flag_difference", {"mart_findings": [*exercises, girth]})
    assert sorted(found["measure"]) == [
        "est_1rm:pistol_squat", "est_1rm:single_arm_dumbbell_row", "upper_arm_girth",
    ]  # fmt: skip
    found = raised("flag_difference", {"mart_findings": [*exercises, {}]})
    assert sorted(found["measure"]) == ["est_1rm:single_arm_dumbbell_row", "single_hop"]


def test_a_ratio_takes_the_place_of_its_difference_by_its_lower_side() -> None:
    ratio = {"measure": "hq_ratio_con_60", "level_se": 0.02}
    known: Known = {
        "mart_findings": [ratio],
        "mart_side_levels": [
            {**ratio, "side": "left", "level": 0.45, "below_line_chance": 0.99},
            {**ratio, "side": "right", "level": 0.40, "below_line_chance": 1.0},
        ],
    }
    (row,) = raised("flag_ratio", known).iter_rows(named=True)
    assert (row["lower_side"], row["level"]) == ("right", 0.40)
    assert (row["low90"], row["high90"]) == pytest.approx((0.40 - 0.032897, 0.40 + 0.032897))
    assert raised("flags_raised", known)["family"].to_list() == ["ratio"]


@pytest.mark.parametrize(("fell", "expected"), [(2, []), (1, ["A1"])])
def test_where_most_of_a_squad_fall_on_both_sides_the_test_has_changed(
    fell: int, expected: list[str]
) -> None:
    """Half of four athletes are most of them; of fewer than four each is told."""
    fallen = [
        {"athlete_id": f"A{n}", "fall": "both_loss", "fall_share": 0.3} for n in range(1, fell + 1)
    ]
    known: Known = {
        "mart_findings": [{"athlete_id": f"A{n}"} for n in range(1, 5)],
        "mart_falls": fallen,
    }
    assert raised("flag_fall", known)["athlete_id"].to_list() == expected
    fewer = {**known, "mart_findings": known["mart_findings"][:3]}
    assert raised("flag_fall", fewer).height == fell


@pytest.mark.parametrize(("settled", "is_raised"), [(AS_OF, False), (None, True)])
def test_pain_beside_a_fall_is_one_flag_as_urgent_as_the_more_urgent(
    settled: date | None, is_raised: bool
) -> None:
    known: Known = {
        "mart_findings": [{}],
        "mart_falls": [{"fall": "slow_loss", "fall_share": 0.3}],
        "mart_settled_signs": [{"topic": "single_hop", "settled_on": settled}] if settled else [],
    }
    trials = [{"tested_on": AS_OF, "pain": 6.0, "note": "sore"}]
    found = raised("flags_raised", known, trials=trials).filter(family="refer")
    said = [("fall", "two days", "sore")] if is_raised else []
    assert found.select("kind", "urgency", "note").rows() == said


def test_a_test_about_which_a_decision_stands_is_not_chased_by_routine() -> None:
    days = [AS_OF - timedelta(days=back) for back in (70, 63, 3)]
    trials = [
        {"athlete_id": who, "measure": measure, "side": side, "tested_on": day}
        for measure, back in (("single_hop", days[0]), ("triple_hop", days[1]))
        for who, on in (("A1", [back]), *((f"A{n}", [back, days[2]]) for n in range(2, 5)))
        for day in on
        for side in ("left", "right")
    ]
    (row,) = raised("flag_overdue", {}, trials=trials).iter_rows(named=True)
    told = row["athlete_id"], row["measure"], row["waiting_days"], row["other_measures"]
    assert told == ("A1", "single_hop", 70, ["triple_hop"])
    stands = {"topic": "single_hop", "family": "difference", "decision": "wait"}
    decided = raised("flag_overdue", {"mart_standing": [stands]}, trials=trials)
    assert decided.select("measure", "other_measures").rows() == [("triple_hop", [])]


def test_what_is_done_is_raised_by_a_later_test_alone() -> None:
    done = {
        "flag_id": "A1.single_hop.difference", "topic": "single_hop", "family": "difference",
        "decision": "done", "decided_on": AS_OF - timedelta(days=7),
    }  # fmt: skip
    known: Known = {"mart_findings": [{}], "mart_standing": [done]}
    assert raised("flags_raised", known).is_empty()
    later = [{"tested_on": AS_OF, "side": side} for side in ("left", "right")]
    again = raised("flags_raised", known, trials=later)
    assert again.select("flag_id", "first_flagged_on").rows() == [(done["flag_id"], AS_OF)]


def test_a_sign_written_beside_a_decision_speaks_where_no_other_does() -> None:
    written = {"topic": "single_hop", "pain_level": 6.0, "noted_on": AS_OF, "note": "pain 6",
               "urgency": "two days", "place": 0}  # fmt: skip
    known: Known = {"mart_written_signs": [written]}
    assert raised("flags_raised", known)["kind"].to_list() == ["written"]
    trials = [{"tested_on": AS_OF, "pain": 5.0}]
    assert raised("flags_raised", known, trials=trials)["kind"].to_list() == ["pain"]
