"""Side, number, day and note of a sentence are those of one row of the exports."""

from datetime import date, timedelta
from typing import Any

import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.outputs.tables import flag_table
from pipeline.review.week import Week
from tests.raw import trials_of, week
from tests.review.flags.test_flags import items

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back) for back in (5, 4, 3, 2, 1, 0)]


def row(
    who: str, back: int, side: str, pain: float | None, note: str | None, **more: Any
) -> dict[str, Any]:
    """One trial so many days back, in a line of its own."""
    line = {"source_line": more.pop("line", 100 * back + 10 * int(who[1:]) + len(side))}
    return {
        "athlete_id": who, "tested_on": AS_OF - timedelta(days=back), "side": side, "pain": pain,
        "note": note, "value": 150.0, **line, **more,
    }  # fmt: skip


def said(known: Week) -> dict[str, tuple[str, str]]:
    """Sentence and detail of each flag, by its id."""
    return {
        item.flag_id: (item.sentence.replace("\xa0", " "), item.detail.replace("\xa0", " "))
        for item in items(known)
    }


def test_the_worst_row_gives_side_number_day_and_note() -> None:
    """Left 4 on one day and right 9 on another is not 9 on the left."""
    trials = [
        row("A1", 3, "left", 4.0, "stiff at first"),
        row("A1", 9, "right", 9.0, "had to sit down"),
        row("A2", 9, "left", 8.5, "sore below"),
        row("A2", 3, "right", 4.0, "better"),
    ]
    assert said(week(AS_OF, trials=trials)) == {
        "A1.single_hop.refer": (
            "Single hop: pain 9 of 10, right side, on 11 Nov.",
            "Since 11 Nov, 1 week · noted: “had to sit down”",
        ),
        "A2.single_hop.refer": (
            "Single hop: pain 8.5 of 10, left side, on 11 Nov.",
            "Since 11 Nov, 1 week · noted: “sore below”",
        ),
    }


def test_the_newest_of_equal_rows_speaks_and_the_run_keeps_its_first_day() -> None:
    trials = [
        row("A1", 20, "left", 6.0, "at the start"),
        row("A1", 2, "right", 6.0, "at the landing"),
        row("A1", 1, "left", 5.0, "much the same"),
        row("A2", 20, "right", 7.0, None),
        row("A2", 2, "right", 5.0, "later"),
    ]
    assert said(week(AS_OF, trials=trials)) == {
        "A1.single_hop.refer": (
            "Single hop: pain 6 of 10, right side, on 18 Nov.",
            "Since 31 Oct, 2 weeks · noted: “at the landing”",
        ),
        "A2.single_hop.refer": (
            "Single hop: pain 7 of 10, right side, on 31 Oct.",
            "Since 31 Oct, 2 weeks",
        ),
    }


@pytest.mark.parametrize(
    ("lines", "pains", "expected"),
    [
        ((7, 7), (6.0, 6.0), None),  # one row of a wide sheet, written on the trials of both sides
        ((7, 8), (6.0, 6.0), None),  # a row each: the one side is no truer than the other
        ((7, 8), (6.0, 5.0), "left"),
        ((7, 8), (5.0, 6.0), "right"),
    ],
)
def test_pain_beside_both_sides_is_no_sides(
    lines: tuple[int, int], pains: tuple[float, float], expected: str | None
) -> None:
    sides = zip(("left", "right"), pains, lines, strict=True)
    trials = [
        row("A1", 2, side, pain, "after the second", line=line, trial=n)
        for side, pain, line in sides
        for n in (1, 2, 3)
    ]
    trials.append(row("A2", 2, "right", 4.0, "first one", line=9))
    known = week(AS_OF, trials=trials)
    sides_of = dict(known.flags.select("athlete_id", "lower_side").iter_rows())
    assert sides_of == {"A1": expected, "A2": "right"}
    named = "" if expected is None else f", {expected} side"
    assert said(known)["A1.single_hop.refer"][0] == f"Single hop: pain 6 of 10{named}, on 18 Nov."


def test_a_row_without_a_value_has_its_pain_and_its_note() -> None:
    """The cell stayed blank because the test was broken off."""
    trials = [
        row("A1", 2, "both", 7.0, "knee gave way", value=None, value_given=None),
        row("A2", 2, "left", 4.0, "numb toes", value=None, value_given=None),
        row("A2", 2, "right", None, None),
        row("A3", 2, "left", None, None),
        row("A3", 2, "right", None, None),
    ]
    known = week(AS_OF, trials=trials)
    assert said(known) == {
        "A1.joint_or_bone.refer": (
            "A note of 18 Nov asks for medical staff: joint or bone.",
            "New, 18 Nov · noted: “knee gave way”",
        ),
        "A1.single_hop.refer": (
            "Single hop: pain 7 of 10, on 18 Nov.",
            "New, 18 Nov · noted: “knee gave way”",
        ),
        "A2.nerve.refer": (
            "A note of 18 Nov asks for medical staff: nerve.",
            "New, 18 Nov · noted: “numb toes”",
        ),
        "A2.single_hop.refer": (
            "Single hop: pain 4 of 10, left side, on 18 Nov.",
            "New, 18 Nov · noted: “numb toes”",
        ),
    }
    assert known.findings["athlete_id"].to_list() == ["A3"]
    assert known.side_values.select("athlete_id", "side").rows() == [
        ("A2", "right"), ("A3", "left"), ("A3", "right"),
    ]  # fmt: skip


def test_pain_in_training_and_a_note_beside_a_film_count_like_in_a_test() -> None:
    sets = [
        {"trained_on": AS_OF, "side": "left", "pain": 4.5, "note": "third set", "source_line": 3},
        {"trained_on": AS_OF, "side": "right", "pain": 4.0, "note": "last set", "source_line": 4},
        {"athlete_id": "A2", "trained_on": AS_OF, "side": "both", "pain": 6.0, "source_line": 5},
    ]
    film = [
        {"athlete_id": "A2", "filmed_on": AS_OF, "checkpoint": "knee", "finding": "ok",
         "note": "knee gave way"},
    ]  # fmt: skip
    assert said(week(AS_OF, sets=sets, film=film)) == {
        "A1.split_squat.refer": (
            "Split squat: pain 4.5 of 10, left side, on 20 Nov.",
            "New, 20 Nov · noted: “third set”",
        ),
        "A2.split_squat.refer": ("Split squat: pain 6 of 10, on 20 Nov.", "New, 20 Nov"),
        "A2.joint_or_bone.refer": (
            "A note of 20 Nov asks for medical staff: joint or bone.",
            "New, 20 Nov · noted: “knee gave way”",
        ),
    }


def test_the_newest_note_of_a_topic_is_quoted_with_its_day() -> None:
    trials = [
        row("A1", 20, "left", None, "numb toes after the last one"),
        row("A1", 2, "right", None, "tingling again"),
        row("A2", 9, "left", None, "numb fingers"),
    ]
    assert said(week(AS_OF, trials=trials)) == {
        "A1.nerve.refer": (
            "A note of 18 Nov asks for medical staff: nerve.",
            "Since 31 Oct, 2 weeks · noted: “tingling again”",
        ),
        "A2.nerve.refer": (
            "A note of 11 Nov asks for medical staff: nerve.",
            "Since 11 Nov, 1 week · noted: “numb fingers”",
        ),
    }


def squad(measure: str) -> list[dict[str, Any]]:
    return [
        one
        for n in range(2, 13)
        for one in trials_of(measure, DAYS, 150 + n, 150 + n + (-1) ** n, athlete_id=f"B{n}")
    ]


def test_pain_beside_a_loss_keeps_a_side_and_day_of_its_own() -> None:
    trials = squad("single_hop")
    for who, lost, level in (("A1", "left", 95), ("A2", "right", 100)):
        trials += trials_of("single_hop", DAYS[:-1], 150, 150, athlete_id=who)
        left, right = (level, 150) if lost == "left" else (150, level)
        trials += trials_of("single_hop", DAYS[-1:], left, right, athlete_id=who)
    trials += [row("A1", 14, "right", 6.5, "at take-off", trial=4)]
    known = week(AS_OF, trials=trials)
    sentences = {key: value[0] for key, value in said(known).items() if key.endswith(".refer")}
    assert sentences["A1.single_hop.refer"] == (
        "Single hop: left side 37 % below its own last weeks on 20 Nov; the right side has not "
        "clearly fallen. Pain 6.5 of 10, right side, on 6 Nov."
    )
    assert sentences["A2.single_hop.refer"] == (
        "Single hop: right side 33 % below its own last weeks on 20 Nov; the left side has not "
        "clearly fallen."
    )
    written = flag_table(known, blocks(known)).filter(reason="refer")
    assert dict(written.select("flag_id", "sentence").iter_rows())["A1.single_hop.refer"].endswith(
        "on 6\xa0Nov."
    )


def test_a_girth_is_said_with_its_pain_and_quotes_the_note_beside_it() -> None:
    trials = []
    for who, level in (("A1", 38.0), ("A2", 36.0)):
        trials += trials_of("calf_girth", DAYS[:-1], level, level, athlete_id=who)
    trials += trials_of("calf_girth", DAYS[-1:], 38.0, 39.9, note="tight since Sunday")
    trials += trials_of("calf_girth", DAYS[-1:], 37.8, 36.1, athlete_id="A2")
    trials += [
        row("A1", 0, "left", None, "new shoes", measure="ankle_dorsiflexion_rom"),
        row("A2", 0, "left", None, "grip slipped", measure="grip_strength"),
        row("A2", 0, "left", 7.0, "warm by evening", measure="calf_girth", trial=4, value=None),
    ]
    known = week(AS_OF, trials=trials)
    told = said(known)
    assert told["A1.calf_girth.refer"] == (
        "Calf girth: right side 1.9 cm larger on 20 Nov than the last time, with a note of that "
        "day.",
        "New, 20 Nov · noted: “tight since Sunday”",
    )
    assert told["A2.calf_girth.refer"] == (
        "Calf girth: left side 1.8 cm larger on 20 Nov than the last time, with a note of that "
        "day. Pain 7 of 10, left side, on 20 Nov.",
        "New, 20 Nov · noted: “warm by evening”",
    )


def test_the_more_urgent_of_two_signs_says_how_soon() -> None:
    """A girth that fell is for this week, pain beside it for two days."""
    trials = []
    for who in ("A1", "A2"):
        trials += trials_of("calf_girth", DAYS[:-1], 38, 38, athlete_id=who)
        trials += trials_of("calf_girth", DAYS[-1:], 35.0, 38, athlete_id=who)
    trials.append(row("A2", 0, "left", 5.0, None, measure="calf_girth", trial=4, value=35.0))
    known = week(AS_OF, trials=trials)
    assert known.flags.filter(kind="girth").select("athlete_id", "urgency").rows() == [
        ("A2", "two days"),
        ("A1", "this week"),
    ]


def test_a_zero_stands_though_a_later_row_has_no_value() -> None:
    zero = [AS_OF - timedelta(days=5)]
    trials = trials_of("calf_raise_reps", zero, 0, 12)
    trials += trials_of("calf_raise_reps", zero, 20, 0, athlete_id="A2")
    trials += [row("A1", 1, side, 2.0, None, measure="calf_raise_reps", value=None)
               for side in ("left", "right")]  # fmt: skip
    known = week(AS_OF, trials=trials)
    told = {key: value[0] for key, value in said(known).items()}
    assert told == {
        "A1.calf_raise_reps.zero": (
            "Calf raise reps: 0 on the left, 12 on the right on 15 Nov. No percentage can be made "
            "of a zero."
        ),
        "A2.calf_raise_reps.zero": (
            "Calf raise reps: 20 on the left, 0 on the right on 15 Nov. No percentage can be made "
            "of a zero."
        ),
    }
