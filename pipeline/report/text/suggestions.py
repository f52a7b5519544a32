"""What a meeting does next about a flag, in one line."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from pipeline.catalogue import Group, Measure
from pipeline.plan.block import Block
from pipeline.report.text import decided, words
from pipeline.report.text.names import name_of
from pipeline.report.text.phrases import say, say_of
from pipeline.review.differences.stories import story_of
from pipeline.review.training.stage import ended_with
from pipeline.review.week import Week
from schemas.plan_words import Plan, PlanReason, Stage, StepPart
from schemas.vocabulary import Reason, Urgency, WorkedSide

DAYS_UNTIL_SEEN = {Urgency.TWO_DAYS: 2, Urgency.THIS_WEEK: 7}


def suggestion(
    flag: Mapping[str, Any], athlete: Mapping[str, Any], block: Block, week: Week
) -> str:
    """What the meeting is told to do next; what it decided itself comes first."""
    reason, side = flag["reason"], words.side_name(flag["lower_side"] or WorkedSide.BOTH)
    measures = week.catalogue.measures
    if told := decided.after_decision(flag, block, week):
        return told
    if reason == Reason.REFER:
        if flag["urgency"] is None:
            return say("agenda.suggestion.medical")
        days = DAYS_UNTIL_SEEN.get(flag["urgency"])
        if days is not None and flag["sign_on"] + timedelta(days=days) < week.as_of:
            day = words.short_day(flag["sign_on"], week.as_of)
            return say("agenda.suggestion.refer_passed", day=day)
        return say_of("agenda.suggestion.refer", flag["urgency"])
    if block.plan == Plan.MEDICAL:
        return say("agenda.suggestion.medical")
    tested_from = week.catalogue.test_day.most_effort.returning_step
    if block.plan == Plan.RETURN and block.choice.step < tested_from:
        return say("agenda.suggestion.returning", step=tested_from)
    if reason == Reason.OVERDUE:
        return say("agenda.suggestion.overdue")
    if block.choice.why == PlanReason.UNMADE:
        return say("agenda.suggestion.unmade")
    if block.choice.why == PlanReason.UNDER_AGE:
        return say("agenda.suggestion.under_age", age=week.catalogue.rules.pain_under_age)
    if block.choice.why == PlanReason.AVAILABILITY:
        return say("agenda.suggestion.wait")
    if reason == Reason.TRAINING:
        return say("agenda.suggestion.training", side=side)
    if block.plan == Plan.DONE and flag["measure"] == block.measure and reason != Reason.RETEST:
        return block_suggestion(block, week.as_of)
    story = story_of(week.stories.get(athlete["athlete_id"], ()), flag["measure"])
    if story is not None and not story.is_one and reason != Reason.RATIO:
        return say("agenda.suggestion.differ")
    if reason == Reason.RETEST:
        if flag["measure"] in measures and measures[flag["measure"]].is_record:
            return say("agenda.suggestion.record")
        if flag["measure"] == block.measure and block.steps:
            return say("agenda.suggestion.retest_block")
        if flag["measure"] == block.measure and block.plan in (Plan.DONE, Plan.STOP):
            return say("agenda.suggestion.retest_ended")
        return say("agenda.suggestion.retest")
    if flag["measure"] not in measures:
        return say("agenda.suggestion.watch")
    if not _group(measures[flag["measure"]], week).is_trained:
        return say("agenda.suggestion.untrained")
    if block.plan == Plan.KEEP or (
        athlete["known_difference"] and flag["measure"] != block.measure
    ):
        return say("agenda.suggestion.known")
    if told := _of_ended(flag, block, week):
        return told
    if reason == Reason.RATIO:
        return say("agenda.suggestion.ratio", side=side, weeks=block.weeks)
    if flag["measure"] != block.measure and block.plan in (Plan.TRAIN, Plan.MOBILITY):
        plan_story = block.choice.story
        is_covered = covers(block, measures[flag["measure"]], week) or (
            plan_story is not None and plan_story.holds(flag["measure"])
        )
        return say(
            "agenda.suggestion.covered" if is_covered else "agenda.suggestion.beside",
            name=name_of(block.measure, week),
        )
    return block_suggestion(block, week.as_of)


def _of_ended(flag: Mapping[str, Any], block: Block, week: Week) -> str:
    """What to do about a difference whose extra work ends without change, or one trained alike."""
    measures, measure = week.catalogue.measures, flag["measure"]
    ended = ended_with(measure, flag["lower_side"], block.choice.ended, measures)
    if ended is None:
        return ""
    if ended["measure"] != measure:
        return say("agenda.suggestion.as_ended", name=measures[ended["measure"]].short)
    weeks = say("count.week", count=int(ended["weeks_in"]))
    return say("agenda.suggestion.stop", weeks=weeks, retest=_retest(block, week.as_of))


def covers(block: Block, measure: Measure, week: Week) -> bool:
    """Whether the steps of a block train another measure, too."""
    group, exercises = _group(measure, week), week.catalogue.exercises
    if group.mobility:
        return any(step.exercise == group.mobility for step in block.steps)
    return any(
        step.part in (StepPart.JUMPS, StepPart.ONE_SIDE, StepPart.ISOLATION)
        and step.exercise in exercises
        and exercises[step.exercise].pattern in measure.patterns
        for step in block.steps
    )


def _group(measure: Measure, week: Week) -> Group:
    return week.catalogue.coaching.group_of(measure, week.catalogue.exercises)


def block_suggestion(block: Block, as_of: date) -> str:
    """The next block of an athlete in one line of the agenda."""
    side = words.side_name(block.lower_side or WorkedSide.BOTH)
    retest = _retest(block, as_of)
    if block.plan == Plan.TRAIN:
        if block.choice.stage == Stage.CLOSING:
            return say("agenda.suggestion.closing", side=side, retest=retest)
        if block.choice.stage == Stage.CATCH_UP:
            return say("agenda.suggestion.catch_up", retest=retest)
        if block.choice.stage == Stage.WIDENING:
            return say("agenda.suggestion.larger", retest=retest)
        if block.programme is not None and block.programme.has_extra:
            text = say("agenda.suggestion.extra", side=side, retest=retest)
        else:
            text = say("agenda.suggestion.no_extra", side=side, retest=retest)
        return words.capital(text)
    if block.plan == Plan.MOBILITY:
        return say("agenda.suggestion.mobility", side=side, retest=retest)
    return say("agenda.suggestion.done" if block.plan == Plan.DONE else "agenda.suggestion.watch")


def _retest(block: Block, as_of: date) -> str:
    if block.retest_on is None:
        return ""
    return say("agenda.suggestion.retest_on", day=words.short_day(block.retest_on, as_of))
