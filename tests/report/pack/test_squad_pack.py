"""What a pack says beside its list, and its reference behind it."""

import math

import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.report.pack.pack import squad_pack
from pipeline.report.pack.pages import SquadPack
from pipeline.report.pdf.render import source_of
from pipeline.report.reference.pages import SquadReference
from pipeline.report.reference.reference import squad_reference
from pipeline.review.week import Week
from tests.raw import trials_of, week
from tests.review.flags.test_flags import AS_OF, DAYS, squad


def pack(known: Week) -> SquadPack:
    squads = known.athletes["squad"].unique().to_list()
    return squad_pack(squads[0], blocks(known), known, known.flags.clear())[0]


def reference(known: Week) -> SquadReference:
    squads = known.athletes["squad"].unique().to_list()
    return squad_reference(squads[0], blocks(known), known)


def changes(known: Week) -> str:
    return " ".join(pack(known).notes).replace("\xa0", " ")


def test_a_test_far_from_those_before_is_to_be_checked() -> None:
    typed_wrong = trials_of("single_hop", DAYS[-1:], 150, 215)
    usual = trials_of("single_hop", DAYS[:-1], 150, 150)
    said = changes(week(AS_OF, trials=squad() + usual + typed_wrong))
    assert (
        "Check these tests, far from what those before let expect: Ada A. (A1) (Single hop)."
        in said
    )


def test_a_sudden_loss_is_not_called_a_slip_of_the_pen() -> None:
    lost = trials_of("single_hop", DAYS[-1:], 95, 150)
    usual = trials_of("single_hop", DAYS[:-1], 150, 150)
    known = week(AS_OF, trials=squad() + usual + lost)
    assert known.estimates.days.filter("is_odd")["athlete_id"].to_list() == ["A1"]
    assert "Check these tests" not in changes(known)


def test_a_test_of_one_side_is_told_and_a_side_at_zero_is_none() -> None:
    zero = trials_of("calf_raise_reps", [AS_OF], 0, 12)
    half = [one for one in trials_of("knee_to_wall", [AS_OF], 10, 10) if one["side"] == "left"]
    known = week(AS_OF, trials=squad("calf_raise_reps") + squad("knee_to_wall") + zero + half)
    told = {row[0]: row[-1] for row in reference(known).coverage.rows}
    assert told == {"Calf raise reps": "–", "Knee to wall": "One side only: Ada A. (A1)"}


@pytest.mark.parametrize("place", [0, 2, -1])
def test_a_day_with_one_side_alone_is_no_mark_of_a_chart(place: int) -> None:
    alone = DAYS[place]
    usual = trials_of("single_hop", [day for day in DAYS if day != alone], 150, 150)
    half = [one for one in trials_of("single_hop", [alone], 150, 150) if one["side"] == "left"]
    known = week(AS_OF, trials=squad() + usual + half)
    panels = [panel for _, panels in reference(known).panels for panel in panels]
    page = dict(athlete_pages(known, blocks(known)))["A1"].make()
    rows = [row for panel in panels for row in panel.rows] + [*page.balance]
    assert rows
    assert all(math.isfinite(day) for row in rows for day in row.days)
    assert len(page.balance[0].days) == len(DAYS) - 1
    (trend,) = page.trends
    assert [point.on for point in trend.points] == [day for day in DAYS if day != alone]
    assert "<img" in source_of(page)


def test_what_to_keep_in_mind_is_said_of_the_tests_done_and_once_for_alike_ones() -> None:
    known = week(AS_OF, trials=squad("single_hop") + squad("triple_hop") + squad("knee_to_wall"))
    measures = known.catalogue.measures
    hops, ankle = (measures[name].caution for name in ("single_hop", "knee_to_wall"))
    assert measures["triple_hop"].caution == hops != ankle
    assert sorted(reference(known).testing.rows) == [
        ("Knee to wall", "the front ankle", ankle),
        ("Single hop, Triple hop", "the leg hopped and landed on", hops),
    ]
