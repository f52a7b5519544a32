"""What a change is told since, on the command line: a running block, six weeks, or the first test.

`asymmetries.csv` and `flags.csv` are read as anybody would read them.
"""

import csv
import random
import subprocess
import sys
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

LAST = date(2026, 10, 30)
WEEKS = 16
DAYS = [LAST - timedelta(weeks=back) for back in range(WEEKS - 1, -1, -1)]
BLOCK_BEGAN = LAST - timedelta(weeks=3)
# Percent by which the left side is lower, by the number of the week.
COURSES: dict[str, Callable[[int], float]] = {
    "RE-1": lambda n: 0 if n < 5 else max(35 - 3.0 * (n - 5), 5),  # hurt, and coming back
    "RE-2": lambda n: 24 - n,  # closing all along
    "RE-3": lambda n: 4 + 1.4 * n,  # growing all along
    "RE-4": lambda n: 8 + 6 * min(max(n - 8, 0), 4) - 5 * max(n - 12, 0),  # closing since the block
    "RE-5": lambda n: 0.0,
}


def write_exports(folder: Path, *, with_block: bool) -> Path:
    chance = random.Random(3)
    folder.mkdir(parents=True)
    people = [*COURSES, *(f"RE-{n}" for n in range(10, 20))]
    roster = ["athlete_id,name,squad,birth_date"]
    roster += [f"{who},Person {who},Riverside,2000-01-01" for who in people]
    (folder / "roster.csv").write_text("\n".join(roster) + "\n")
    lines = ["athlete_id,tested_on,test,side,trial,value"]
    for number, day in enumerate(DAYS):
        for who in people:
            percent = COURSES.get(who, lambda _: 0.0)(number)
            for side, share in (("left", 1 - percent / 100), ("right", 1.0)):
                for trial in (1, 2, 3):
                    value = 160 * share * chance.gauss(1, 0.012)
                    lines.append(f"{who},{day},single_hop,{side},{trial},{value:.2f}")
    (folder / "tests.csv").write_text("\n".join(lines) + "\n")
    if with_block:
        (folder / "decisions.csv").write_text(
            "flag_id,decision,listed_on,review_on\n"
            f"RE-4.single_hop.difference,train,{BLOCK_BEGAN},{LAST + timedelta(weeks=3)}\n"
        )
    return folder


def build(folder: Path, *, with_block: bool) -> dict[str, list[dict[str, str]]]:
    exports = write_exports(folder / "exports", with_block=with_block)
    subprocess.run(
        [sys.executable, "-m", "pipeline", "build", "--exports", str(exports), "--reports",
         str(folder / "reports"), "--skip-pdf"],
        check=True, capture_output=True,
    )  # fmt: skip
    tables = {}
    for name in ("asymmetries", "flags"):
        with (folder / "reports" / f"{name}.csv").open(encoding="utf-8-sig") as file:
            tables[name] = list(csv.DictReader(file))
    return tables


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, str]]]:
    return build(tmp_path_factory.mktemp("plain"), with_block=False)


@pytest.fixture(scope="module")
def block(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, str]]]:
    return build(tmp_path_factory.mktemp("block"), with_block=True)


def closing(tables: dict[str, list[dict[str, str]]]) -> dict[str, float]:
    return {row["athlete_id"]: float(row["chance_closing"]) for row in tables["asymmetries"]}


def test_coming_back_from_a_loss_is_closing_and_no_widening_since_the_first_test(
    plain: dict[str, list[dict[str, str]]],
) -> None:
    """The first test was even, so since then the difference has grown: nobody speaks of that."""
    assert closing(plain)["RE-1"] > 0.95
    reasons = {row["reason"] for row in plain["flags"] if row["athlete_id"] == "RE-1"}
    assert "widening" not in reasons


def test_who_closes_and_who_grows_over_six_weeks_is_told_apart(
    plain: dict[str, list[dict[str, str]]],
) -> None:
    chances = closing(plain)
    assert chances["RE-2"] > 0.95
    assert chances["RE-3"] < 0.05
    growing = [row["reason"] for row in plain["flags"] if row["athlete_id"] == "RE-3"]
    assert "widening" in growing


def test_a_running_block_is_told_since_it_began(
    plain: dict[str, list[dict[str, str]]], block: dict[str, list[dict[str, str]]]
) -> None:
    """Over six weeks it grew and closed in part; since the block of three weeks ago it closed."""
    without, with_it = closing(plain), closing(block)
    assert with_it["RE-4"] > 0.95 > 0.5 > without["RE-4"]
    others = {who: chance for who, chance in without.items() if who != "RE-4"}
    assert {who: with_it[who] for who in others} == others
    assert [row["reason"] for row in block["flags"] if row["athlete_id"] == "RE-4"] != ["widening"]
