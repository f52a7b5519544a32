"""The promise of the pack: so many pages and no more, whatever a squad brings to the meeting.

At most 5 pages for a dozen athletes, 8 for two dozen, 10 for forty, one more for each further
twenty: what two meetings of twenty minutes can be run by (a design choice of ours).
"""

import pickle
import random
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pypdf
import pytest

from pipeline.plan.blocks import blocks
from pipeline.report.pack.fit_on_pages import most_pages
from pipeline.report.pack.pack import squad_pack
from pipeline.report.pack.pages import PackCard, SquadPack
from pipeline.report.pdf.render import render
from pipeline.report.reference.reference import squad_reference
from pipeline.review.week import Week
from pipeline.settings import ReportSettings, Settings
from tests.raw import week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=21 * back) for back in (3, 2, 1, 0)]
TESTS = {"single_hop": 150.0, "knee_to_wall": 11.0, "grip_strength": 45.0, "sl_cmj_height": 18.0,
         "calf_girth": 38.0, "hip_ir_rom": 40.0}  # fmt: skip
FIRST = ["Ada", "Wilhelmina", "Ngozi", "Bo", "Magdalena"]
LAST = ["Ash", "Wojciechowska-Mwangi", "van der Wateringen", "Okonkwo-Adeyemi", "Li", "Dunholm"]
POSITION = "left defensive midfielder, also third goalkeeper"
KNOWN = "leg length, right 14 mm shorter since childhood"
NOTE = "tight after the long bus ride and slow to warm up"


def squad_of(count: int, listed: int, unread: int = 0) -> Week:
    """A squad of so many athletes of whom so many have something on the list."""
    chance = random.Random(count * 100 + listed)
    people = [f"P{number:03}" for number in range(count)]
    trials: list[dict[str, Any]] = []
    sets: list[dict[str, Any]] = []
    for place, who in enumerate(people):
        for test, level in TESTS.items():
            gap = 0.32 if place < listed and test != "hip_ir_rom" else 0.0
            sides = {
                "left": level * (1 - gap * (place % 2)),
                "right": level * (1 - gap * (1 - place % 2)),
            }
            trials += [
                {
                    "athlete_id": who, "measure": test, "tested_on": day, "side": side, "trial": n,
                    "value": round(value * chance.gauss(1, 0.012), 2),
                    "note": f"{NOTE} {day.day}" if n == 1 and place < listed else None,
                    "pain": 2.0 if n == 1 and place % 3 == 0 and place < listed else None,
                }
                for day in DAYS
                for side, value in sides.items()
                for n in (1, 2)
            ]  # fmt: skip
        sets += [
            {
                "athlete_id": who, "trained_on": AS_OF - timedelta(days=7 * back + 2),
                "exercise": "split_squat", "side": side, "set_number": number, "reps": 8.0 + less,
                "load_kg": 20.0,
            }
            for back in range(6)
            for side, less in (("left", 0.0), ("right", 3.0 * (place < listed)))
            for number in (1, 2, 3)
        ]  # fmt: skip
    decisions = [
        {
            "flag_id": f"{who}.single_hop.difference", "decision": "train",
            "owner": "strength and conditioning coach of the academy", "note": NOTE,
            "source_file": f"decisions_{AS_OF - timedelta(weeks=5):%Y-%m-%d}.xlsx",
        }
        for who in people[: listed // 2]
    ]  # fmt: skip
    refused = [
        {
            "file": f"a long name of a file that somebody saved on a Friday, {n}.csv", "line": n,
            "column": "pain", "value": "a lot more than last week, they say", "row_kept": True,
            "reason": "is not a number from 0 to 10", "athlete_id": people[n % count],
            "bears_on": "pain", "noted_on": AS_OF,
        }
        for n in range(unread)
    ]  # fmt: skip
    roster = [
        {
            "athlete_id": who, "position": POSITION,
            "name": f"{FIRST[n % len(FIRST)]} {LAST[n % len(LAST)]}",
            "birth_date": date(2000, 1, 1) + timedelta(days=n),
            "known_difference": KNOWN if n % 7 == 3 else None,
        }
        for n, who in enumerate(people)
    ]  # fmt: skip
    return week(
        AS_OF, roster=roster, trials=trials, sets=sets, decisions=decisions, refused=refused
    )


def printed(pack: SquadPack, page_size: str = "A4") -> list[str]:
    pdf = render(pickle.dumps(pack), page_size, AS_OF).pdf
    return [page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages]


def test_how_many_pages_a_squad_may_have() -> None:
    said = {2: 5, 12: 5, 24: 8, 40: 10, 59: 10, 60: 11, 80: 12, 200: 18}
    assert {count: most_pages(count) for count in said} == said
    allowed = [most_pages(count) for count in range(1, 300)]
    assert allowed == sorted(allowed)


SQUADS = [
    (2, 0, 0), (2, 2, 30), (12, 0, 0), (12, 12, 30), (24, 20, 30), (40, 20, 12), (60, 0, 0),
    (60, 60, 30),
]  # fmt: skip


@pytest.mark.parametrize(("count", "listed", "unread"), SQUADS)
def test_a_pack_keeps_its_promise_and_loses_nobody(count: int, listed: int, unread: int) -> None:
    known = squad_of(count, listed, unread)
    plans = blocks(known)
    pack, left = squad_pack("Squad", plans, known, known.flags.clear())
    pages = printed(pack)
    assert len(pages) <= most_pages(count)
    assert min(map(len, pages)) > 150  # no page holds a line alone
    text = " ".join(" ".join(pages).split())
    on_list = known.flags["athlete_id"].n_unique()
    assert on_list >= listed and len(pack.today) == on_list
    assert "No room here" not in text  # nothing of the plan was left out while printing
    assert len(pack.unread) == min(unread, 10) and pack.unread_more == max(0, unread - 10)
    reference = squad_reference("Squad", plans, known, left)
    named = [card.name for card in (*pack.cards, *reference.cards)]
    silent = {"overdue", "waiting"}
    worth = known.flags.group_by("athlete_id", maintain_order=True).first()
    assert len(named) == sum(turn not in silent for turn in worth["athlete_turn"])
    assert sum(len(one.items) for one in reference.sections) == known.flags.height


def test_on_letter_the_promise_is_the_same() -> None:
    known = squad_of(24, 20, 30)
    settings = Settings(report=ReportSettings(page_size="letter"))
    pack, _ = squad_pack("Squad", blocks(known), replace(known, settings=settings), None)
    assert len(printed(pack, "letter")) <= 8


def test_what_no_counting_foresees_is_left_out_while_printing() -> None:
    """Texts far longer than the plan of the pages thought."""
    known = squad_of(12, 6)
    pack, left = squad_pack("Squad", blocks(known), known, None)
    wide: tuple[PackCard, ...] = tuple(
        replace(one, plan=one.plan * 12) for one in pack.cards + left
    )
    pages = printed(replace(pack, cards=wide, notes=("Word after word. " * 120,) * 2))
    assert len(pages) <= 5
    assert "No room here for" in " ".join(pages).replace("\n", " ")
