"""Whatever a meeting decides about whatever test: every plan and page is made."""

from datetime import date, timedelta
from functools import cache
from typing import Any

import polars as pl
import pytest

from pipeline.catalogue import catalogue
from pipeline.plan.blocks import blocks
from pipeline.plan.rows import plan_rows
from pipeline.report.outputs.tables import flag_table
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.report.reference.reference import squad_reference
from pipeline.review.week import Week
from tests.raw import week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=7 * back) for back in (12, 8, 1)]
DECIDED = AS_OF - timedelta(weeks=5)
DECISIONS = ("train", "retest", "accept", "refer", "wait", "seen", "cleared", "done")
FAMILIES = ("difference", "ratio", "refer", "overdue", "zero", "training")
OF_TRAINING = ("lower_body", "other:sled_drag")
MEASURES = catalogue().measures
# Steps from the usual level, left and right; A4 has not been tested for long.
PEOPLE = {"A1": (-1, 0), "A2": (0, -1), "A3": (0, 0), "A4": (0, 0)}


@cache
def everything_tested() -> list[dict[str, Any]]:
    """Each athlete has done every test of the catalogue; A1 left lower, A2 right, the others even.

    A3 has pain in one of them and comes to nothing on one side of another.
    """
    rows: list[dict[str, Any]] = []
    for measure in MEASURES.values():
        low, high = measure.hard
        level, apart = low + 0.5 * (high - low), max(3 * measure.review, 0.3 * (high - low))
        for who, steps in PEOPLE.items():
            for side, step in zip(("left", "right"), steps, strict=True):
                value = max(low, level + step * min(apart, 0.45 * (high - low)))
                rows += [
                    {"athlete_id": who, "measure": measure.id, "tested_on": day, "side": side,
                     "trial": n, "value": value * (1 + 0.004 * n)}
                    for day in (DAYS if who != "A4" else DAYS[:2])
                    for n in (1, 2)
                ]  # fmt: skip
    for row in rows:
        if row["athlete_id"] == "A3" and row["measure"] == "single_hop":
            row["pain"] = 5.0
        if (row["athlete_id"], row["measure"], row["side"]) == ("A3", "calf_raise_reps", "left"):
            row["value"] = 0.0
    return rows


def logged() -> list[dict[str, Any]]:
    """A1 does less with the left side, in an exercise of the dictionary and in one outside it."""
    return [
        {"trained_on": AS_OF - timedelta(days=back), "exercise": exercise, "side": side,
         "set_number": n, "load_kg": load}
        for back in (2, 9, 16, 23, 30)
        for exercise in ("split_squat", "sled_drag")
        for side, load, count in (("left", 20.0, 1), ("right", 26.0, 3))
        for n in range(count)
    ]  # fmt: skip


@cache
def after(word: str) -> Week:
    """The week in which everything about everybody was decided alike five weeks ago."""
    topics = [*MEASURES, *OF_TRAINING, "moon_jump", "nerve"]
    decisions = [
        {"flag_id": f"{who}.{topic}.{family}", "decision": word, "listed_on": DECIDED}
        for who in PEOPLE
        for topic in topics
        for family in FAMILIES
        if (topic in OF_TRAINING) == (family == "training")
    ]
    return week(AS_OF, trials=everything_tested(), sets=logged(), decisions=decisions)


@pytest.mark.parametrize("word", DECISIONS)
def test_every_decision_about_every_test_gives_plans_and_pages(word: str) -> None:
    known = after(word)
    flagged = {*known.flags["measure"].drop_nulls(), *known.accepted["measure"]}
    tested = set(known.findings["measure"])
    assert {name for name, one in MEASURES.items() if one.kind != "whole_body"} <= tested
    assert len(flagged & tested) > 60
    reasons = {*known.flags["reason"], *known.accepted["reason"]}
    listed = {"refer", "confirmed", "ratio", "training", "retest", "overdue"}
    # What is done leaves the list until a later test; a test that waits has none.
    assert reasons >= (listed if word != "done" else listed - {"overdue"})
    assert "zero" in [*known.flags["kind"], *known.accepted["kind"]]
    plans = blocks(known)
    assert plan_rows(plans, dict.fromkeys(plans, "Squad"))["athlete_id"].n_unique() == len(PEOPLE)
    pages = {who: sheet.make() for who, sheet in athlete_pages(known, plans)}
    pack = squad_reference("Squad", plans, known)
    assert all(page.opening and page.card.why for page in pages.values())
    assert sum(len(section.items) for section in pack.sections) == known.flags.height
    assert flag_table(known, plans)["sentence"].str.len_chars().min() > 5


def test_nothing_that_no_exercise_trains_begins_a_block() -> None:
    known = after("train")
    begun = set(known.outcomes["measure"])
    assert "leg_length" not in begun
    others = {name for name, one in MEASURES.items() if one.group not in ("structure", "parts")}
    assert others <= begun

    # With a flag for medical staff beside it they come first; here nothing else was decided.
    tested = [row for row in everything_tested() if row["measure"] == "leg_length"]
    decisions = [
        {"flag_id": f"{who}.leg_length.difference", "decision": "train", "listed_on": DECIDED}
        for who in PEOPLE
    ]
    known = week(AS_OF, trials=tested, decisions=decisions)
    assert known.outcomes.is_empty()
    table = flag_table(known, blocks(known)).filter(pl.col("is_raised"))
    rows = table.filter(measure="leg_length", decision="train", reason="confirmed")
    assert rows["athlete_id"].sort().to_list() == ["A1", "A2"]
    assert set(rows["suggestion"]) == {"Nothing trains this: note it, compare with own history."}
