"""What a meeting decided, in words: on the agenda, on page 1, and for the athlete it is about."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Rules
from pipeline.plan.block import Block
from pipeline.plan.fast_work import fast_work, region_of
from pipeline.report.text import words
from pipeline.report.text.phrases import say, say_of
from pipeline.review.week import Week
from schemas.plan_words import LogState, Plan, PlanReason
from schemas.vocabulary import Asked, Decision, Reason, Status

Row = Mapping[str, Any]
DECIDE_AFTER = 3  # meetings on the list without a decision


def what_was_decided(flag: Row, week: Week) -> list[str]:
    """What was decided, by whom, until when, with its note, and how far it has come."""
    if flag["decision"] is None:
        parts = []
        if flag["last_decision"] is not None:
            day = words.short_day(flag["last_decided_on"], week.as_of)
            parts.append(say("agenda.detail.ended", decision=flag["last_decision"], day=day))
        meetings = flag["weeks_open"] * 7 // week.settings.review.meeting_days
        if (
            flag["status"] == Status.OPEN
            and flag["reason"] != Reason.REFER
            and meetings >= DECIDE_AFTER
        ):
            parts.append(say("agenda.detail.decide"))
        return parts
    day = words.short_day(flag["decided_on"], week.as_of)
    told = {"decision": flag["decision"], "day": day}
    if flag["owner"]:
        parts = [say("agenda.detail.decided_owner", owner=words.cut(flag["owner"]), **told)]
    else:
        parts = [say("agenda.detail.decided", **told)]
    if flag["due_on"] is not None:
        until = words.short_day(flag["due_on"], week.as_of)
        parts.append(say("agenda.detail.until", day=until))
    if flag["also_decided"]:
        also = words.listed(list(flag["also_decided"]))
        parts.append(say("agenda.detail.also", decisions=also))
    if flag["decision_note"]:
        parts.append(say("agenda.detail.note", note=words.cut(flag["decision_note"])))
    if flag["decision"] == Decision.TRAIN and flag["is_in_force"]:
        parts += progress(flag, week)
    return parts


def progress(flag: Row, week: Week) -> list[str]:
    """Which week of a block it is, and how much of it the log tells was done."""
    for one in week.outcomes.filter(pl.col("flag_id") == flag["flag_id"]).iter_rows(named=True):
        weeks = max(1, (one["ends_on"] - one["started_on"]).days // 7)
        number = min(weeks, int(one["weeks_in"]) + 1)
        parts = [say("agenda.detail.week", number=number, weeks=weeks)]
        if one["log_state"] == LogState.COUNTED:
            planned = max(1, round(one["planned_sessions"]))
            parts.append(say("agenda.detail.done", done=one["done_sessions"], planned=planned))
        elif one["log_state"] == LogState.NO_LOG:
            parts.append(say("agenda.detail.not_logged"))
        return parts
    return []


def after_decision(flag: Row, block: Block, week: Week) -> str:
    """What the meeting does next about a flag that it has decided or tried to; blank for others."""
    asked = flag["asked"]
    if Asked.NOTE_DIFFERS in asked:
        return say("agenda.asked.note_differs", decision=flag["decision"] or flag["asked_said"])
    if Asked.UNREAD in asked:
        return say("agenda.asked.unread", said=words.cut(flag["asked_said"]))
    if Asked.ON_REFER in asked:
        return say("agenda.asked.on_refer", said=words.cut(flag["asked_said"]))
    if Asked.WHO_CLEARED in asked:
        return say("agenda.asked.who_cleared")
    if not flag["is_in_force"]:
        return ""
    decision = Decision(flag["decision"])
    day = words.short_day(flag["due_on"], week.as_of) if flag["due_on"] else ""
    if flag["status"] == Status.LATE:
        about = flag["measure"], flag["lower_side"]
        is_stopped = about in [(one["measure"], one["lower_side"]) for one in block.choice.ended]
        is_told = is_stopped or block.plan == Plan.DONE
        return "" if decision == Decision.TRAIN and is_told else _late(decision, flag, day, week)
    if decision == Decision.TRAIN:
        return ""  # the block says it
    if decision == Decision.CLEARED:
        step = int(flag["step"] or 1)
        return say("agenda.decided.cleared", step=step, what=_step_holds(step, flag, block, week),
                   up=say_of("agenda.return_up", str(step)))  # fmt: skip
    if decision in (Decision.REFER, Decision.SEEN):
        day = words.short_day(flag["decided_on"], week.as_of)
    return say_of("agenda.decided", decision, day=day)


def _step_holds(step: int, flag: Row, block: Block, week: Week) -> str:
    """What a step of the return holds; of the flag that the plan follows, as the plan holds it."""
    fast = block.choice.fast
    if block.because_of != flag["flag_id"]:
        region = region_of(flag, week.catalogue)
        fast = fast_work(step, region, flag["decision_note"], week.catalogue)
    what = say_of("agenda.return", str(step))
    return what if fast is None else f"{what} {say_of('agenda.fast', fast)}"


def _late(decision: Decision, flag: Row, day: str, week: Week) -> str:
    """The first time its date has passed it is put on; the second somebody asks why."""
    own = week.outcomes.filter(pl.col("flag_id") == flag["flag_id"])
    if decision == Decision.TRAIN and own["latest_d"].is_not_null().any():
        return say("agenda.past.tested", day=day)
    is_first = (week.as_of - flag["due_on"]).days <= week.settings.review.meeting_days
    if decision in (Decision.RETEST, Decision.TRAIN) and not is_first:
        return say("agenda.past.again", day=day)
    return say_of("agenda.late", decision, day=day)


def question(row: Row, name: str, test: str, rules: Rules) -> str:
    """One line of page 1 about something that was written in a decision sheet."""
    where = {"file": row["source_file"], "line": row["source_line"]}
    text = {"who": name, "test": test, "place": say("unread.place", **where)}
    if row["asked"] == Asked.NOTE_ALONE:
        if not row["note"]:
            return say("unread.no_decision", **text)
        return say("unread.decision.note_alone", note=words.cut(row["note"]), **text)
    if row["asked"] == Asked.DAY:
        return say("unread.decision.day", said=words.cut(row["review_said"]), **text)
    if row["asked"] == Asked.WHO_CLEARED:
        return say("unread.decision.who_cleared", **text)
    if row["asked"] == Asked.UNREAD:
        return say("unread.decision.unread", said=words.cut(row["said"]),
                   known=", ".join(rules.decisions), **text)  # fmt: skip
    return say_of("unread.decision", row["asked"], said=words.cut(row["said"]), **text)


def told_athlete(block: Block, contact: str, as_of: date) -> str:
    """What was decided, in the words the athlete reads; blank where nothing was.

    Words of staff go to staff only, and with a referral there is no figure.
    """
    choice, flag = block.choice, block.choice.flag
    day = words.day(choice.until) if choice.until is not None and choice.until >= as_of else ""
    if choice.plan == Plan.RETURN:
        return say("athlete.decided.cleared", step=choice.step)
    if choice.why == PlanReason.DECIDED:
        return say("athlete.decided.done")
    if flag is None or not flag["is_in_force"]:
        return ""
    decision = Decision(flag["decision"])
    if choice.plan == Plan.MEDICAL:
        is_seen = decision == Decision.SEEN
        return say("athlete.decided.seen" if is_seen else "athlete.decided.refer", contact=contact)
    if choice.plan == Plan.KEEP and decision == Decision.ACCEPT:
        return say("athlete.decided.accept")
    if choice.plan == Plan.WAIT:
        return say("athlete.decided.wait", day=day) if day else say("athlete.decided.wait_late")
    if choice.plan == Plan.RETEST:
        return say("athlete.decided.retest", day=day) if day else say("athlete.decided.late")
    if choice.plan == Plan.EVEN and flag["status"] == Status.LATE:
        return say("athlete.decided.even_late")
    return ""
