"""What each athlete does next: one `Plan`, chosen here and nowhere else.

What follows from it, sessions and cards and sheets, is built from the `Choice` alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Group
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.plan.leave import trains
from pipeline.programme.log import Log
from pipeline.programme.who import Who
from pipeline.review.stage import ended_with, hardly_done, latest_outcome, stage_of, without_change
from pipeline.settings import Settings
from schemas.vocabulary import Plan, PlanReason, Stage

Row = Mapping[str, Any]
UNTRAINED_GROUPS = ("structure",)


@dataclass(frozen=True)
class Case:
    """All that is known of one athlete: that athlete's rows of what was found, and no others'."""

    athlete: Row
    found: Sequence[Row]
    flags: Sequence[Row]  # in meeting order, accepted ones last
    outcomes: Sequence[Row]
    equal_loads: Sequence[Row] = ()  # of `mart_log_loads`, by design
    work: Sequence[Row] = ()  # of `work_by_side`
    log: Log = field(default_factory=Log)  # up to the as-of date
    log_then: Log | None = None  # up to the day on which a running block began
    who: Who = field(default_factory=Who)


@dataclass(frozen=True)
class Choice:
    """What one athlete does next, and because of what."""

    plan: Plan
    flag: Row | None = None  # it is because of; null where no flag is
    measure: str | None = None  # to be trained, tested or left as it is
    lower_side: str | None = None
    part: str | None = None  # whose work it is about: a part of the body, see `stg_sets`
    stage: Stage = "new"  # of train, mobility and stop
    outcome: Row | None = None  # row of the outcomes this goes on from
    ended: tuple[Row, ...] = ()  # rows of the outcomes that end without change, the surest first
    stretch: Row | None = None  # finding of a range to be worked on beside the plan
    step: int = 0  # of a graded return, from 1
    limits: str | None = None  # of a return: what staff wrote
    until: date | None = None  # the day on which what was decided is looked at again
    handling: str | None = None  # of a known difference, by the practice rule it falls under
    why: PlanReason = ""


def choose(case: Case, catalogue: Catalogue, as_of: date, settings: Settings) -> Choice:
    """The plan of one athlete at the as-of date: the first of `Plan` that applies."""
    doses = Doses(catalogue.rules.plan, settings.plan)
    if asks_for_staff(case):
        return Choice(Plan.MEDICAL)
    if case.athlete["availability"] == "unclear":
        return Choice(Plan.WAIT, why="availability")
    ranked = _persistent(case, doses, as_of)
    handling, rest = _known_difference(case.athlete, ranked, catalogue)
    if ranked and not rest:
        return _of(Plan.KEEP, ranked[0], handling=handling, why="known")
    ended = without_change(rest, case.outcomes, doses)
    going_on = [
        row
        for row in rest
        if ended_with(row["measure"], row["lower_side"], ended, catalogue.measures) is None
    ]
    tight = [row for row in going_on if _group(row, catalogue).mobility]
    trained = [row for row in going_on if row not in tight and trains(row, case.found, catalogue)]
    if trained:
        row = trained[0]
        outcome = latest_outcome(row, case.outcomes)
        stage = _stage(row, outcome, case, catalogue, doses)
        return _of(
            Plan.TRAIN, row, part=catalogue.measures[row["measure"]].region, stage=stage,
            outcome=outcome, ended=ended, stretch=tight[0] if tight else None,
        )  # fmt: skip
    closed = _closed(case, doses, as_of)
    if closed and not ended:
        return _of(Plan.DONE, closed[0], outcome=closed[0])
    if tight:
        outcome = latest_outcome(tight[0], case.outcomes)
        stage = stage_of(tight[0], outcome, doses)
        return _of(
            Plan.MOBILITY, tight[0], stage=stage, outcome=outcome, ended=ended, stretch=tight[0]
        )
    if ended:  # more of the same would not be judged by anything
        return _of(Plan.STOP, ended[0], stage="stop", outcome=ended[0], ended=ended)
    return _without_a_plan(case, settings)


def asks_for_staff(case: Case) -> bool:
    """Whether medical staff come before any plan: a flag refers, or limits are known."""
    is_referred = any(flag["reason"] == "refer" for flag in case.flags)
    return is_referred or case.athlete["availability"] in ("modified", "out")


def _group(row: Row, book: Catalogue) -> Group:
    return book.coaching.group_of(book.measures[row["measure"]], book.exercises)


def _of(plan: Plan, row: Row, **more: Any) -> Choice:
    """The choice about the measure and side of a row."""
    return Choice(plan, measure=row["measure"], lower_side=row["lower_side"], **more)


def _stage(row: Row, outcome: Row | None, case: Case, catalogue: Catalogue, doses: Doses) -> Stage:
    measure, stage = catalogue.measures[row["measure"]], stage_of(row, outcome, doses)
    is_little = hardly_done(measure, row["lower_side"], case.outcomes, catalogue, doses)
    return "catch_up" if is_little else stage


def _closed(case: Case, doses: Doses, as_of: date) -> list[Row]:
    """The blocks that ended, or end now, because the difference lies within its line again."""
    weeks = timedelta(weeks=int(doses("length", "weeks")))
    return [
        one
        for one in case.outcomes
        if one["clear_days"] >= doses("stop", "days") and one["ends_on"] + weeks >= as_of
    ]


def _persistent(case: Case, doses: Doses, as_of: date) -> list[Row]:
    """Differences to act on, the surest first.

    A block that was decided on runs to its end, whatever ranks a little higher meanwhile, unless
    the difference lies within its line on as many days as end the extra work. A test goes before
    the training record, and what a side can do before how large it is.
    """
    running = {
        (one["measure"], one["lower_side"])
        for one in case.outcomes
        if one["flag_id"].endswith(".difference")  # and not about a ratio inside one limb
        and one["ends_on"] >= as_of
        and one["clear_days"] < doses("stop", "days")
    }

    def is_running(row: Row) -> bool:
        return (row["measure"], row["lower_side"]) in running

    def lasts(row: Row) -> bool:
        return row["verdict"] == "confirmed" or (
            row["verdict"] == "retest"
            and row["chance_over_line"] >= 0.5
            and row["same_side_days"] >= doses("who", "days")
        )

    def rank(row: Row) -> tuple[bool, bool, bool, float, str]:
        group = row["measure_group"]
        return (not is_running(row), group == TRAINING_RECORD, group == "size",
                -row["chance_over_line"], row["measure"])  # fmt: skip

    lasting = (
        row
        for row in case.found
        if (lasts(row) or is_running(row))
        and row["lower_side"] != "even"
        and row["measure_group"] not in UNTRAINED_GROUPS
    )
    return sorted(lasting, key=rank)


def _known_difference(
    athlete: Row, ranked: list[Row], catalogue: Catalogue
) -> tuple[str | None, list[Row]]:
    """How a known difference is handled, and the differences it does not account for."""
    if athlete["known_difference"] is None:
        return None, ranked
    structure = catalogue.rules.structure(athlete["known_difference"])
    if structure is None:
        return None, []
    return structure.handling, [row for row in ranked if row["region"] not in structure.regions]


def _without_a_plan(case: Case, settings: Settings) -> Choice:
    for flag in case.flags:
        if flag["reason"] == "training":
            return _of(Plan.EVEN, flag, flag=flag, part=flag["part"])
    for flag in case.flags:
        if flag["cause"] == "zero":
            return Choice(Plan.RETEST, flag=flag, measure=flag["measure"])
    if not case.found and (less := _less_work(case.work, settings)):
        return Choice(Plan.EVEN, lower_side=less[1], part=less[0])
    if not case.found:
        return Choice(Plan.NONE, why="record" if case.equal_loads else "untested")
    line = settings.review.retest_chance
    is_open = any(row["chance_over_line"] >= line for row in case.found)
    return Choice(Plan.RETEST if is_open else Plan.NONE)


def _less_work(work: Sequence[Row], settings: Settings) -> tuple[str, str] | None:
    """The part and side that clearly got less one-sided work, where no test names a side."""
    review, shares = settings.review, []
    for row in work:
        left, right = row["left_reps"], row["right_reps"]
        if row["session_count"] >= review.training_sessions and max(left, right) > 0:
            share = min(left, right) / max(left, right)
            shares.append((share, row["part"], "left" if left < right else "right"))
    share, part, side = min(shares, default=(1.0, "", ""))
    return (part, side) if share < review.training_share else None
