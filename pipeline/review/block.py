"""The next block of training for one athlete: what it is, and why it is that and nothing else.

The session itself is made in `session`, from what the athlete already does. The extra starts
small: twice the work for the lower side was not better than equal work with the lower side first
(Moreno-Azze 2021, Int J Environ Res Public Health 18:8270).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any, Protocol

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.review.exercises import MOBILITY_GROUPS
from pipeline.review.session import Plan, Step, training_session
from pipeline.review.stage import (
    ended_with,
    hardly_done,
    latest_outcome,
    stage_of,
    without_change,
)
from pipeline.settings import Settings
from schemas.vocabulary import BlockKind, Stage

__all__ = ["Block", "Case", "Step", "asks_for_staff", "next_block"]

Row = Mapping[str, Any]
UNTRAINED_GROUPS = ("structure",)


@dataclass(frozen=True)
class Block:
    """What one athlete does next, and why.

    kind: train, mobility, even (both sides alike, nothing extra), done (extra ends: closed), stop
    (extra ends: no change in many weeks), none (nothing to change), retest, medical (staff first),
    wait (whether the athlete is available could not be read),
    maintain (a known difference is not chased), record (the log alone cannot tell), untested,
    unmade (what comes next could not be worked out; nothing is said by that).
    stage of a train block: new, running, catch_up (the log shows hardly any of the plan), closing,
    widening.
    """

    athlete_id: str
    kind: BlockKind
    measure: str | None
    lower_side: str | None
    weeks: int
    steps: tuple[Step, ...]
    film: str | None
    retest_on: date | None
    stage: Stage = "new"
    plan: Plan | None = None
    outcome: Row | None = None  # row of the outcomes this block goes on from
    ended: tuple[Row, ...] = ()  # rows of the outcomes that end without change, the surest first
    handling: str | None = None  # of a known difference, by the practice rule it falls under
    part: str | None = None  # whose work it is about: a part of the body, see `stg_sets`
    since: date | None = None  # the day from which the difference is said to have closed
    is_record: bool = False  # named by the training log alone


@dataclass(frozen=True)
class Case:
    """All that is known of one athlete: that athlete's rows of what was found, and no others'."""

    athlete: Row
    found: Sequence[Row]
    flags: Sequence[Row]
    usual: Sequence[Row]  # of `usual_work`
    outcomes: Sequence[Row]
    equal_loads: Sequence[Row] = ()  # of `mart_log_loads`, by design
    work: Sequence[Row] = ()  # of `work_by_side`


def next_block(case: Case, catalogue: Catalogue, as_of: date, settings: Settings) -> Block:
    """The block of one athlete at the as-of date."""
    doses = Doses(catalogue.rules.plan, settings.plan)
    plain = _plain_block(case, int(doses("length", "weeks")))
    if asks_for_staff(case):
        return plain("medical")
    if case.athlete["availability"] == "unclear":
        return plain("wait")
    ranked = _persistent(case, doses, as_of)
    handling, rest = _known_difference(case.athlete, ranked, catalogue)
    if ranked and not rest:
        row = ranked[0]
        return plain("maintain", row["measure"], row["lower_side"], handling=handling)
    ended = without_change(rest, case.outcomes, doses)
    going_on = [
        row
        for row in rest
        if ended_with(row["measure"], row["lower_side"], ended, catalogue.measures) is None
    ]
    trained = [row for row in going_on if row["measure_group"] not in MOBILITY_GROUPS]
    tight = [row for row in going_on if row["measure_group"] == "range_of_motion"]
    stretches = [_mobility(row, catalogue.measures) for row in tight[:1]]
    if trained:
        block = _train(trained[0], case, stretches, catalogue, doses, as_of)
        return replace(block, ended=ended)
    weeks = timedelta(weeks=int(doses("length", "weeks")))
    closed = [
        one
        for one in case.outcomes
        if one["clear_days"] >= doses("stop", "days") and one["ends_on"] + weeks >= as_of
    ]
    if closed and not ended:
        return plain("done", closed[0]["measure"], closed[0]["lower_side"], outcome=closed[0])
    if tight:
        outcome = latest_outcome(tight[0], case.outcomes)
        block = plain("mobility", tight[0]["measure"], tight[0]["lower_side"], tuple(stretches))
        stage = stage_of(tight[0], outcome, doses)
        return replace(block, stage=stage, outcome=outcome, ended=ended, retest_on=as_of + weeks)
    if ended:  # more of the same would not be judged by anything
        block = plain("stop", ended[0]["measure"], ended[0]["lower_side"], outcome=ended[0])
        return replace(block, stage="stop", ended=ended, retest_on=as_of + weeks)
    return _without_a_plan(case, plain, settings)


def asks_for_staff(case: Case) -> bool:
    """Whether medical staff come before any plan: a flag refers, or limits are known."""
    is_referred = any(flag["reason"] == "refer" for flag in case.flags)
    return is_referred or case.athlete["availability"] in ("modified", "out")


class _Plain(Protocol):
    """Makes blocks of one athlete that hold no session but these steps."""

    def __call__(
        self,
        kind: BlockKind,
        measure: str | None = None,
        lower: str | None = None,
        steps: tuple[Step, ...] = (),
        **more: Any,
    ) -> Block: ...


def _plain_block(case: Case, weeks: int) -> _Plain:
    def block(
        kind: BlockKind,
        measure: str | None = None,
        lower: str | None = None,
        steps: tuple[Step, ...] = (),
        **more: Any,
    ) -> Block:
        return Block(
            case.athlete["athlete_id"], kind, measure, lower, weeks, steps, None, None, **more
        )

    return block


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


def _train(
    row: Row,
    case: Case,
    stretches: Sequence[Step],
    catalogue: Catalogue,
    doses: Doses,
    as_of: date,
) -> Block:
    measure, lower = catalogue.measures[row["measure"]], row["lower_side"]
    outcome = latest_outcome(row, case.outcomes)
    weeks = int(doses("length", "weeks"))
    stage = stage_of(row, outcome, doses)
    if stage != "catch_up" and hardly_done(measure, lower, case.outcomes, catalogue, doses):
        stage = "catch_up"
    plan = training_session(measure, lower, case.usual, catalogue, doses, hold=stage == "closing")
    filmed = [step for step in plan.steps if step.side == "lower first"]
    filmed.sort(key=lambda step: step.seconds_down is None)  # slow work shows more than a jump
    retest_on = as_of + timedelta(weeks=weeks)
    if outcome is not None and stage != "catch_up" and outcome["ends_on"] > as_of:
        retest_on = outcome["ends_on"]
    return Block(
        athlete_id=case.athlete["athlete_id"],
        kind="train",
        measure=measure.id,
        lower_side=lower,
        weeks=weeks,
        steps=(*plan.steps, *stretches),
        film=filmed[0].name if filmed else None,
        retest_on=retest_on,
        stage=stage,
        plan=plan,
        outcome=outcome,
        part=measure.region,
        since=_closing_since(row, outcome) if stage == "closing" else None,
        is_record=measure.is_record,
    )


def _closing_since(row: Row, outcome: Row | None) -> date:
    since: date = outcome["started_on"] if outcome else row["reference_on"]
    return since


def _without_a_plan(case: Case, plain: _Plain, settings: Settings) -> Block:
    for flag in case.flags:
        if flag["reason"] == "training":
            return plain("even", flag["measure"], flag["lower_side"], part=flag["part"])
    if any(flag["cause"] == "zero" for flag in case.flags):
        return plain("retest")
    if not case.found and (less := _less_work(case.work, settings)):
        return plain("even", None, less[1], part=less[0])
    if not case.found:
        return plain("record" if case.equal_loads else "untested")
    line = settings.review.retest_chance
    return plain("retest" if any(row["chance_over_line"] >= line for row in case.found) else "none")


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


def _mobility(row: Row, measures: Mapping[str, Measure]) -> Step:
    joint = measures[row["measure"]].joint
    return Step("mobility", joint, "lower only", 2, 10, None, None, per_week=3.0)
