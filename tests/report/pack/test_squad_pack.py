"""What a pack says beside its list, and its reference behind it."""

import math
from dataclasses import replace

import pytest

from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks
from pipeline.plan.choice import Choice
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.report.pack.pack import squad_pack
from pipeline.report.pack.pages import SquadPack
from pipeline.report.pack.squad_page import _fell_told
from pipeline.report.pdf.render import source_of
from pipeline.report.reference.pages import SquadReference
from pipeline.report.reference.reference import squad_reference
from pipeline.report.sections.training_page import loads_told, share_told
from pipeline.report.text.suggestions import suggestion
from pipeline.review.week import Week
from schemas.plan_words import Plan
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


def test_the_side_with_less_is_said_to_have_less_of_what_the_other_did() -> None:
    """116 is 25 % less than 154; 154 is 33 % more than 116 (arithmetic)."""
    assert share_told(154, 116).replace("\xa0", " ") == "right 25 % less"
    assert share_told(116, 154).replace("\xa0", " ") == "left 25 % less"
    loads = {"load_ratio": 1.25, "equal_load_share": 0.0}  # right over left
    assert loads_told(loads).replace("\xa0", " ") == "left 20 % lighter"


def test_an_arrow_names_its_test_where_the_list_does_not() -> None:
    known = week(AS_OF, trials=[*squad(), *trials_of("single_hop", DAYS, 120, 160)])
    fallen = [("A1", "single_hop", "left"), ("A1", "knee_to_wall", "right")]
    told = _fell_told(fallen, {"A1": "Ada"}, known)
    assert told == "↓ not on the list: Ada (Knee to wall, right)."
    silent = replace(known, flags=known.flags.clear())
    assert "Single hop, left" in _fell_told(fallen, {"A1": "Ada"}, silent)


@pytest.mark.parametrize("plan", [Plan.DONE, Plan.STOP])
def test_a_retest_after_a_block_says_that_the_extra_ends(plan: Plan) -> None:
    known = week(AS_OF, trials=[*squad(), *trials_of("single_hop", DAYS[-1:], 120, 160)])
    (flag,) = known.flags.filter(athlete_id="A1").iter_rows(named=True)
    (athlete,) = known.athletes.filter(athlete_id="A1").iter_rows(named=True)
    assert flag["reason"] == "retest"
    ended = Block("A1", Choice(plan, measure="single_hop", lower_side="left"), 6)
    assert suggestion(flag, athlete, ended, known).startswith("The extra ends, both sides alike")
    again = Block("A1", Choice(Plan.RETEST, measure="single_hop", lower_side="left"), 6)
    assert suggestion(flag, athlete, again, known).startswith("Three trials each side")
