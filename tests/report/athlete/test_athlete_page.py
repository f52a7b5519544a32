"""What an athlete finds where on the report, from one week to the next."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.report.pack.pack import squad_pack
from pipeline.report.text.phrases import say
from pipeline.review.week import Week
from tests.raw import pages_of, trials_of, week
from tests.review.flags.test_flags import AS_OF, DAYS, items, squad

TESTS = ("grip_strength", "single_hop", "triple_hop")


@pytest.fixture(scope="module")
def known() -> Week:
    return week(
        AS_OF,
        trials=[row for name in TESTS for row in squad(name) + trials_of(name, DAYS, 150, 150)],
    )


@pytest.mark.parametrize(
    ("chances", "rows"),
    [
        ((0.02, 0.01, 0.03), "Grip strength, Single hop, Triple hop"),  # nothing has happened:
        ((0.01, 0.03, 0.02), "Grip strength, Single hop, Triple hop"),  # each keeps its row
        ((0.01, 0.02, 0.31), "Triple hop, Grip strength, Single hop"),
        ((0.94, 0.99, 0.97), "Single hop, Triple hop, Grip strength"),
    ],
)
def test_rows_change_places_only_where_it_says_something(
    known: Week, chances: tuple[float, ...], rows: str
) -> None:
    given = pl.col("measure").replace_strict(dict(zip(TESTS, chances, strict=True)))
    given_week = replace(
        known, findings=known.findings.with_columns(given.alias("chance_over_line"))
    )
    page = dict(athlete_pages(given_week, blocks(given_week)))["A1"].make()
    assert ", ".join(row.label for row in page.balance) == rows


def test_a_figure_that_the_latest_tests_do_not_agree_with_is_never_called_very_sure() -> None:
    days = [AS_OF - timedelta(days=7 * back) for back in range(11, -1, -1)]
    rows = squad(days=days)
    for who, latest in (("A1", (100.0, 160.0)), ("B1", (120.0, 160.0))):
        rows += trials_of("single_hop", days[:-1], 120, 160, athlete_id=who)
        rows += trials_of("single_hop", days[-1:], *latest, athlete_id=who)
    known = week(AS_OF, trials=rows)
    assert known.findings.filter("recent_disagree")["athlete_id"].to_list() == ["A1"]
    chances = known.findings.filter(pl.col("athlete_id").is_in(["A1", "B1"]))["chance_over_line"]
    assert (chances >= known.catalogue.rules.very_sure).all()
    pages = pages_of(known)
    assert "fairly sure" in pages["A1"].findings[0]
    assert pages["A1"].findings[0].endswith(say("athlete.findings.disagree"))
    assert pages["A1"].balance[0].sentence.endswith("fairly sure")
    assert pages["B1"].findings[0].endswith(": very sure.")
    said = {item.flag_id: item.sureness for item in items(known)}
    assert said["A1.single_hop.difference"].startswith("Fairly sure, about 9 in\N{NBSP}10.")
    assert said["A1.single_hop.difference"].endswith(say("agenda.point.disagree"))
    assert said["B1.single_hop.difference"].startswith("Very sure")
    assert "agree" not in said["B1.single_hop.difference"]
    pack, _ = squad_pack("Squad", blocks(known), known, known.flags)
    ends = {line.name: line.what.rsplit("). ", 1)[-1] for line in pack.today}
    assert sorted(ends.values()) == ["Fairly sure.", "Very sure."]


def test_every_difference_that_is_open_is_counted_at_the_top() -> None:
    trials = [
        row
        for name in TESTS
        for row in squad(name)
        + trials_of(name, DAYS[-1:], *((150, 150) if name == "grip_strength" else (105, 150)))
    ]
    opening = pages_of(week(AS_OF, trials=trials))["A1"].opening
    assert "One difference is still open" in opening
    assert "One other is still open." in opening
