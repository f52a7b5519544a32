"""What is not in the files is not known: never "not done", never "fine", never "never"."""

import re
from datetime import date, timedelta
from typing import Any

import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.page_models import AthletePage
from pipeline.report.reference.reference import squad_reference
from pipeline.review.training.dose import dose_response
from pipeline.review.week import Week
from schemas.contracts.training_relations import BlockOutcome
from tests.raw import pages_of, trials_of, week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back) for back in (5, 4, 3, 2, 1, 0)]
DECIDED = AS_OF - timedelta(weeks=6)
REPROACH = re.compile(r"\bnot? done\b|hardly|\bdid nothing\b|\b(0|no sessions?) of\b|0 planned")


def squad() -> list[dict[str, Any]]:
    """Ten even athletes and two with a clear difference, of opposite sides."""
    rows = trials_of("single_hop", DAYS, 120, 160) + trials_of(
        "single_hop", DAYS, 165, 125, athlete_id="A2"
    )
    for n in range(3, 13):
        rows += trials_of("single_hop", DAYS, 150 + n, 150 + n + (-1) ** n, athlete_id=f"A{n}")
    return rows


def log(
    who: str, weeks: list[int], left: int = 2, right: int = 2, exercise: str = "split_squat"
) -> list[dict[str, Any]]:
    """Two sessions in each week, counted back from the as-of date."""
    return [
        {"athlete_id": who, "trained_on": AS_OF - timedelta(days=7 * back + day), "side": side,
         "exercise": exercise, "set_number": n, "reps": 8.0, "load_kg": 20.0}
        for back in weeks
        for day in (4, 1)
        for side, count in (("left", left), ("right", right))
        for n in range(1, count + 1)
    ]  # fmt: skip


def decided(*who: str) -> list[dict[str, Any]]:
    return [
        {"flag_id": f"{one}.single_hop.difference", "decision": "train", "listed_on": DECIDED}
        for one in who
    ]


def texts(page: AthletePage) -> str:
    lines = [page.opening, page.card.why, *page.work, *page.film, *page.next_steps]
    return " ".join(lines).replace("\xa0", " ")


def pages(known: Week) -> dict[str, str]:
    return {who: texts(page) for who, page in pages_of(known).items()}


def extras(known: Week) -> dict[str, str]:
    """The pack's column about what was done, by test and lower side."""
    pack = squad_reference("Squad", blocks(known), known)
    sides = known.outcomes["lower_side"].to_list()
    return dict(zip(sides, (row[3] for row in pack.training.outcomes.rows), strict=True))


@pytest.mark.parametrize("before", [[], [9, 8, 7]])  # weeks with a log before the decision
def test_without_a_log_since_the_decision_nobody_is_told_to_have_done_nothing(
    before: list[int],
) -> None:
    """A1 has no log since; A2 has one, with nothing of the plan in it."""
    sets = log("A1", before) + log("A2", [9, 8, 7, 6])
    sets += log("A2", [*range(6)], exercise="single_arm_dumbbell_row")
    known = week(AS_OF, trials=squad(), sets=sets, decisions=decided("A1", "A2"))
    rows = {row["athlete_id"]: row for row in known.outcomes.iter_rows(named=True)}
    told = "log_state", "done_sessions", "adherence", "logged_weeks", "extra_sets_per_week"
    assert [rows["A1"][name] for name in told] == ["no_log", None, None, None, None]
    assert [rows["A2"][name] for name in told] == ["counted", 0, 0.0, 6.0, 0.0]
    assert rows["A1"]["planned_sessions"] > 0
    BlockOutcome.validate(known.outcomes, lazy=True)
    assert {who: blocks(known)[who].choice.stage for who in ("A1", "A2")} == {
        "A1": "running", "A2": "catch_up",
    }  # fmt: skip
    said = pages(known)
    assert "your log holds nothing since, so how many were done is not known." in said["A1"]
    assert not REPROACH.search(said["A1"])
    assert "Your log has 0 of about 12 sessions of the last plan." in said["A2"]
    assert extras(known) == {"left": "no log since", "right": "0 of 12"}
    assert dose_response(known.outcomes).block_count == 1


def test_only_weeks_with_a_log_are_counted() -> None:
    """A1 logged the first two weeks of six with an extra each time, A2 four of something else."""
    sets = log("A1", [9, 8, 7, 6]) + log("A1", [5, 4], left=3)
    sets += log("A2", [9, 8, 7, 6]) + log("A2", [5, 4, 2, 0], exercise="lat_pulldown")
    known = week(AS_OF, trials=squad(), sets=sets, decisions=decided("A1", "A2"))
    rows = {row["athlete_id"]: row for row in known.outcomes.iter_rows(named=True)}
    assert [row["logged_weeks"] for row in rows.values()] == [2.0, 4.0]
    assert rows["A1"]["planned_sessions"] == pytest.approx(2 * 2.0)
    assert (rows["A1"]["done_sessions"], rows["A1"]["adherence"]) == (4, 1.0)
    assert (rows["A2"]["done_sessions"], rows["A2"]["adherence"]) == (0, 0.0)
    said = pages(known)
    assert "Sessions of the plan, 2 weeks logged: 4 sessions, planned about 4." in said["A1"]
    assert blocks(known)["A1"].choice.stage != "catch_up"
    assert extras(known) == {"left": "4 of 4", "right": "0 of 8"}


def test_two_logged_weeks_without_the_plan_are_too_few_to_say_so() -> None:
    sets = log("A1", [9, 8, 7]) + log("A1", [5, 3], exercise="lat_pulldown")
    known = week(AS_OF, trials=squad(), sets=sets, decisions=decided("A1"))
    assert known.outcomes.select("logged_weeks", "adherence").rows() == [(2.0, 0.0)]
    assert blocks(known)["A1"].choice.stage == "running"


def test_a_block_without_a_later_test_is_too_early_only_at_its_beginning() -> None:
    trials = [row for row in squad() if row["tested_on"] <= DECIDED or "athlete_id" in row]
    known = week(AS_OF, trials=trials, decisions=decided("A1", "A2"))
    assert dict(known.outcomes.select("athlete_id", "verdict").iter_rows())["A1"] == "no test"
    assert "no test yet that could tell what the work does." in pages(known)["A1"]
    soon = week(DECIDED + timedelta(days=6), trials=trials, decisions=decided("A1", "A2"))
    assert set(soon.outcomes["verdict"]) == {"too early"}


def film(*seen: tuple[str, str, str], who: str = "A1") -> list[dict[str, Any]]:
    return [
        {"athlete_id": who, "filmed_on": AS_OF, "side": side, "checkpoint": point,
         "finding": finding}
        for side, point, finding in seen
    ]  # fmt: skip


def test_a_side_that_was_not_filmed_is_not_fine() -> None:
    rows = film(("left", "knee over foot", "ok")) + film(
        ("left", "knee over foot", "ok"), ("right", "knee over foot", "ok"), who="A2"
    )
    said = pages(week(AS_OF, film=rows))
    assert "Filmed 20 Nov, left side only: all checkpoints fine." in said["A1"]
    assert "Filmed 20 Nov: all checkpoints fine on both sides." in said["A2"]


def test_a_checkpoint_seen_on_one_side_is_no_difference() -> None:
    rows = film(
        ("left", "knee over foot", "adjust"),
        ("left", "trunk upright", "adjust"),
        ("right", "trunk upright", "ok"),
    )
    rows += film(("right", "knee over foot", "adjust"), who="A2")
    found = week(AS_OF, film=rows).habits
    assert found.select("filmed_count", "film_difference_count").rows() == [(1, 1), (1, 0)]


def test_a_side_without_a_set_that_day_did_not_do_less() -> None:
    """Only what both sides have in the log is held against one of them."""
    loads = {"left": 18.0, "right": 24.0}
    sets = [
        {"athlete_id": who, "trained_on": AS_OF - timedelta(days=back), "side": side, "reps": 8.0,
         "exercise": exercise, "set_number": n, "load_kg": loads[side]}
        for who, alone in (("A1", "step_up"), ("A2", "split_squat"))
        for back in (3, 10)
        for exercise in ("split_squat", "step_up")
        for side in ("left", "right")
        for n in range(3 if side == "right" and exercise == "split_squat" else 1)
        if not (side == "left" and exercise == alone)
    ]  # fmt: skip
    found = week(AS_OF, sets=sets).habits.group_by("athlete_id", maintain_order=True)
    assert [key[0] for key, _ in found] == ["A1", "A2"]
    assert [part["other_more_count"].sum() for _, part in found] == [2, 0]


def test_less_work_is_told_of_the_log_and_a_missing_test_of_the_files() -> None:
    half = [row for row in trials_of("knee_to_wall", DAYS, 10, 10) if row["side"] == "left"]
    whole = trials_of("knee_to_wall", DAYS, 10, 10, athlete_id="A2")
    sets = log("A1", [*range(4)], left=1, right=2)
    for row in sets:
        row["load_kg"] = 18.0 if row["side"] == "left" else 20.0
    known = week(AS_OF, trials=squad() + half + whole, sets=sets)
    (item,) = known.flags.filter(reason="training").iter_rows(named=True)
    assert item["lower_side"] == "left"
    pack = squad_reference("Squad", blocks(known), known)
    said = [one.sentence.replace("\xa0", " ") for part in pack.sections for one in part.items]
    assert (
        "One-sided lower-body work: the log of 4 weeks has 50 % fewer repetitions for the left "
        "side than for the right." in said
    )
    assert pack.coverage.head[-1] == "Not in these files"
    assert "these files hold your left side only" in pages(known)["A1"]
