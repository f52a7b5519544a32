"""Every sentence about a movement speaks of one day and names it; no page contradicts itself."""

import re
from datetime import date, timedelta
from itertools import product
from typing import Any

import polars as pl
import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.reference.reference import squad_reference
from pipeline.review.week import Week
from tests.raw import pages_of, trials_of, week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back + 1) for back in range(9, -1, -1)]
# Percent by which the lower side is lower, test day by test day.
HISTORIES = {
    "grows": [16, 16, 16, 16, 16, 18, 23, 28, 32, 32],
    "shrinks": [32, 32, 32, 32, 32, 29, 25, 20, 16, 16],
    "flat": [24, 24, 25, 24, 25, 24, 24, 25, 24, 24],
    "back again": [32, 32, 28, 20, 16, 16, 20, 28, 32, 32],
    "there and back": [16, 16, 22, 30, 32, 32, 28, 22, 16, 16],
}
DECIDED = {"never": None, "between two tests": 36, "long ago": 85, "yesterday": 1}  # days ago
LIKE = {
    "smaller": [
        r"become smaller since ([\w ]+?)[,.]",
        r"since ([\w ]+?): closing",
        r"Since ([\w ]+?), “[^”]*”: [^.]*truly became smaller",
        r"on ([\w ]+?), closing",
    ],
    "larger": [
        r"become larger since ([\w ]+?)[,.]",
        r"since ([\w ]+?): widening",
        r"Since ([\w ]+?), “[^”]*”: [^.]*became larger",
        r"on ([\w ]+?), widening",
    ],
    "unchanged": [
        r"not clearly changed since ([\w ]+?)\.",
        r"No clear change: Single hop since ([\w ]+?)\.",
        r"Since ([\w ]+?), “[^”]*”: [^.]*no change shown",
        r"on ([\w ]+?), no change shown",
    ],
}


def claims(text: str) -> list[tuple[str, str]]:
    """What a page says about how the hop has moved: since which day, and how."""
    plain = text.replace("\xa0", " ")
    return [
        (re.sub(r"(\d+ \w{3})\w*( \d{4})?", r"\1", found[1]), movement)
        for movement, patterns in LIKE.items()
        for pattern in patterns
        for found in re.finditer(pattern, plain)
    ]


def told(of: dict[str, str], decided: dict[str, int | None]) -> Week:
    """A squad in which each of two athletes has a history, and a block from so many days ago."""
    trials = []
    for who, name in of.items():
        for day, percent in zip(DAYS, HISTORIES[name], strict=True):
            # Both sides move a little: one alone that falls so far is for medical staff to look at.
            half = (1 - percent / 100) ** 0.5
            sides = [145 * half, 145 / half]
            left, right = sides if who == "A1" else sides[::-1]
            trials += trials_of("single_hop", [day], left, right, athlete_id=who)
    for n in range(3, 14):
        level = 150 + n
        trials += trials_of("single_hop", DAYS, level, level + (-1) ** n, athlete_id=f"A{n}")
    decisions = [
        {"flag_id": f"{who}.single_hop.difference", "decision": "train",
         "listed_on": AS_OF - timedelta(days=ago)}
        for who, ago in decided.items()
        if ago is not None
    ]  # fmt: skip
    return week(AS_OF, trials=trials, decisions=decisions)


def pages(known: Week) -> dict[str, str]:
    return {
        who: " ".join([page.opening, *page.trend_notes, page.card.why, *page.work])
        for who, page in pages_of(known).items()
        if who in ("A1", "A2")
    }


def agenda(known: Week) -> dict[str, Any]:
    pack = squad_reference("Squad", blocks(known), known)
    items = [item for section in pack.sections for item in section.items]
    return {item.flag_id: item for item in items}


PAIRS = [("grows", "shrinks"), ("flat", "grows"), ("back again", "there and back")]


@pytest.mark.parametrize(("pair", "when"), list(product(PAIRS, DECIDED)))
def test_no_page_says_two_things_about_one_difference(pair: tuple[str, str], when: str) -> None:
    of = dict(zip(("A1", "A2"), pair, strict=True))
    known = told(of, {"A1": DECIDED[when], "A2": DECIDED[when]})
    said, listed = pages(known), agenda(known)
    for who, page in said.items():
        found = claims(page)
        by_day: dict[str, set[str]] = {}
        for day, movement in found:
            by_day.setdefault(day, set()).add(movement)
        assert all(len(movements) == 1 for movements in by_day.values()), (who, page)
        if when != "long ago":  # a block that is over is compared with its own beginning, by name
            assert len(by_day) <= 1, (who, page)
        if "clearly become smaller" in page:
            assert "smaller" not in {movement for _, movement in found}, page
        item = listed.get(f"{who}.single_hop.difference")
        if item is not None:
            on_pack = set(claims(item.detail))
            assert on_pack <= set(found), (on_pack, found)


def moved(known: Week) -> dict[str, tuple[str, date]]:
    rows = known.findings.filter(pl.col("athlete_id").is_in(["A1", "A2"]))
    return {
        who: (how, on)
        for who, how, on in rows.select("athlete_id", "moved", "reference_on").iter_rows()
    }


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        ("grows", "larger"), ("shrinks", "smaller"), ("flat", "unchanged"),
        ("back again", "larger"), ("there and back", "smaller"),
    ],
)  # fmt: skip
def test_a_movement_is_that_of_the_last_six_weeks(history: str, expected: str) -> None:
    """Not that since the first test, from which 32 to 16 to 32 has not changed at all."""
    known = told({"A1": history, "A2": "flat"}, {})
    six_weeks = max(day for day in DAYS if day <= DAYS[-1] - timedelta(weeks=6))
    assert moved(known) == {"A1": (expected, six_weeks), "A2": ("unchanged", six_weeks)}
    reason = known.flags.filter(athlete_id="A1")["reason"].to_list()
    assert ("widening" in reason) == (expected == "larger")


def test_a_running_block_is_compared_with_the_day_it_began() -> None:
    known = told({"A1": "back again", "A2": "back again"}, {"A1": 71, "A2": 36})
    began = {who: AS_OF - timedelta(days=ago) for who, ago in (("A1", 71), ("A2", 36))}
    six_weeks = max(day for day in DAYS if day <= DAYS[-1] - timedelta(weeks=6))
    # The block of A1 was over after six weeks, that of A2 runs.
    assert moved(known) == {"A1": ("larger", six_weeks), "A2": ("larger", began["A2"])}
    said = pages(known)
    assert ("15 Oct", "larger") in claims(said["A2"])
    detail = agenda(known)["A2.single_hop.difference"].detail.replace("\xa0", " ")
    assert re.search(r"was (19|2\d) % on 15 Oct, widening", detail)


def test_a_block_that_began_after_the_last_test_says_so() -> None:
    known = told({"A1": "grows", "A2": "shrinks"}, {"A1": 1, "A2": None})
    started = AS_OF - timedelta(days=1)
    assert moved(known)["A1"] == ("untested", started)
    assert moved(known)["A2"][0] == "smaller"
    said = pages(known)
    assert "There is no test of it in these files since 19\xa0Nov." in said["A1"]
    assert "19\xa0Nov" not in said["A2"]


def test_an_extra_that_ends_while_the_difference_grew_is_not_called_unchanged() -> None:
    known = told({"A1": "grows", "A2": "flat"}, {"A1": 63, "A2": 63})
    plans, said = blocks(known), pages(known)
    assert {who: plans[who].plan for who in ("A1", "A2")} == {"A1": "stop", "A2": "stop"}
    assert ("18 Sep", "larger") in claims(said["A1"])
    assert ("18 Sep", "unchanged") in claims(said["A2"])
    for page in said.values():
        assert "In 9 weeks the difference in “Single hop” has not clearly become smaller." in page


def test_what_is_within_usual_is_not_called_unchanged_where_it_moved() -> None:
    """Nor widening: nothing is said of it."""
    trials = []
    for who, steps in (("A1", (0, 1, 6)), ("A2", (0, 0, 0))):
        for day, step in zip((DAYS[0], DAYS[5], DAYS[-1]), steps, strict=True):
            trials += trials_of("knee_to_wall", [day], 12 - step / 5, 12, athlete_id=who)
    for n in range(3, 14):
        trials += trials_of("knee_to_wall", DAYS, 12, 12 + 0.1 * (-1) ** n, athlete_id=f"A{n}")
    known = week(AS_OF, trials=trials)
    assert {who: how for who, (how, _) in moved(known).items()} == {
        "A1": "larger", "A2": "unchanged",
    }  # fmt: skip
    assert known.findings.filter(athlete_id="A1")["chance_over_line"].item() < 0.4
    notes = {who: page.trend_notes for who, page in pages_of(known).items()}
    assert notes["A1"] == ()
    assert notes["A2"] == ("No clear change: Knee to wall since 24\xa0Sep.",)
