"""What each athlete does next: one `Plan`, chosen here and nowhere else.

What follows from it, sessions and cards and sheets, is built from the `Choice` alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Catalogue, Doses, Measure
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.plan.case import Case, Choice, Row
from pipeline.plan.fast_work import fast_work, region_of
from pipeline.plan.leave import trains
from pipeline.review.decisions.standing import is_under
from pipeline.review.differences.stories import Story, story_of
from pipeline.review.training.stage import (
    ended_with,
    hardly_done,
    latest_outcome,
    stage_of,
    without_change,
)
from pipeline.settings import Settings
from schemas.plan_words import Plan, PlanReason, Stage
from schemas.vocabulary import (
    Asked,
    Availability,
    Decision,
    MeasureGroup,
    Reason,
    Side,
    Status,
    Turn,
    Verdict,
)

__all__ = ["Case", "Choice", "asks_for_staff", "can_train", "choose", "is_medical", "limited"]


def choose(case: Case, catalogue: Catalogue, as_of: date, settings: Settings) -> Choice:
    """The plan of one athlete at the as-of date: the first of `Plan` that applies."""
    chooser = _Chooser(case, catalogue, as_of, Doses(catalogue.rules.plan, settings.plan))
    choices = [choice for flag in case.flags if (choice := chooser.of_flag(flag)) is not None]
    choices += chooser.of_closed()
    returns = [choice for choice in choices if choice.plan == Plan.RETURN]
    if limited(case) and (case.athlete["availability"] == Availability.OUT or not returns):
        choices.insert(0, Choice(Plan.MEDICAL))
    first = chooser.first(choices)
    is_settled = first is not None and first.plan in (Plan.MEDICAL, Plan.RETURN)
    if case.athlete["availability"] == Availability.UNCLEAR and not is_settled:
        return Choice(Plan.WAIT, why=PlanReason.AVAILABILITY)
    return first or _without_flags(case, settings)


def asks_for_staff(case: Case) -> bool:
    """Whether medical staff come before any plan: a flag refers, or limits are known."""
    return limited(case) or any(is_medical(flag) for flag in case.flags)


def limited(case: Case) -> bool:
    """Whether the roster says that the athlete trains with limits or not at all."""
    return case.athlete["availability"] in (Availability.MODIFIED, Availability.OUT)


def is_medical(flag: Row) -> bool:
    """Whether a flag is for medical staff and nobody named has cleared it."""
    return flag["status"] == Status.WITH_MEDICAL or flag["turn"] == Turn.REFER


@dataclass(frozen=True)
class _Chooser:
    """The plan that each flag of one athlete asks for."""

    case: Case
    book: Catalogue
    as_of: date
    doses: Doses

    def first(self, choices: Sequence[Choice]) -> Choice | None:
        """The first that applies; of equal plans one that runs, then the surest test."""
        if not choices:
            return None
        best = min(choices, key=lambda one: (list(Plan).index(one.plan), self._rank(one)))
        if best.plan in (Plan.TRAIN, Plan.STOP, Plan.MOBILITY):
            own = (best.outcome,) if best.plan == Plan.STOP and best.outcome is not None else ()
            best = replace(best, ended=self._ended() or own)
        ranges = [one for one in choices if one.plan == Plan.MOBILITY]
        if best.plan == Plan.TRAIN and ranges:
            best = replace(best, stretch=min(ranges, key=self._rank).flag)
        return best

    def of_flag(self, flag: Row) -> Choice | None:
        """What one flag asks for; None where it asks for nothing."""
        if is_medical(flag):
            return self._about(Plan.MEDICAL, flag)
        if Asked.NOTE_DIFFERS in flag["asked"]:  # what was decided does not start
            return self._about(Plan.WAIT, flag)
        if flag["is_in_force"]:
            return self._decided(flag)
        # What no data raise is listed for a question alone.
        return self._suggested(flag) if flag["is_raised"] else None

    def of_closed(self) -> list[Choice]:
        """What was decided as done in the weeks of a block before today."""
        since = self.as_of - timedelta(weeks=self._weeks)
        return [
            Choice(Plan.DONE, measure=one["measure"], why=PlanReason.DECIDED)
            for one in self.case.closed
            if one["decided_on"] >= since
        ]

    @property
    def _weeks(self) -> int:
        return int(self.doses("length", "weeks"))

    def _decided(self, flag: Row) -> Choice:
        """What a decision in force asks for: the table of decisions says so."""
        ruling = self.book.rules.decisions[Decision(flag["decision"])]
        if ruling.plan == Plan.RETURN:
            step, limits = flag["step"] or 1, flag["decision_note"]
            region, hurts = region_of(flag, self.book), bool(self.case.who.hurt)
            fast = fast_work(step, region, limits, self.book, hurts=hurts)
            return self._about(Plan.RETURN, flag, step=step, limits=limits, fast=fast, part=region)
        plan: Plan = ruling.plan
        if flag["status"] == Status.LATE and flag["due_on"] is not None:
            over = flag["due_on"] + timedelta(weeks=ruling.grace_weeks)
            plan = ruling.after if over < self.as_of else plan
        if ruling.plan == Plan.TRAIN:
            return self._trained(flag, is_over=plan != Plan.TRAIN)
        return self._about(plan, flag)

    def _suggested(self, flag: Row) -> Choice | None:
        """What the data ask for while nobody has decided."""
        if flag["reason"] == Reason.TRAINING:
            return self._about(Plan.EVEN, flag, part=flag["part"])
        if flag["reason"] in (Reason.RETEST, Reason.OVERDUE):
            story = self._story(flag) if flag["reason"] == Reason.RETEST else None
            is_one = story is None or story.is_one
            return self._about(
                Plan.RETEST, flag, why=PlanReason.FLAG if is_one else PlanReason.DIFFER
            )
        structure = self._structure(flag)
        if structure is not None:
            return self._about(Plan.KEEP, flag, handling=structure or None, why=PlanReason.KNOWN)
        finding = next((row for row in self.case.found if row["measure"] == flag["measure"]), None)
        if finding is not None and not trains(finding, self.case.found, self.book):
            return self._about(Plan.RETEST, flag)
        if (story := self._story(flag)) is not None and not story.is_one:
            return self._about(Plan.RETEST, flag, why=PlanReason.DIFFER)
        choice = self._trained(flag, is_over=False)
        adds = choice.plan in (Plan.TRAIN, Plan.MOBILITY)
        age = self.book.rules.pain_under_age
        if adds and is_under(self.case.athlete["birth_date"], age, self.as_of):
            return self._about(Plan.WAIT, flag, why=PlanReason.UNDER_AGE)
        return choice

    def _trained(self, flag: Row, *, is_over: bool) -> Choice:
        """Training of what a flag is about, as far as there is anything to train and a side."""
        if flag["reason"] == Reason.TRAINING:
            return self._about(Plan.EVEN, flag, part=flag["part"])
        measure = self.book.measures.get(flag["measure"] or "")
        if measure is None or not can_train(measure, self.book):
            return self._about(Plan.NONE, flag)
        own = {one["flag_id"]: one for one in self.case.outcomes}.get(flag["flag_id"])
        finding = next((row for row in self.case.found if row["measure"] == measure.id), None)
        lower = self._lower_side(flag, finding, own)
        if lower is None:
            return self._about(Plan.EVEN, flag, part=measure.region)
        about = self._about(Plan.TRAIN, flag, lower_side=lower, part=measure.region)
        if own is not None and own["clear_days"] >= self.doses("stop", "days"):
            return replace(about, plan=Plan.DONE, outcome=own)
        row = {**(finding or {}), "measure": measure.id, "lower_side": lower}
        outcome = latest_outcome(row, self.case.outcomes) if finding is not None else own
        stage = self._stage(row, outcome) if finding is not None else Stage.NEW
        ended = ended_with(measure.id, lower, self._ended(), self.book.measures)
        if stage == Stage.STOP or (ended is not None and not flag["is_in_force"]):
            return replace(about, plan=Plan.STOP, stage=Stage.STOP, outcome=ended or outcome)
        if is_over and not (stage == Stage.CATCH_UP and self._is_soon_after(flag)):
            return replace(about, plan=Plan.EVEN)
        is_range = bool(self.book.coaching.group_of(measure, self.book.exercises).mobility)
        return replace(
            about, plan=Plan.MOBILITY if is_range else Plan.TRAIN, stage=stage, outcome=outcome,
            stretch=flag if is_range else None,
        )  # fmt: skip

    def _is_soon_after(self, flag: Row) -> bool:
        """A plan that was hardly done gets its weeks once more."""
        return bool(flag["due_on"] + timedelta(weeks=self._weeks) >= self.as_of)

    def _lower_side(self, flag: Row, finding: Row | None, outcome: Row | None) -> str | None:
        rows = (flag, outcome or {}, finding or {})
        sides = (row.get("lower_side") for row in rows)
        return next((str(side) for side in sides if side in (Side.LEFT, Side.RIGHT)), None)

    def _stage(self, row: Row, outcome: Row | None) -> Stage:
        measure = self.book.measures[row["measure"]]
        is_little = hardly_done(
            measure, row["lower_side"], self.case.outcomes, self.book, self.doses
        )
        return Stage.CATCH_UP if is_little else stage_of(row, outcome, self.doses)

    def _ended(self) -> tuple[Row, ...]:
        """The blocks whose extra work ends, since nothing has changed."""
        return without_change(self.case.found, self.case.outcomes, self.doses)

    def _structure(self, flag: Row) -> str | None:
        """How a known difference that accounts for a flag is handled; None where none does."""
        known, measure = self.case.athlete["known_difference"], flag["measure"] or ""
        if known is None or measure not in self.book.measures:
            return None
        structure = self.book.rules.structure(known)
        if structure is None:
            return ""
        region = self.book.measures[measure].region
        return structure.handling if region in structure.regions else None

    def _story(self, flag: Row) -> Story | None:
        return story_of(self.case.stories, flag["measure"])

    def _about(self, plan: Plan, flag: Row, **more: Any) -> Choice:
        is_test = flag["measure"] in self.book.measures
        about = {
            "measure": flag["measure"] if is_test else None,
            "lower_side": flag["lower_side"],
            "until": flag["due_on"],
            **more,
        }
        if plan in (Plan.TRAIN, Plan.MOBILITY, Plan.RETEST):
            about["story"] = self._story(flag)
        return Choice(plan, flag=flag, **about)

    def _rank(self, choice: Choice) -> tuple[Any, ...]:
        """One that was decided first, a test before a record, what a side can do before size."""
        flag = choice.flag
        if flag is None:
            return (True, False, False, 0.0, "")
        if choice.plan == Plan.RETURN:  # of several the earliest step: none is skipped
            return (False, False, False, float(choice.step), flag["flag_id"])
        measure = self.book.measures.get(flag["measure"] or "")
        group = "" if measure is None else measure.group
        chance = flag["chance_over_line"] or 0.0
        is_decided = flag["is_in_force"]
        if choice.plan not in (Plan.TRAIN, Plan.MOBILITY, Plan.KEEP):
            place = [one["flag_id"] for one in self.case.flags].index(flag["flag_id"])
            return (not is_decided, False, False, float(place), "")
        return (not is_decided, group == TRAINING_RECORD, group == MeasureGroup.SIZE, -chance,
                flag["flag_id"])  # fmt: skip


def can_train(measure: Measure, book: Catalogue) -> bool:
    """Whether any work changes a measure."""
    return book.coaching.group_of(measure, book.exercises).is_trained


def _without_flags(case: Case, settings: Settings) -> Choice:
    """What is said to somebody about whom nothing stands on the list."""
    if case.found:
        return _second_day(case.found) or Choice(Plan.NONE)
    if less := _less_work(case.work, settings):
        return Choice(Plan.EVEN, lower_side=less[1], part=less[0])
    return Choice(Plan.NONE, why=PlanReason.RECORD if case.equal_loads else PlanReason.UNTESTED)


def _second_day(found: Sequence[Row]) -> Choice | None:
    """Another test where the only day showed more than the line, however little one day tells."""
    large = [
        row
        for row in found
        if row["verdict"] == Verdict.ONE_SESSION
        and abs(row["observed"] - row["lead"]) >= row["review_line"]
    ]
    if not large:
        return None
    most = max(
        large,
        key=lambda row: (abs(row["observed"] - row["lead"]) / row["review_line"], row["measure"]),
    )
    lower = "left" if most["observed"] > most["lead"] else "right"
    return Choice(Plan.RETEST, measure=most["measure"], lower_side=lower)


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
