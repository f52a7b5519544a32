"""Each setting, changed by itself to a value that must matter, changes what a build shows.

Those of the estimate are changed in `test_settings.py`, where they go to both their bounds.
"""

from datetime import date, timedelta
from functools import cache
from typing import Any

import polars as pl
import pytest

from pipeline.intake.doubts.held_files import Doubt, find_doubts
from pipeline.plan.blocks import blocks
from pipeline.report.outputs.tables import flag_table
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.report.pack.pack import squad_pack
from pipeline.settings import IntakeSettings, ReportSettings, ReviewSettings, Settings
from pipeline.team_tables import entries
from pipeline.unmade import Unmade
from tests.intake.squads import Squad, squad
from tests.raw import trials_of, week

INTAKE: dict[str, Any] = {
    "least_athletes": 1000, "swap_evidence": 1000.0, "swap_share": 1.0, "copy_evidence": 1000.0,
    "copy_share": 1.0, "stranger_tests": 100, "most_doubts": 1,
}  # fmt: skip
REVIEW: dict[str, Any] = {
    "confirmed_chance": 1.0, "retest_chance": 0.01, "confirmed_days": 20, "widening_chance": 0.5,
    "side_chance": 0.99, "moved_chance": 0.5, "refer_days": 366, "meeting_days": 30,
    "training_share": 0.05, "training_weeks": 1, "training_sessions": 100, "overdue_days": 10,
    "overdue_squad_share": 1.0, "retest_weeks": 9,
}  # fmt: skip
REPORT: dict[str, Any] = {
    "header": "Harbour Club", "measures": ("knee_to_wall",), "medical_contact": "Dr Example",
}  # fmt: skip


def test_every_setting_is_changed_somewhere() -> None:
    here = {"intake": INTAKE, "review": REVIEW, "report": REPORT}
    elsewhere = {
        ("report", "language"),  # tests/report/text/test_language.py
        ("report", "page_size"),  # tests/report/pack/test_pack_pages.py
    }
    changed = {(section, name) for section, table in here.items() for name in table} | elsewhere
    asked = {(section, name) for section, name, _ in entries(Settings) if section != "estimate"}
    assert changed == asked


# Files in doubt: sides swapped and sessions dropped again for most athletes and not for all, rows
# under the ids of others, and two files in another unit.


def last_day(one: Squad) -> pl.Expr:
    return pl.col("entry") == one.rows["entry"].max()


def planted() -> list[Squad]:
    tests = ["single_hop", "grip_strength", "isok_knee_extension_60"]
    turned = squad(3, sessions=5, tests=tests)
    is_turned = last_day(turned) & (pl.col("athlete") % 9 != 0)
    side = pl.when(is_turned).then(1 - pl.col("side").cast(pl.Int8)).otherwise("side")
    copied = squad(17, sessions=3, tests=tests[:1])
    again = copied.rows.filter(entry=1).with_columns(
        entry=pl.lit(3, pl.UInt32), day=pl.date(2024, 2, 12),
        value=pl.col("value") + (pl.col("athlete") == 0).cast(pl.Float64),
    )  # fmt: skip
    strange = squad(21, sessions=4, tests=[*tests, "thigh_girth", "sl_cmj_height"])
    level = strange.rows.group_by("athlete").agg(pl.col("value").log().mean()).sort("value")
    low, high = level["athlete"][0], level["athlete"][-1]
    mixed = pl.when(last_day(strange)).then(pl.col("athlete").replace({low: high, high: low}))
    pounds = squad(7, sessions=2, tests=["grip_strength"])
    return [
        Squad(turned.rows.with_columns(side=side.cast(pl.UInt8)), turned.people),
        Squad(pl.concat([copied.rows, again]), copied.people),
        Squad(strange.rows.with_columns(athlete=mixed.otherwise("athlete")), strange.people),
        Squad(pounds.rows.with_columns(value=pl.col("value") / 0.45359237), pounds.people),
    ]


@cache
def doubts(**changed: Any) -> list[Doubt]:
    settings = Settings(intake=IntakeSettings(**changed))
    return [
        doubt
        for one in planted()
        for doubt in find_doubts(one.rows, one.rows.clear(), one.people, settings)
    ]


@pytest.mark.parametrize("name", INTAKE)
def test_a_setting_of_the_intake_changes_which_files_are_in_doubt(name: str) -> None:
    assert {doubt.kind for doubt in doubts()} == {
        "swapped",
        "same_session",
        "other_athlete",
        "unit",
    }
    assert doubts(**{name: INTAKE[name]}) != doubts()


# A squad in which something stands at each bar of the review.

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back) for back in (8, 7, 4, 3, 2, 0)]


# How far the left side is behind in the single hop on each of the days, by athlete.
BEHIND = {
    "A0": (0.25,) * 6,  # confirmed, and the lower side does less in the log
    "A1": (0.02, 0.03, 0.06, 0.09, 0.11, 0.13),  # widens
    "A2": (0.06,) * 6,  # a side that is nearly sure
    "A3": (0.0,) * 5 + (0.2,),  # once
    "A4": (0.2,) * 4,  # not tested since, and a retest that is late
    "A5": (0.0,) * 6,  # overdue in another test
}


@cache
def shown(**changed: Any) -> str:
    """Page models and tables of the small squad, with these settings changed."""
    report = {name: value for name, value in changed.items() if name in REPORT}
    review = {name: value for name, value in changed.items() if name in REVIEW}
    settings = Settings(report=ReportSettings(**report), review=ReviewSettings(**review))
    trials = [
        row
        for who, shares in BEHIND.items()
        for day, share in zip(DAYS, shares, strict=False)
        for row in trials_of("single_hop", [day], 150 * (1 - share), 150, athlete_id=who)
    ]
    trials += trials_of("knee_to_wall", DAYS[:2], 11, 11, athlete_id="A0")  # half of the squad does
    trials += trials_of("knee_to_wall", DAYS[-1:], 11, 11, athlete_id="A1")
    trials += trials_of("knee_to_wall", DAYS[:1], 11, 11, athlete_id="A5", pain=6)
    sets = [
        {"athlete_id": "A0", "trained_on": AS_OF - timedelta(days=back), "exercise": "split_squat",
         "side": side, "set_number": number, "reps": 8.0, "load_kg": 20.0}
        for back in (3, 6, 10, 13, 17, 20)
        for side, count in (("left", 2), ("right", 3 + back // 10))
        for number in range(1, count + 1)
    ]  # fmt: skip
    decisions = [
        {"flag_id": "A4.single_hop.difference", "decision": "retest", "listed_on": DAYS[3],
         "review_on": AS_OF - timedelta(days=10)}
    ]  # fmt: skip
    known = week(AS_OF, settings, trials=trials, sets=sets, decisions=decisions)
    plans = blocks(known)
    pack, _ = squad_pack("Squad", plans, known, known.flags)
    reports = dict(athlete_pages(known, plans))
    pages = [
        {**vars(one), "language": ""}
        for one in (pack, *(reports[who].make() for who in ("A0", "A5")))
    ]
    tables = flag_table(known, plans, Unmade({})), known.findings, known.work
    return repr((pages, [table.to_dicts() for table in tables]))


@pytest.mark.parametrize("name", [*REVIEW, *REPORT])
def test_a_setting_of_review_or_report_changes_what_is_shown(name: str) -> None:
    assert shown(**{name: {**REVIEW, **REPORT}[name]}) != shown()


def test_what_is_tested_again_is_never_called_not_shown() -> None:
    """The words for how sure a difference is begin where the settings of a team have them begin."""
    low = shown(retest_chance=0.01)
    assert "Not settled, about" in low
    assert "Not shown" not in low
    assert "Not settled: 1 or more." in low
