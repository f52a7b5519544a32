"""An athlete written out beside a squad of even ones, and what that athlete gets."""

import re
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Doses
from pipeline.plan.block import Block
from pipeline.plan.blocks import blocks
from pipeline.programme.who import Who
from pipeline.report.athlete.card import training_card
from pipeline.report.outputs.tables import flag_table
from pipeline.report.page_models import Card
from pipeline.report.sections.work_done import work_lines
from pipeline.review.week import Week
from tests.raw import trials_of, week

AS_OF = date(2026, 11, 20)
DAYS = [AS_OF - timedelta(days=14 * back) for back in (5, 4, 3, 2, 1, 0)]
DECIDED = "decisions_{:%Y-%m-%d}.xlsx"
FRIGHTENING = re.compile(
    r"imbalanc|deficit|dysfunction|weak|bad side|abnormal|at risk|danger|damage|misalign|injur"
    r"|fail|problem|wrong|should|must|unsafe|worse",
    re.IGNORECASE,
)


def squad(measure: str = "single_hop", level: float = 150, step: float = 1) -> list[dict[str, Any]]:
    """Eleven even athletes beside the one a test is about."""
    return [
        row
        for n in range(2, 13)
        for row in trials_of(
            measure, DAYS, level + n * step, level + n * step + (-1) ** n * step,
            athlete_id=f"B{n}",
        )
    ]  # fmt: skip


def log(
    left: tuple[int, float | None] = (2, 20.0),
    right: tuple[int, float | None] = (2, 20.0),
    exercise: str = "split_squat",
    reps: float = 8.0,
    weeks: tuple[int, int] = (9, 0),
    **more: Any,
) -> list[dict[str, Any]]:
    """Two sessions a week as (sets, load) of each side, from so many weeks back to so many."""
    return [
        {
            "trained_on": AS_OF - timedelta(days=7 * back + day),
            "exercise": exercise,
            "side": side,
            "set_number": number,
            "reps": reps,
            "load_kg": load,
            **more,
        }
        for back in range(weeks[0], weeks[1] - 1, -1)
        for day in (4, 1)
        for side, (count, load) in (("left", left), ("right", right))
        for number in range(1, count + 1)
    ]


def squats() -> list[dict[str, Any]]:
    return [
        {"trained_on": AS_OF - timedelta(days=7 * back + 4), "exercise": "back_squat",
         "side": "both", "set_number": number, "reps": 5.0, "load_kg": 90.0}
        for back in range(10)
        for number in (1, 2, 3)
    ]  # fmt: skip


def decided(weeks_ago: int, flag_id: str = "A1.single_hop.difference") -> list[dict[str, Any]]:
    file = DECIDED.format(AS_OF - timedelta(weeks=weeks_ago))
    return [{"flag_id": flag_id, "decision": "train", "source_file": file}]


def situation(**rows: Any) -> tuple[Week, Block, Card]:
    """What athlete A1 gets; a squad of even athletes stands beside."""
    known = week(AS_OF, **rows)
    block = blocks(known)["A1"]
    who = Who(None, known.as_of)
    card = training_card(block, known.catalogue.measures, "your medical staff", 2, who)
    return known, block, card


def roster(**of_a1: Any) -> list[dict[str, Any]]:
    return [{"athlete_id": "A1", **of_a1}, *({"athlete_id": f"B{n}"} for n in range(2, 13))]


def told(known: Week, block: Block) -> list[str]:
    return work_lines(
        known.habits.filter(athlete_id="A1"),
        list(known.outcomes.filter(athlete_id="A1").iter_rows(named=True)),
        list(known.log_loads.filter("is_by_design", athlete_id="A1").iter_rows(named=True)),
        block,
        known.catalogue.measures,
        Doses(known.catalogue.rules.plan, known.settings.plan),
        AS_OF,
    )


def suggested(known: Week) -> dict[str, str]:
    """What the agenda suggests for each of the athlete's differences."""
    rows = flag_table(known, blocks(known)).filter(athlete_id="A1")
    return dict(rows.select("measure", "suggestion").iter_rows())


CLEAR = [*squad(), *trials_of("single_hop", DAYS, 120, 160)]
