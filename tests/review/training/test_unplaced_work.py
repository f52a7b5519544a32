"""Exercises outside the dictionary: counted, named, and compared with themselves alone."""

from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.reference.reference import squad_reference
from pipeline.review.week import Week
from tests.raw import pages_of, trials_of, week

AS_OF = date(2026, 11, 20)


def sets(
    exercise: str, left: tuple[int, float], right: tuple[int, float], who: str = "A1", **more: Any
) -> list[dict[str, Any]]:
    """(sets, load) of each side on four days of the last weeks."""
    return [
        {
            "athlete_id": who, "trained_on": AS_OF - timedelta(days=back), "exercise": exercise,
            "known_exercise": False, "side": side, "set_number": n, "reps": 8.0, "load_kg": load,
            **more,
        }
        for back in (2, 9, 16, 23)
        for side, (count, load) in (("left", left), ("right", right))
        for n in range(1, count + 1)
    ]  # fmt: skip


def listed(known: Week) -> list[tuple[Any, ...]]:
    columns = "flag_id", "part", "lower_side", pl.col("estimate").round(1)
    return known.flags.select(columns).sort("flag_id").rows()


def work_rows(known: Week) -> list[tuple[str, ...]]:
    pack = squad_reference("Squad", blocks(known), known)
    return [row[:5] for row in pack.training.work.rows]


def test_an_unknown_exercise_done_unequally_is_named_and_compared_with_itself() -> None:
    rows = sets("sled_drag", (2, 30.0), (4, 40.0))
    rows += sets("rope_climb", (5, 20.0), (3, 15.0), who="A2")
    known = week(AS_OF, sets=rows)
    assert listed(known) == [
        ("A1.other:sled_drag.training", "other:sled_drag", "left", 100 * (1 - 2 / 4)),
        ("A2.other:rope_climb.training", "other:rope_climb", "right", -100 * (1 - 3 / 5)),
    ]
    pack = squad_reference("Squad", blocks(known), known)
    said = [item.sentence.replace("\xa0", " ") for part in pack.sections for item in part.items]
    assert said == [
        "One-sided work in “Sled drag”: the log of 4 weeks has 50 % fewer repetitions for the "
        "left side than for the right.",
        "One-sided work in “Rope climb”: the log of 4 weeks has 40 % fewer repetitions for the "
        "right side than for the left.",
    ]
    why = {who: page.card.why for who, page in pages_of(known).items()}
    assert "less one-sided work in “Sled drag” for your left side than for your right" in why["A1"]
    assert "less one-sided work in “Rope climb” for your right side than for your left" in why["A2"]


def test_no_page_says_that_nothing_is_to_change_before_it_says_what() -> None:
    """A1 does less with one side in the log, A2 does not; both are even in the test."""
    trials = [
        row
        for n in range(1, 13)
        for back in (40, 20, 3)
        for row in trials_of("single_hop", [AS_OF - timedelta(days=back)], 150 + n, 150 + n,
                             athlete_id=f"A{n}")
    ]  # fmt: skip
    known = week(AS_OF, trials=trials, sets=sets("sled_drag", (2, 30.0), (4, 40.0)))
    said = {who: page.opening for who, page in pages_of(known).items()}
    usual = "Everyone’s sides differ a little. Yours are within what is usual in these tests."
    assert said["A1"] == f"{usual} The plan is on the next page."
    assert said["A2"] == f"{usual} Nothing to change."


def test_two_unknown_exercises_are_never_one_finding() -> None:
    """One even and one heavy on the other side: summed, they would blame or clear a body part."""
    rows = sets("sled_drag", (2, 30.0), (4, 40.0)) + sets("rope_climb", (4, 20.0), (2, 14.0))
    known = week(AS_OF, sets=rows)
    assert [row[:3] for row in listed(known)] == [
        ("A1.other:rope_climb.training", "other:rope_climb", "right"),
        ("A1.other:sled_drag.training", "other:sled_drag", "left"),
    ]
    assert work_rows(known) == [
        ("Ada A.", "Rope climb", "4", "16 / 8", "128 / 64"),
        ("Ada A.", "Sled drag", "4", "8 / 16", "64 / 128"),
    ]
    volume = known.sets.group_by("region", "side").agg(pl.col("reps").sum()).sort("side")
    assert volume.rows() == [("other", "left", 64.0 + 128), ("other", "right", 128.0 + 64)]


def test_an_unknown_exercise_says_nothing_about_a_part_of_the_body() -> None:
    rows = sets("split_squat", (3, 20.0), (3, 24.0), known_exercise=True)
    rows += sets("sled_drag", (1, 30.0), (4, 30.0))
    known = week(AS_OF, sets=rows)
    assert known.work.select("part", "left_sets", "right_sets").rows() == [
        ("lower", 12, 12),
        ("other:sled_drag", 4, 16),
    ]
    assert listed(known) == []  # nothing names a lower side of the one, the other was even
    assert work_rows(known)[-1][1:] == ("Sled drag", "4", "4 / 16", "32 / 128")


@pytest.mark.parametrize("name", ["lower", "lower_body", "trunk", "x" * 80])
def test_a_name_that_sounds_like_a_part_of_the_body_is_none(name: str) -> None:
    rows = sets(name, (2, 30.0), (4, 40.0))
    rows += sets("split_squat", (2, 20.0), (4, 24.0), known_exercise=True)
    known = week(AS_OF, sets=rows)
    assert known.work["part"].sort().to_list() == ["lower", f"other:{name}"]
    ids = [row[0] for row in listed(known) if row[1] is not None]
    assert sorted(ids) == ["A1.lower_body.training", f"A1.other:{name}.training"]
    assert len(pages_of(known)) == 1


@pytest.mark.parametrize(
    ("topic", "part"),
    [
        ("other_body", "other:other"),
        ("lower_body", "lower"),
        ("other:sled_drag", "other:sled_drag"),
    ],
)
def test_what_was_decided_about_work_stays_listed_without_any_log(topic: str, part: str) -> None:
    decisions = [
        {
            "flag_id": f"A1.{topic}.training",
            "decision": "wait",
            "listed_on": AS_OF,
            "athlete_id": "A1",
        }
    ]
    known = week(AS_OF, decisions=decisions)
    assert known.flags.select("part", "subject", "is_raised").rows() == [(part, None, False)]
