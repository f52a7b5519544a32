"""A side, or both, far below their own weeks before: medical staff are asked, calmly."""

from datetime import timedelta
from typing import Any

import pytest

from tests.raw import of_kind, trials_of, week
from tests.review.flags.test_flags import AS_OF, items, squad
from tests.review.situations import FRIGHTENING

WEEKS = [AS_OF - timedelta(weeks=back) for back in range(11, -1, -1)]


def falling(who: str, left: float, right: float, measure: str = "single_hop") -> list[Any]:
    """Both sides from 150 by so much of it each week."""
    return [
        row
        for n, day in enumerate(WEEKS)
        for row in trials_of(measure, [day], 150 * (1 + left * n), 150 * (1 + right * n),
                             athlete_id=who)
    ]  # fmt: skip


def dropping(who: str, left: float, right: float) -> list[Any]:
    """Both sides steady at 150 until the last test."""
    rows: list[Any] = trials_of("single_hop", WEEKS[:-1], 150, 150, athlete_id=who)
    return rows + trials_of("single_hop", WEEKS[-1:], left, right, athlete_id=who)


@pytest.fixture(scope="module")
def known() -> Any:
    rows = squad(days=WEEKS) + falling("B1", -0.02, 0.0) + falling("B2", 0.0, -0.002)
    return week(AS_OF, trials=rows + dropping("B3", 118, 104) + dropping("B4", 150, 104))


def test_each_kind_of_fall_asks_for_medical_staff(known: Any) -> None:
    flags = known.flags.filter(reason="refer").sort("athlete_id")
    falls = of_kind(known, "fall").sort("athlete_id")
    assert falls.select("athlete_id", "fall", "lower_side", "urgency").rows() == [
        ("B1", "slow_loss", "left", "this week"),
        ("B3", "both_loss", "right", "two days"),
        ("B4", "loss", "right", "two days"),
    ]
    days = dict(flags.select("athlete_id", "first_flagged_on").iter_rows())
    assert days["B3"] == days["B4"] == AS_OF
    assert WEEKS[6] < days["B1"] < AS_OF


def test_what_is_said_of_them_names_side_and_size_and_frightens_nobody(known: Any) -> None:
    said = {item.flag_id: item.sentence for item in items(known)}
    assert said["B3.single_hop.refer"].startswith("Single hop: both sides below their own weeks")
    assert "the right side by 31\N{NBSP}%" in said["B3.single_hop.refer"]
    # Newest three tests, 20 % lower in the middle, against those of six weeks before and more, 4 %.
    assert f"left side {100 * (1 - 0.80 / 0.95):.0f}\N{NBSP}%" in said["B1.single_hop.refer"]
    assert not [text for text in said.values() if FRIGHTENING.search(text)]


def test_a_squad_whose_sides_all_fall_together_was_tested_differently() -> None:
    rows = [row for n in range(1, 7) for row in dropping(f"C{n}", 112 + n, 104 + n)]
    flags = week(AS_OF, trials=rows).flags
    assert flags.filter(reason="refer").is_empty()
    few = [row for n in range(1, 3) for row in dropping(f"C{n}", 112 + n, 104 + n)]
    falls = of_kind(week(AS_OF, trials=few + squad(days=WEEKS)), "fall")["fall"]
    assert falls.to_list().count("both_loss") == 2


def test_a_slow_fall_that_was_cleared_is_not_asked_about_again_by_the_next_test() -> None:
    rows = squad(days=WEEKS) + falling("B1", -0.02, 0.0)
    cleared = {
        "flag_id": "B1.single_hop.refer", "decision": "cleared", "owner": "Dr Hahn",
        "listed_on": WEEKS[-2], "athlete_id": "B1",
    }  # fmt: skip
    before = of_kind(week(AS_OF, trials=rows), "fall").filter(fall="slow_loss")
    assert before["first_flagged_on"][0] < WEEKS[-2]
    after = week(AS_OF, trials=rows, decisions=[cleared])
    assert after.flags.filter(kind="fall").is_empty()
