"""The meeting pack: one line an athlete, the cards, the squad on one page, the next test day."""

from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks
from pipeline.plan.choice import Choice
from pipeline.plan.rows import next_test_rows
from pipeline.report.charts.dots import dot_blocks
from pipeline.report.charts.levels import levels_drawn
from pipeline.report.charts.lined import PACK
from pipeline.report.charts.rows import DotRow, Levels, SidesRow, StripRow
from pipeline.report.charts.sides import month_blocks, work_blocks
from pipeline.report.charts.strips import strip_blocks
from pipeline.report.pack.cards import _plan, _question
from pipeline.report.pack.pack import squad_pack
from pipeline.report.pack.pages import SquadPack
from pipeline.report.pack.today import _standing
from pipeline.report.reference.reference import squad_reference
from pipeline.report.reference.season import season_of
from pipeline.report.text.phrases import language
from pipeline.review.week import Week
from schemas.plan_words import Plan, PlanReason
from schemas.vocabulary import Decision, Status, Turn
from tests.raw import trials_of, week
from tests.report.charts.test_charts import drawn_strokes, marks
from tests.review.situations import AS_OF, DAYS, log, squad

language("english").speak()
UNEVEN = [*squad(), *trials_of("single_hop", DAYS, 120, 160)]


def pack_of(known: Week, before: pl.DataFrame | None = None) -> SquadPack:
    listed = known.flags.clear() if before is None else before
    return squad_pack("Squad", blocks(known), known, listed)[0]


def with_next_tests(known: Week) -> SquadPack:
    plans = blocks(known)
    due = next_test_rows(known, plans, {})
    return squad_pack("Squad", plans, known, None, due=due)[0]


def plain(text: str) -> str:
    return text.replace("\xa0", " ")


def test_the_list_has_one_line_an_athlete_in_the_order_of_each_ones_first_flag() -> None:
    pain = [
        {"athlete_id": "B5", "measure": "knee_to_wall", "tested_on": AS_OF, "side": "left",
         "value": 10.0, "pain": 7.0}
    ]  # fmt: skip
    other = trials_of("triple_hop", DAYS, 500, 640)
    known = week(AS_OF, trials=[*UNEVEN, *squad("triple_hop", 600), *other, *pain])
    lines = pack_of(known).today
    order = known.flags["athlete_id"].unique(maintain_order=True).to_list()
    assert order[0] == "B5" and len(known.flags) > len(order)
    assert [line.number for line in lines] == list(range(1, len(order) + 1))
    assert lines[0].standing == "medical staff first" and lines[0].is_medical
    mine = lines[order.index("A1")]
    first, second = known.flags.filter(athlete_id="A1")["measure"].to_list()
    names = {"single_hop": "Single hop", "triple_hop": "Triple hop"}
    assert mine.what.startswith(f"{names[first]}: left lower by")
    assert mine.what.endswith("Very sure.")  # the word alone: its figure stands in the reference
    assert mine.also == f"Also: {names[second]}."


@pytest.mark.parametrize("status", [one for one in Status if one != Status.ACCEPTED])
def test_every_status_says_where_it_stands(status: Status) -> None:
    assert _standing({"turn": Turn.CONFIRMED, "status": status})
    assert _standing({"turn": Turn.REFER, "status": status}) == "medical staff first"


NO_CARD = (Turn.OVERDUE, Turn.WAITING, Turn.ACCEPTED)


@pytest.mark.parametrize("turn", [one for one in Turn if one not in NO_CARD])
def test_every_turn_and_plan_asks_one_question_and_tells_the_plan(turn: Turn) -> None:
    asked, known = set(), week(AS_OF, trials=squad())
    for plan in Plan:
        for why in PlanReason:
            block = Block("A1", Choice(plan, lower_side="left", why=why, step=2), 6)
            for decision in (None, *Decision):
                flag = {"athlete_turn": turn, "is_in_force": decision is not None,
                        "decision": decision}  # fmt: skip
                asked.add(_question(flag, block))
            assert _plan(block, known).endswith((".", "?"))
    assert asked and all(question.endswith("?") for question in asked)


def test_whoever_waits_for_medical_staff_is_asked_about_the_staff_and_nothing_else() -> None:
    flag = {"athlete_turn": Turn.REFER, "is_in_force": False, "decision": None}
    for plan in Plan:
        assert _question(flag, Block("A1", Choice(plan), 6)).startswith("who sees")


def test_a_card_shows_both_sides_own_values_work_and_words() -> None:
    noted = [
        one | {"note": "slow after travel"} if one["tested_on"] == AS_OF else one
        for one in trials_of("single_hop", DAYS, 120, 160)
    ]
    sets = log(left=(2, 20.0), right=(3, 20.0), weeks=(3, 0), athlete_id="A1")
    known = week(AS_OF, trials=[*squad(), *noted], sets=sets)
    (card,) = [one for one in pack_of(known).cards if one.name.startswith("Ada A. (A1)")]
    assert card.levels is not None
    assert card.levels.title == "Single hop, each side, cm"
    assert [day for day, _ in card.levels.left] == DAYS
    assert card.levels.left[-1][1] == pytest.approx(120)
    assert card.levels.right[-1][1] == pytest.approx(160)
    assert [plain(one) for one in card.levels.said] == ["left 120", "right 160"]
    assert [week[1:] for week in card.levels.weeks] == [(32.0, 48.0)] * 4
    assert plain(card.said[0]) == "20 Nov: “slow after travel”"
    assert card.linked[0].label == "Single hop"
    assert card.question == "train as planned, test once more, or leave it as it is?"


def test_a_note_beside_a_decision_stands_on_the_card_of_that_athlete_alone() -> None:
    trials = [
        *squad(),
        *(
            row
            for who in ("A1", "A2")
            for row in trials_of("single_hop", DAYS, 120, 160, athlete_id=who)
        ),
    ]
    decisions = [
        {"flag_id": f"{who}.single_hop.difference", "decision": "train", "note": note,
         "source_file": f"decisions_{AS_OF:%Y-%m-%d}.csv"}
        for who, note in (("A1", "elbow pain 3/10"), ("A2", "asked for a film"))
    ]  # fmt: skip
    cards = {
        one.name: one for one in pack_of(week(AS_OF, trials=trials, decisions=decisions)).cards
    }
    said = {name: [plain(line) for line in one.said] for name, one in cards.items()}
    assert sorted(line for lines in said.values() for line in lines) == [
        "decided train: “asked for a film”", "decided train: “elbow pain 3/10”",
    ]  # fmt: skip
    assert len(said) == 2


def test_where_nothing_was_logged_no_bar_says_that_nothing_was_done() -> None:
    known = week(AS_OF, trials=UNEVEN)
    (card,) = [one for one in pack_of(known).cards if one.name.startswith("Ada A. (A1)")]
    assert card.levels is not None and card.levels.weeks == ()
    assert card.said == ("No pain, note or film in these files.",)


def test_both_behind_their_own_earlier_level_is_said_in_so_many_words() -> None:
    """Left 160 then 120 now, right 200 then 160 now: 75 and 80 of 100."""
    since = AS_OF - timedelta(weeks=8)
    old = [since - timedelta(weeks=back) for back in (2, 5)]
    trials = [
        *squad(), *trials_of("single_hop", old, 160, 200),
        *trials_of("single_hop", DAYS[-2:], 120, 160),
    ]  # fmt: skip
    roster: list[dict[str, Any]] = [
        {"athlete_id": "A1", "known_difference": "knee surgery", "known_since": since,
         "known_side": "left"},
        *({"athlete_id": f"B{n}"} for n in range(2, 13)),
    ]  # fmt: skip
    known = week(AS_OF, trials=trials, roster=roster)
    (card,) = [one for one in pack_of(known).cards if one.name.startswith("Ada A. (A1)")]
    said = " ".join(map(plain, card.earlier))
    assert "left 75 of 100, right 80" in said and "(2 test days)" in said
    assert "the difference alone looks better than it is" in said
    assert card.levels is not None
    assert card.levels.earlier == (pytest.approx(160), pytest.approx(200))


def test_nobody_who_waits_for_medical_staff_is_put_on_the_next_test_day() -> None:
    pain = [
        {"athlete_id": "A1", "measure": "knee_to_wall", "tested_on": AS_OF, "side": "left",
         "value": 10.0, "pain": 7.0}
    ]  # fmt: skip
    once = [*squad(), *trials_of("single_hop", DAYS[-1:], 120, 160)]
    known, hurt = week(AS_OF, trials=once), week(AS_OF, trials=once + pain)
    (row,) = with_next_tests(known).tests.rows
    assert row[0] == "Single hop" and "Ada A. (A1)" in row[2]
    assert with_next_tests(known).test_day.startswith("Next test day: ")
    assert not any("(A1)" in who for _, _, who in with_next_tests(hurt).tests.rows)
    assert pack_of(known).tests.rows == ()
    assert "could not be worked out" in pack_of(known).tests_none


def test_the_squad_page_has_everybody_as_a_mark_and_names_those_on_the_list() -> None:
    known = week(AS_OF, trials=UNEVEN)
    pack = pack_of(known)
    (strip,) = pack.strips
    assert (len(strip.others), len(strip.listed)) == (11, 1)
    assert plain(strip.sentence) == "Ada A. (A1) (left)"
    (row,) = pack.glance.rows
    assert row[0].startswith("Ada A. (A1)") and row[1] == ("● L",)
    assert "(B2)" in pack.glance.others and "(A1)" not in pack.glance.others


def test_a_sides_own_fall_and_medical_staff_have_marks_of_their_own() -> None:
    fell = trials_of("single_hop", DAYS[:-1], 150, 150) + trials_of(
        "single_hop", DAYS[-1:], 95, 150
    )
    (row,) = [row for row in pack_of(week(AS_OF, trials=[*squad(), *fell])).glance.rows]
    (cell,) = row[1]
    assert "M" in cell and "↓L" in cell


def test_the_season_counts_what_came_over_and_fell_below_month_by_month() -> None:
    """A hop clearly apart in the first two tests and even in the later ones."""
    days = [date(2026, 3, 2), date(2026, 3, 30), *(date(2026, m, 15) for m in (5, 6, 7, 8))]
    even = [
        row
        for n in range(2, 13)
        for row in trials_of("single_hop", days, 150 + n, 150 + n + (-1) ** n, athlete_id=f"B{n}")
    ]
    own = trials_of("single_hop", days[:2], 110, 160) + trials_of("single_hop", days[2:], 160, 160)
    known = week(date(2026, 8, 20), trials=[*even, *own])
    months = season_of("Squad", known).months
    assert months[0].label == "March"
    assert sum(row.right for row in months) >= 1
    assert sum(row.left for row in months) == sum(row.right for row in months)
    assert months[-1].sentence.endswith("0 stand at its end")


def test_what_the_pack_left_out_stands_in_the_reference() -> None:
    known = week(AS_OF, trials=UNEVEN)
    plans = blocks(known)
    pack, _ = squad_pack("Squad", plans, known, None)
    reference = squad_reference("Squad", plans, known, pack.cards)
    assert reference.cards == pack.cards
    flags = {item.flag_id for section in reference.sections for item in section.items}
    assert flags == set(known.flags["flag_id"])


# ---------------------------------------------------------------- pictures


def test_left_is_filled_and_right_is_open_in_the_bars() -> None:
    (block,) = work_blocks([SidesRow("Ada", "96 / 48", False, 96.0, 48.0)])
    painted = [(kind, mark) for kind, mark in marks(block.svg) if kind == "line"]
    filled = [m for _, m in painted if m.get("stroke-width") == "9"]
    outlined = [m for _, m in painted if m.get("stroke-width") == "1.2"]
    (bar,) = drawn_strokes(filled[0])
    xs = [float(n) for part in drawn_strokes(outlined[0]) for n in part[::2]]
    assert bar[2] - bar[0] == pytest.approx(2 * (max(xs) - min(xs)), abs=0.1)
    assert bar[2] < 140 < min(xs)
    assert (block.left, block.right) == ("left side", "right side")
    assert "Ada: 96 / 48" in block.described


def test_a_month_without_anything_has_no_bar() -> None:
    rows = [SidesRow("March", "none", False, 0.0, 0.0), SidesRow("April", "2", False, 0.0, 2.0)]
    (block,) = month_blocks(rows)
    assert len(block.rows) == 2 and "April: 2" in block.described


def test_a_strip_puts_whoever_is_far_out_at_its_edge() -> None:
    row = StripRow("Hop", "–", False, 0.0, 0.4, (0.0, 9.0), (-1.0,), False)
    (block,) = strip_blocks([row])
    rings = [drawn_strokes(mark) for kind, mark in marks(block.svg) if kind == "line"]
    points = [stroke[0] for strokes in rings for stroke in strokes if stroke[0] == stroke[2]]
    assert max(points) == pytest.approx(276) and block.height >= PACK.row


def test_a_dot_stands_between_its_ends_and_what_has_none_has_no_mark() -> None:
    rows = [DotRow("A", "0.50", False, 0.5, 0.2, 0.8), DotRow("B", "–", False, None, 0.0, 0.0)]
    (block,) = dot_blocks(rows)
    symbols = [mark for kind, mark in marks(block.svg) if kind == "symbol"]
    assert len(symbols) == 1 and "translate(140," in symbols[0]["transform"]
    assert [text for _, text in block.ticks] == ["0", "0.5", "1"]


LEVEL: dict[str, Any] = {
    "title": "Hop", "described": "Told.", "said": ("left 120", "right 120"), "ends": ("1", "0"),
    "days": ("1 Nov", "20 Nov"), "earlier": None, "earlier_said": "", "weeks": (),
}  # fmt: skip


def test_the_words_at_the_ends_of_two_lines_never_stand_on_each_other() -> None:
    days = (date(2026, 11, 1), date(2026, 11, 20))
    for right in (100.0, 119.0, 120.0, 121.0, 180.0):
        own = tuple((day, 120.0) for day in days)
        other = ((days[0], 60.0), (days[1], right))
        drawn = levels_drawn(Levels(left=own, right=other, **LEVEL))
        tops = [top for top, *_ in drawn.ends]
        assert tops[1] - tops[0] >= 13
    same = levels_drawn(Levels(left=own, right=own, **LEVEL))
    assert len({top for top, *_ in same.ends}) == 2
