"""What stands about a flag, from the lists alone."""

from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from pipeline.catalogue import catalogue
from pipeline.review.decisions.standing import Standing, names_somebody, pain_limit, standing
from pipeline.review.decisions.states import until
from schemas.vocabulary import Asked, Decision
from tests.raw import COLUMNS, DEFAULTS, decided

RULES = catalogue().rules
HOP, PAIN = "A1.single_hop.difference", "A1.single_hop.refer"
WEEKS = [date(2026, 8, 7) + timedelta(weeks=n) for n in range(6)]
BORN = pl.DataFrame({"athlete_id": ["A1"], "birth_date": [date(2000, 1, 1)]})


def stands(*rows: dict[str, Any], flag: str = HOP, born: pl.DataFrame = BORN) -> Standing:
    """What stands after these rows of lists, each a week after the one before."""
    columns = COLUMNS["raw_decisions"]
    read = [
        decided({"flag_id": flag, "listed_on": WEEKS[n], "source_line": n + 2, **row})
        for n, row in enumerate(rows)
    ]
    filled = [{c: row.get(c, DEFAULTS.get(c)) for c in columns} for row in read]
    frame = pl.DataFrame(filled, schema=columns)
    return standing(frame, born, RULES, WEEKS[-1])[flag]


def said(*words: str | None, **more: Any) -> tuple[Decision | None, date | None, list[Asked]]:
    told = stands(*({"decision": word} for word in words), **more)
    force = told.force
    return (
        None if force is None else force.decision,
        None if force is None else force.began_on,
        [question.asked for question in told.questions],
    )


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["train"], (Decision.TRAIN, WEEKS[0], [])),
        (["train", "wait"], (Decision.WAIT, WEEKS[1], [])),
        (["train", "wait", "Train", "train"], (Decision.TRAIN, WEEKS[2], [])),
        # What could not be read ends nothing, and is asked until a later list answers.
        (["train", "same as above"], (Decision.TRAIN, WEEKS[0], [Asked.UNREAD])),
        (["train", "y", "train"], (Decision.TRAIN, WEEKS[0], [])),
        (["not structural: train"], (None, None, [Asked.UNREAD])),
        # After refer nothing starts before somebody named has cleared.
        (["refer", "train"], (Decision.REFER, WEEKS[0], [Asked.ON_REFER])),
        (["refer", "seen", "accept"], (Decision.SEEN, WEEKS[1], [Asked.ON_REFER])),
        (["refer", "cleared"], (Decision.CLEARED, WEEKS[1], [Asked.WHO_CLEARED])),
        (["refer", "cleared", "train"], (Decision.CLEARED, WEEKS[1], [Asked.ON_REFER])),
        (["refer", "cleared by Dr Hahn", "train"], (Decision.TRAIN, WEEKS[2], [])),
        # Pain or a sign beside it: which counts?
        (["wait, shoulder sore"], (None, None, [Asked.NOTE_DIFFERS])),
        (["train, knee swollen"], (None, None, [Asked.NOTE_DIFFERS])),
        (["train, no pain"], (Decision.TRAIN, WEEKS[0], [])),
        (["train, pain 2/10"], (Decision.TRAIN, WEEKS[0], [])),
        (["train, pain 3-4"], (None, None, [Asked.NOTE_DIFFERS])),
        (["train, was sore, settled says Dr Hahn"], (Decision.TRAIN, WEEKS[0], [])),
        (["train, was sore, settled"], (None, None, [Asked.NOTE_DIFFERS])),
        (["train, pain 5", "train"], (Decision.TRAIN, WEEKS[0], [])),
    ],
)  # fmt: skip
def test_the_lists_in_their_order(
    words: list[str], expected: tuple[Decision | None, date | None, list[Asked]]
) -> None:
    assert said(*words) == expected


@pytest.mark.parametrize("word", ["train", "retest", "accept", "wait", "done"])
def test_on_a_flag_for_medical_staff_only_they_start_anything(word: str) -> None:
    assert said(word, flag=PAIN) == (None, None, [Asked.ON_REFER])
    after = said("refer", "cleared, Dr Hahn", word, flag=PAIN)
    if word == "done":
        assert after == (Decision.DONE, WEEKS[2], [])
    else:
        assert after == (Decision.CLEARED, WEEKS[1], [Asked.ON_REFER])


def test_a_young_athlete_is_asked_about_from_a_lower_number_and_one_of_unknown_age_is_not() -> None:
    young = BORN.with_columns(pl.lit(date(2012, 1, 1)).alias("birth_date"))
    unknown = BORN.with_columns(pl.lit(None, pl.Date).alias("birth_date"))
    assert said("train, pain 3", born=young) == (None, None, [Asked.NOTE_DIFFERS])
    assert said("train, pain 3", born=unknown)[0] == Decision.TRAIN
    assert said("train, pain 4", born=unknown)[2] == [Asked.NOTE_DIFFERS]
    assert pain_limit(date(2008, 11, 20), date(2026, 11, 19), RULES) == RULES.pain_note
    assert pain_limit(date(2008, 11, 20), date(2026, 11, 20), RULES) == RULES.pain_refer


def test_on_one_list_the_more_cautious_counts_and_both_are_kept() -> None:
    same = {"listed_on": WEEKS[0]}
    told = stands({"decision": "train", **same}, {"decision": "wait", **same})
    assert told.force is not None
    assert (told.force.decision, told.force.others) == (Decision.WAIT, (Decision.TRAIN,))


def test_one_sheet_alone_tells_since_when_it_stands_and_what_stood_before() -> None:
    carried = {"decided_on": WEEKS[0], "listed_decision": "train", "listed_on": WEEKS[3]}
    told = stands({"decision": "train", **carried})
    assert told.force is not None and told.force.began_on == WEEKS[0]
    told = stands({"decision": "wait", **carried})
    runs = [(run.decision, run.began_on) for run in told.runs]
    assert runs == [(Decision.TRAIN, WEEKS[0]), (Decision.WAIT, WEEKS[3])]
    told = stands({"decision": "???", **carried})
    assert told.force is not None
    assert (told.force.decision, told.force.began_on) == (Decision.TRAIN, WEEKS[0])


def test_what_ended_and_is_decided_again_begins_anew() -> None:
    fresh = {"is_fresh": True}
    told = stands({"decision": "retest", **fresh}, {"decision": "retest", **fresh})
    assert [run.began_on for run in told.runs] == WEEKS[:2]
    told = stands({"decision": "retest", **fresh}, {"decision": "retest"})
    assert [run.began_on for run in told.runs] == WEEKS[:1]


@pytest.mark.parametrize(
    ("owner", "note", "is_named"),
    [
        ("Sam", None, True), (None, "cleared by Dr Hahn", True), (None, "physio says ok", True),
        (None, "Anna Berg", True), (None, "no jumps for now", False), (None, None, False),
        ("?", None, False), (None, "Fine", False), (None, "ok by Anna", True),
        (None, "with limits: no running", False), ("tbc", "full training", False),
    ],
)  # fmt: skip
def test_who_cleared_is_a_name(owner: str | None, note: str | None, is_named: bool) -> None:
    row = decided({"decision": "cleared", "owner": owner, "note": note})
    assert names_somebody(row) == is_named


@pytest.mark.parametrize(
    ("note", "pain"),
    [
        ("pain 4/10", 4.0), ("VAS 3-4/10 after", 4.0), ("a bit sore", 4.0), ("no pain", None),
        ("pain free", None), ("sore for 3 weeks", 4.0), ("pain 2, 12 Nov", 2.0),
        ("three trials please", None), ("6/10 effort and no pain", 6.0), ("hurt 7", 7.0),
        ("without pain, ache 1 to 2", 2.0), ("knee pain since 3 Nov", 4.0),
    ],
)  # fmt: skip
def test_pain_in_a_note(note: str, pain: float | None) -> None:
    assert RULES.noted_pain(note) == pain


@pytest.mark.parametrize(
    ("note", "day"),
    [
        ("known since birth, until March", date(2027, 3, 1)),
        ("leave until 12 Jan", date(2027, 1, 12)),
        ("until 2027-02-01 then look", date(2027, 2, 1)), ("till the season ends", None),
        ("until 15.1.", date(2027, 1, 15)), ("structural", None),
    ],
)  # fmt: skip
def test_until_in_a_note(note: str, day: date | None) -> None:
    assert until(note, date(2026, 11, 20)) == day
