"""One test, one trial a side, one day: another test, and what would make it surer."""

import re
from datetime import date

import pytest

from pipeline.catalogue import catalogue
from pipeline.plan.blocks import blocks
from pipeline.plan.due_tests import next_tests
from tests.raw import pages_of, week

DAY = date(2026, 3, 2)
BOOK = catalogue().measures
# Tests that are compared in percent, of which 24 % is more than the line and any usual lead.
LARGE = [
    one.id for one in BOOK.values()
    if one.formula == "pct_of_best" and one.kind == "unilateral" and one.parts is None
    and one.review + max(abs(one.lead.right_dominant), abs(one.lead.left_dominant)) < 24
]  # fmt: skip


@pytest.mark.parametrize("measure", LARGE[::4])
def test_a_large_difference_on_one_day_is_tested_again(measure: str) -> None:
    high = sum(BOOK[measure].warn) / 2
    values = {"left": high * 0.76, "right": high}
    rows = [
        {"measure": measure, "tested_on": DAY, "side": side, "trial": 1, "value": value}
        for side, value in values.items()
    ]
    known = week(DAY, trials=rows)
    block = blocks(known)["A1"]
    assert (block.plan, block.measure) == ("retest", measure)
    day, due = (
        next_tests(known, blocks(known))["Squad"].day,
        next_tests(known, blocks(known))["Squad"].due,
    )
    assert block.retest_on == day > DAY  # the card names the day of the sheet
    if due:  # no test at its most for somebody who is new to it
        assert {one.measure for one in due} == {measure}
    page = pages_of(known)["A1"]
    assert "othing to change" not in page.opening + page.card.why
    assert any("two more trials a side" in line for line in page.next_steps)


@pytest.mark.parametrize("trials", [1, 2, 3, 4, 6])
def test_what_more_trials_would_bring_is_said_where_it_can_be_seen(trials: int) -> None:
    rows = [
        {"tested_on": DAY, "side": side, "trial": trial, "value": value}
        for side, value in (("left", 120.0), ("right", 160.0))
        for trial in range(1, trials + 1)
    ]
    [line] = [
        line for line in pages_of(week(DAY, trials=rows))["A1"].next_steps if "So far" in line
    ]
    assert "a second day tells what stays" in line
    shown = re.findall(r"\d[\d.]*", line)
    assert len(shown) == len({*shown}), line  # never from 3 % to 3 %
    assert bool(shown) or trials > 2


def test_an_even_day_changes_nothing_and_a_second_day_is_asked_for() -> None:
    rows = [
        {"tested_on": DAY, "side": side, "trial": 1, "value": value}
        for side, value in (("left", 150.0), ("right", 152.0))
    ]
    known = week(DAY, trials=rows)
    assert blocks(known)["A1"].plan == "none"
    [due] = next_tests(known, blocks(known))["Squad"].due
    assert (due.measure, due.because) == ("single_hop", "one_day")


def test_a_log_alone_begins_with_what_needs_a_tape_measure() -> None:
    done = [
        {"athlete_id": who, "exercise": "back_squat", "side": "both", "trained_on": DAY}
        for who in ("A1", "B2")
    ]
    known = week(DAY, sets=done)
    due = next_tests(known, blocks(known))["Squad"].due
    assert [(one.measure, one.athlete_id) for one in due] == [
        ("knee_to_wall", "A1"), ("knee_to_wall", "B2"), ("single_hop", "A1"), ("single_hop", "B2"),
    ]  # fmt: skip
    assert {one.first_side for one in due if one.athlete_id == "A1"} == {"left"}
    assert {one.first_side for one in due if one.athlete_id == "B2"} == {"right"}
    assert "first test day" in " ".join(pages_of(known)["A1"].next_steps)
