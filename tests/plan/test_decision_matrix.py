"""Each decision on each kind of flag, and what plan, pack, report and list say of it.

On the day, a week later and four weeks later, nothing new having been tested. One athlete a pair.
"""

from datetime import date, timedelta
from functools import cache
from typing import Any

import pytest

from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks
from pipeline.report.outputs.tables import FLAG_COLUMNS, flag_table
from pipeline.report.outputs.write_pages import athlete_pages
from pipeline.report.pack.pack import squad_pack
from pipeline.report.page_models import AthletePage
from pipeline.report.reference.pages import AgendaItem
from pipeline.report.reference.reference import squad_reference
from pipeline.report.text import words
from pipeline.review.week import Week
from schemas.plan_words import Plan
from schemas.vocabulary import Decision, Family, Status
from tests.raw import trials_of, week

DAY = date(2026, 11, 20)
LATER = (0, 7, 28)
TESTED = [DAY - timedelta(days=back) for back in (42, 28, 14, 3)]
OLD = [DAY - timedelta(days=back) for back in (71, 57)]
OF_KIND = {
    "difference": ("single_hop",), "ratio": ("isok_knee_flexion_60", "isok_knee_extension_60"),
    "zero": ("calf_raise_reps",), "refer": ("single_hop",), "training": ("single_hop",),
    "overdue": ("knee_to_wall",),
}  # fmt: skip
# Of the left side, as a share of the right.
SHARE = {"single_hop": 0.75, "isok_knee_flexion_60": 0.55, "calf_raise_reps": 0.0}
FLAG = {
    "difference": "single_hop.difference", "ratio": "hq_ratio_con_60.ratio",
    "zero": "calf_raise_reps.zero", "refer": "single_hop.refer",
    "training": "upper_body.training", "overdue": "knee_to_wall.overdue",
}  # fmt: skip
# What each decision does where nothing speaks against it: status, plan, what the pack says next,
# what the athlete reads; and the same four weeks later, where it is another.
SAYS: dict[str, tuple[str, str, str, str]] = {
    "train": ("running", "train", "", ""),
    "retest": (
        "waiting", "retest", "A slot for the retest by 4 Dec", "One more test tells us more",
    ),
    "accept": (
        "accepted", "keep", "Accepted until 21 May 2027: keep as is",
        "We know about one difference of yours and leave it as it is.",
    ),
    "wait": ("waiting", "wait", "Nothing new before 18 Dec.", "we look again on 18 December 2026."),
    "refer": (
        "with_medical", "medical", "With medical staff since 20 Nov: seen?",
        "Please speak with your medical staff first; your plan waits for you.",
    ),
    "seen": (
        "with_medical", "medical", "Seen, 20 Nov: only what medical staff wrote.",
        "Follow what your medical staff told you; we plan with them.",
    ),
    "cleared": (
        "cleared", "return", "Return, step 1 of 5: both sides alike",
        "You are cleared. We build up in steps, and each takes a week or more. You are in step 1.",
    ),
    "done": ("", "done", "", "What was planned is finished: both sides do the same again."),
}  # fmt: skip
LATE = ("late", "retest", "Due 4 Dec, still without a test", "One more test tells us more; ask for")
STAFF_FIRST = "for your medical staff to look at before your next hard session or test"
# What somebody who waits for medical staff, or whose difference is left as it is, must not read.
ADDED = ("a little more", "an extra", "retest", "Retest", "Due again", "first, same load")
SPOKEN_OF = ("stands out", "chance that it is truly", "Retest", "may be chance")


def who(decision: str, kind: str) -> str:
    return f"{decision}-{kind}"


@cache
def known(later: int, unread: str = "") -> tuple[Week, dict[str, Block]]:
    """The week so many days after the meeting, and the blocks of everybody.

    `unread`: what the sheet of that day says of every flag, which nobody can read.
    """
    trials: list[dict[str, Any]] = []
    sets: list[dict[str, Any]] = []
    tests = {"single_hop": 150.0, "isok_knee_flexion_60": 100.0, "isok_knee_extension_60": 170.0,
             "calf_raise_reps": 20.0, "knee_to_wall": 11.0}  # fmt: skip
    for n in range(12):
        for test, level in tests.items():
            apart = level * (1 + 0.01 * (-1) ** n)
            trials += trials_of(test, TESTED, level, apart, athlete_id=f"even-{n}")
    decisions = []
    for decision in Decision:
        for kind, flag in FLAG.items():
            one = who(decision, kind)
            for test in sorted({*OF_KIND[kind], "knee_to_wall"}):
                is_low = test in OF_KIND[kind] and kind not in ("refer", "training")
                share = SHARE.get(test, 1.0) if is_low else 1.0
                is_painful = kind == "refer" and test == "single_hop"
                trials += trials_of(
                    test, OLD if kind == "overdue" else TESTED, share * tests[test], tests[test],
                    athlete_id=one, pain=6.0 if is_painful else None,
                )  # fmt: skip
            if kind == "training":
                sets += [
                    {"athlete_id": one, "trained_on": DAY - timedelta(days=back), "load_kg": load,
                     "exercise": "single_arm_dumbbell_row", "side": side, "set_number": n,
                     "reps": 15.0}
                    for back in range(1, 60, 4)
                    for side, load, count in (("left", 14.0, 1), ("right", 20.0, 3))
                    for n in range(count)
                ]  # fmt: skip
            decisions.append(
                {"flag_id": f"{one}.{flag}", "decision": decision, "listed_on": DAY,
                 "owner": "Dr Hahn", "note": "as we said"}
            )  # fmt: skip
            if kind == "ratio":  # the test below it stands out as well, and is decided alike
                below = f"{one}.isok_knee_flexion_60.difference"
                decisions.append({**decisions[-1], "flag_id": below})
    on = DAY + timedelta(days=later)
    if later < 0:
        decisions = []
    elif unread:
        decisions += [
            {"flag_id": one["flag_id"], "decision": unread, "listed_on": on} for one in decisions
        ]
    found = week(on, trials=trials, sets=sets, decisions=decisions)
    return found, blocks(found)


@cache
def written(later: int) -> tuple[dict[str, dict[str, Any]], dict[str, AgendaItem],
                                 dict[str, AthletePage], tuple[str, ...]]:  # fmt: skip
    """flags.csv and the agenda by flag, the reports by athlete, and what page 1 asks."""
    found, plans = known(later)
    rows = flag_table(found, plans).select([*FLAG_COLUMNS, "name"]).rows(named=True)
    pack, _ = squad_pack("Squad", plans, found, None)
    sections = squad_reference("Squad", plans, found).sections
    items = {item.flag_id: item for section in sections for item in section.items}
    made = ((one, sheet.make()) for one, sheet in athlete_pages(found, plans))
    pages = {one: page for one, page in made if isinstance(page, AthletePage)}
    return {row["flag_id"]: row for row in rows}, items, pages, pack.unread


def report_of(page: AthletePage) -> str:
    """All sentences of a report that say what was found and what comes next."""
    lines = (*page.findings, *page.trend_notes, *page.work, *page.next_steps, *page.film)
    steps = [line for day in page.card.days for line in day.lines]
    said = [text for line in steps for text in (line.part, line.name, line.text, line.cue)]
    weeks = [label for part in page.card.weeks for label, _ in part.rows]
    card = (page.card.title, page.card.why, *said, *weeks, *page.card.after)
    return " ".join((page.opening, *lines, *card)).replace("\xa0", " ")


def test_every_kind_of_flag_is_there_before_anybody_decides() -> None:
    found, plans = known(-1)
    listed = set(found.flags["flag_id"])
    suggested = {"difference": "train", "ratio": "train", "zero": "retest", "refer": "medical",
                 "training": "even", "overdue": "retest"}  # fmt: skip
    for decision in Decision:
        for kind, flag in FLAG.items():
            one = who(decision, kind)
            assert f"{one}.{flag}" in listed, (decision, kind)
            assert plans[one].plan == suggested[kind], (decision, kind)


PAIRS = [(decision, kind) for decision in Decision for kind in FLAG]


# All pairs of one day follow each other, so that its week is made by one worker alone.
@pytest.mark.parametrize(("decision", "kind"), PAIRS)
@pytest.mark.parametrize("later", LATER)
def test_what_was_decided_rules_list_plan_pack_and_report(
    decision: Decision, kind: str, later: int
) -> None:
    rows, items, pages, asked = written(later)
    one = who(decision, kind)
    flag_id, block, text = f"{one}.{FLAG[kind]}", known(later)[1][one], report_of(pages[one])
    row = rows.get(flag_id)
    status, plan, pack, report = SAYS[decision]
    if kind == "refer" and decision not in (Decision.REFER, Decision.SEEN, Decision.CLEARED):
        assert row is not None and row["status"] in (Status.NEW, Status.OPEN)
        assert block.plan == Plan.MEDICAL
        assert items[flag_id].suggestion.startswith(f"“{decision}” starts nothing here")
        assert any(flag_id.split(".")[0] in line and str(decision) in line for line in asked)
        assert STAFF_FIRST in text
        assert not [word for word in ADDED if word in text]
        return
    if decision == Decision.RETEST and later == 28:
        status, plan, pack, report = LATE
    if decision == Decision.TRAIN and kind in ("training", "overdue"):
        plan = "even"  # no test names a side that anything could be added for
    assert block.plan == plan
    if decision == Decision.DONE:
        assert row is None and flag_id not in items
    else:
        assert row is not None
        said = (row["status"], row["decision"], row["owner"], row["decided_on"])
        assert said == (status, decision, "Dr Hahn", DAY)
        if decision == Decision.ACCEPT:
            assert flag_id not in items  # silent, and last on the list
            assert row["suggestion"].replace("\xa0", " ").startswith(pack)
        else:
            assert items[flag_id].suggestion.replace("\xa0", " ").startswith(pack)
            shown = items[flag_id].detail.replace("\xa0", " ")
            told = f"decided: {decision} (Dr Hahn), 20 Nov"
            assert shown.startswith(words.capital(told)) or f" · {told}" in shown
            assert "note: “as we said”" in items[flag_id].detail
    assert report in text
    if plan in ("medical", "return"):
        assert not [word for word in ADDED if word in text]
        assert plan == "return" or not block.steps
        # A return is both sides alike, the same sets for each, nothing for one of them.
        assert {step.part for step in block.steps} <= {"one_side", "both_sides", "isolation"}
        assert {step.side for step in block.steps} <= {"left_first", "right_first", "both"}
    if decision == Decision.ACCEPT and kind != "training":
        assert not [word for word in SPOKEN_OF if word in text]
    if plan == "retest":  # a day that has passed is not offered again
        assert block.retest_on == (DAY + timedelta(days=14) if later < 14 else None)
    elif plan not in ("train", "mobility"):
        assert block.retest_on is None
    assert not [line for line in asked if one in line]


@pytest.mark.parametrize(("decision", "kind"), PAIRS)
def test_words_nobody_can_read_leave_the_plan_as_it_was(decision: Decision, kind: str) -> None:
    """A return goes on, too, whatever is written beside it that starts nothing."""
    one = who(decision, kind)
    plans, (found, blurred) = known(7)[1], known(7, unread="step 3")
    (status,) = found.flags.filter(flag_id=f"{one}.{FLAG[kind]}")["status"]
    assert status == Status.UNCLEAR
    assert (blurred[one].plan, blurred[one].lower_side) == (plans[one].plan, plans[one].lower_side)
    assert blurred[one].steps == plans[one].steps


def test_accepted_ones_stand_last_and_athletes_together() -> None:
    rows = list(written(0)[0].values())
    accepted = [row["status"] == "accepted" for row in rows]
    assert accepted == sorted(accepted) and any(accepted)
    athletes = [row["athlete_id"] for row in rows if row["status"] != "accepted"]
    runs = [one for n, one in enumerate(athletes) if n == 0 or athletes[n - 1] != one]
    assert len(runs) == len(set(runs))


def test_a_family_is_every_kind_there_is() -> None:
    assert set(FLAG) == {str(family) for family in Family}
