"""A flag as a point of the meeting: what somebody says aloud, since when, and what next."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.report import balance, words
from pipeline.review.block import Block
from pipeline.review.week import Week


@dataclass(frozen=True)
class Point:
    """The texts of one flag."""

    sentence: str
    sureness: str
    detail: str
    suggestion: str


def point(
    flag: Mapping[str, Any],
    finding: Mapping[str, Any] | None,
    athlete: Mapping[str, Any],
    block: Block,
    week: Week,
) -> Point:
    """The texts of one flag; `finding` is its measure's finding where there is one."""
    reason = flag["reason"]
    sentence = {
        "refer": _refer,
        "ratio": _ratio,
        "training": _training,
        "overdue": _overdue,
    }.get(reason, _difference)(flag, finding, week)
    sure = ""
    if reason in ("confirmed", "widening", "retest", "ratio"):
        sure = words.sureness(flag["chance_over_line"])
    return Point(
        sentence,
        sure,
        _detail(flag, finding, athlete, week),
        _suggestion(flag, athlete, block, week),
    )


def name_of(measure: str | None, week: Week) -> str:
    """The short name of a measure or exercise id, or the words themselves."""
    if measure is None:
        return ""
    if measure in week.catalogue.measures:
        return week.catalogue.measures[measure].short
    if measure in week.catalogue.exercises:
        return week.catalogue.exercises[measure].name
    text = measure.replace("_", " ")
    return text[:1].upper() + text[1:]


def _difference(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    if finding is None:
        return f"{name_of(flag['measure'], week)}."
    return balance.sentence(finding, week.catalogue.measures[flag["measure"]])


def _refer(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    name, side = name_of(flag["measure"], week), flag["lower_side"]
    if flag["cause"] == "pain":
        where = "" if side in (None, "both") else f", {side} side"
        return f"{name}: pain {flag['cause_value']:.0f} of 10{where}."
    if flag["cause"] == "loss":
        return (
            f"{name}: {side} side {words.amount(flag['cause_value'], '%')} below its own last "
            f"weeks; the {words.other(side)} side has not moved."
        )
    return f"A note asks for medical staff: {name.lower()}."


def _ratio(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    low, high = (words.figure(flag[end], "ratio") for end in ("low90", "high90"))
    return (
        f"{name_of(flag['measure'], week)}: {flag['lower_side']} "
        f"{words.figure(flag['estimate'], 'ratio')} ({low} to {high}), below "
        f"{words.figure(flag['cause_value'], 'ratio')}."
    )


def _training(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    weeks = week.settings.review.training_weeks
    region = "" if flag["region"] == "trunk" else "-body"
    return (
        f"One-sided {flag['region']}{region} work: the {flag['lower_side']} side did "
        f"{words.amount(abs(flag['estimate']), '%')} fewer repetitions than the "
        f"{words.other(flag['lower_side'])} in {words.count(weeks, 'week')}."
    )


def _overdue(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    weeks = int(flag["cause_value"]) // 7
    text = f"{name_of(flag['measure'], week)}: last test {words.count(weeks, 'week')} ago"
    if flag["cause"] == "review":
        text += ", after the date set for it"
    others = [name_of(name, week) for name in (flag["cause_note"] or "").split(",") if name]
    return text + (f"; also {words.listed(others)}." if others else ".")


def _detail(
    flag: Mapping[str, Any],
    finding: Mapping[str, Any] | None,
    athlete: Mapping[str, Any],
    week: Week,
) -> str:
    parts = []
    if flag["reason"] != "overdue":
        parts.append(words.since(flag["first_flagged_on"], flag["weeks_open"]))
    if finding is not None and finding["measure_group"] == TRAINING_RECORD:
        parts.append("training record, not a test")
    if flag["reason"] == "refer" and flag["cause_note"]:
        parts.append(f"noted: “{flag['cause_note']}”")
    if flag["reason"] in ("confirmed", "widening", "retest") and finding is not None:
        parts.append(_movement(finding))
        if balance.has_lead(finding):
            side = "right" if finding["lead_d"] > 0 else "left"
            lead = words.amount(abs(finding["lead"]), finding["unit"])
            parts.append(f"a lead of {lead} on the {side} is usual here")
        if (finding["pain"] or 0) > 0:
            parts.append("measured with pain")
    if flag["reason"] == "training":
        named = (
            f"lower side by {name_of(flag['measure'], week)}"
            if flag["measure"]
            else ("lower side by the loads in the log")
        )
        parts.append(named)
    if athlete["known_difference"] and flag["reason"] != "overdue":
        parts.append(f"known: {athlete['known_difference']}")
    if flag["decision"]:
        owner = f" ({flag['owner']})" if flag["owner"] else ""
        parts.append(f"decided: {flag['decision']}{owner}")
    return " · ".join(parts)


def _movement(finding: Mapping[str, Any]) -> str:
    if finding["chance_closing"] is None:
        return "one test day"
    was = words.amount(abs(finding["first_estimate"]), finding["unit"])
    return f"was {was}, {words.closing(finding['chance_closing'])}"


def _suggestion(
    flag: Mapping[str, Any], athlete: Mapping[str, Any], block: Block, week: Week
) -> str:
    reason, side = flag["reason"], flag["lower_side"]
    if reason == "refer":
        return "No maximal tests and no extra work until seen."
    if reason == "overdue":
        return "Put on the next test day."
    if block.kind == "medical":
        return "Medical staff first; no extra work for one side."
    if reason == "training":
        return f"Give the {side} side at least the other’s sets, {side} first."
    if reason == "retest":
        if flag["measure"] in week.catalogue.measures and (
            week.catalogue.measures[flag["measure"]].is_record
        ):
            return "From the training log: one test day would settle it."
        if flag["measure"] == block.measure and block.steps:
            return "Three trials each side on the next test day; until then the small block."
        return "Three trials each side on the next test day."
    if block.kind == "maintain" or (
        athlete["known_difference"] and flag["measure"] != block.measure
    ):
        return "Known difference: keep as is, compare with own history."
    if reason == "ratio":
        return f"Work both sides, {side} first; test again in {block.weeks} weeks."
    if flag["measure"] != block.measure and block.kind in ("train", "mobility"):
        return f"Covered by the block for {name_of(block.measure, week)}, or decide."
    return block_suggestion(block)


def block_suggestion(block: Block) -> str:
    """The next block of an athlete in one line of the agenda."""
    side = str(block.lower_side)
    retest = f"; retest {words.short_day(block.retest_on)}" if block.retest_on else ""
    if block.kind == "train":
        extra = "one extra set" if any(s.part == "extra" for s in block.steps) else "no extra yet"
        if block.stage == "closing":
            return f"Closing: go on as it is, equal work, {side} first{retest}."
        if block.stage == "catch_up":
            return f"The plan was hardly done: the same again before judging it{retest}."
        if block.stage == "widening":
            return f"Larger than at the start: go through the plan together{retest}."
        return f"{side.capitalize()} first, equal work, {extra}{retest}."
    if block.kind == "mobility":
        return f"Mobility {side}, 3 times a week{retest}."
    if block.kind == "stop":
        weeks = int((block.outcome or {"weeks_in": 8})["weeks_in"])
        return f"No change in {words.count(weeks, 'week')}: end the extra, decide together{retest}."
    if block.kind == "done":
        return "Back within its line: the extra ends, both sides alike."
    return "Watch; nothing to change in training."
