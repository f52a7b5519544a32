"""A flag as a point of the meeting: what somebody says aloud, since when, and what next."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.catalogue import Group, Measure
from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.plan.block import Block
from pipeline.report import balance, decided, words
from pipeline.report.phrases import say
from pipeline.review.stage import ended_with
from pipeline.review.week import Week

SURE = ("confirmed", "widening", "retest", "ratio")  # reasons that come with a chance


@dataclass(frozen=True)
class Point:
    """The texts of one flag."""

    test: str
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
    sentence = (
        _silent(flag, week)
        if _is_silent(flag, finding)
        else {
            "refer": _refer,
            "ratio": _ratio,
            "training": _training,
            "overdue": _overdue,
        }.get(reason, _difference)(flag, finding, week)
    )
    sure = ""
    if flag["chance_over_line"] is not None and reason in SURE:
        disagree = reason != "ratio" and finding is not None and finding["recent_disagree"]
        sure = words.sureness(words.spoken(flag["chance_over_line"], disagree))
        if disagree:
            sure = " ".join([sure, say("agenda.point.disagree")])
    return Point(
        name_of(flag["measure"], week),
        sentence,
        sure,
        _detail(flag, finding, athlete, week),
        _suggestion(flag, athlete, block, week),
    )


def _is_silent(flag: Mapping[str, Any], finding: Mapping[str, Any] | None) -> bool:
    """Whether nothing in the data says today what the flag is about."""
    is_difference = flag["reason"] in ("confirmed", "widening", "retest")
    return not flag["is_raised"] and not (is_difference and finding is not None)


def _silent(flag: Mapping[str, Any], week: Week) -> str:
    name = name_of(flag["measure"], week)
    if flag["reason"] == "training":
        name = words.capital(words.one_sided_work(flag["part"]))
    is_running = flag["is_in_force"]
    return say("agenda.point.silent" if is_running else "agenda.point.silent_asked", name=name)


def name_of(measure: str | None, week: Week) -> str:
    """The short name of a measure or exercise id, or the words themselves."""
    if measure is None:
        return ""
    if measure in week.catalogue.measures:
        return week.catalogue.measures[measure].short
    if measure in week.catalogue.exercises:
        return week.catalogue.exercises[measure].name
    if measure in week.catalogue.rules.signs:
        return words.capital(_sign(measure))
    return words.capital(measure.replace("_", " "))


def _sign(sign: str) -> str:
    """A sign of the practice rules that somebody wrote down, such as swelling."""
    return say(f"agenda.sign.{sign}")


def _difference(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    if flag["cause"] == "zero":
        zero = balance.zero_sentence(flag, week.catalogue.measures[flag["measure"]], week.as_of)
        return say("agenda.point.zero", zero=zero)
    if finding is None:
        return f"{name_of(flag['measure'], week)}."
    return balance.sentence(finding, week.catalogue.measures[flag["measure"]])


def _refer(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    name, day = name_of(flag["measure"], week), words.short_day(flag["cause_on"], week.as_of)
    if flag["cause"] == "pain":
        pain = _pain(flag["cause_value"], flag["lower_side"])
        return say("agenda.point.pain", name=name, pain=pain, day=day)
    if flag["cause"] == "words":
        return say("agenda.point.note", topic=_sign(flag["measure"]), day=day)
    text = _changed(flag, name, day)
    if flag["pain"] is None:
        return text
    pain_day = words.short_day(flag["pain_on"], week.as_of)
    pain = words.capital(_pain(flag["pain"], flag["pain_side"]))
    return " ".join([text, say("agenda.point.pain_beside", pain=pain, day=pain_day)])


def _pain(value: float, side: str | None) -> str:
    """`pain 8.5 of 10, left side`; of no side where it stood beside both."""
    pain = words.pain(value)
    if side is None:
        return say("agenda.point.pain_of", pain=pain)
    return say("agenda.point.pain_of_side", pain=pain, side=words.side_name(side))


def _changed(flag: Mapping[str, Any], name: str, day: str) -> str:
    """A measured change of one side, as of the day of its row."""
    side = words.side_name(flag["lower_side"])
    unit = "cm" if flag["cause"] in ("girth_loss", "girth_gain") else "%"
    changed = {
        "name": name, "side": side, "amount": words.amount(flag["cause_value"], unit), "day": day,
    }  # fmt: skip
    if flag["cause"] == "girth_gain":
        return say("agenda.point.girth_gain", **changed)
    other = words.side_name(words.other(flag["lower_side"]))
    if flag["cause"] == "both_loss":
        return say("agenda.point.both_loss", **changed)
    if flag["cause"] == "slow_loss":
        return say("agenda.point.slow_loss", other=other, **changed)
    is_girth = flag["cause"] == "girth_loss"
    return say(
        "agenda.point.girth_loss" if is_girth else "agenda.point.loss", other=other, **changed
    )


def _ratio(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    return say(
        "agenda.point.ratio",
        name=name_of(flag["measure"], week),
        side=words.side_name(flag["lower_side"]),
        value=words.figure(flag["estimate"], "ratio"),
        low=words.figure(flag["low90"], "ratio"),
        high=words.figure(flag["high90"], "ratio"),
        line=words.figure(flag["cause_value"], "ratio"),
    )


def _training(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    return say(
        "agenda.point.training",
        work=words.capital(words.one_sided_work(flag["part"])),
        side=words.side_name(flag["lower_side"]),
        amount=words.amount(abs(flag["estimate"]), "%"),
        other=words.side_name(words.other(flag["lower_side"])),
        weeks=words.count(week.settings.review.training_weeks, "week"),
    )


def _overdue(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    text = say(
        "agenda.point.overdue",
        name=name_of(flag["measure"], week),
        weeks=words.span(int(flag["cause_value"]) // 7),
    )
    others = [name_of(name, week) for name in (flag["cause_note"] or "").split(",") if name]
    if others:
        text = say("agenda.point.overdue_others", overdue=text, names=words.listed(others))
    return f"{text}."


def _detail(
    flag: Mapping[str, Any],
    finding: Mapping[str, Any] | None,
    athlete: Mapping[str, Any],
    week: Week,
) -> str:
    parts = []
    if flag["reason"] != "overdue":
        parts.append(words.since(flag["first_flagged_on"], flag["weeks_open"], week.as_of))
    if finding is not None and finding["measure_group"] == TRAINING_RECORD:
        parts.append(say("agenda.detail.record"))
    rules = week.catalogue.rules
    pain = flag["cause_value"] if flag["cause"] == "pain" else flag["pain"]
    if flag["reason"] == "refer" and pain is not None and pain < rules.pain_refer:
        parts.append(
            say("agenda.detail.young", age=rules.pain_under_age, pain=f"{rules.pain_note:g}")
        )
    if flag["reason"] == "refer" and flag["cause_note"]:
        parts.append(say("agenda.detail.noted", note=flag["cause_note"]))
    is_difference = flag["reason"] in ("confirmed", "widening", "retest")
    if is_difference and finding is not None and flag["cause"] is None:
        parts.append(_movement(finding, week.as_of))
        if balance.has_lead(finding):
            side = words.side_name("right" if finding["lead_d"] > 0 else "left")
            lead = words.amount(abs(finding["lead"]), finding["unit"])
            parts.append(say("agenda.detail.lead", lead=lead, side=side))
        if (finding["pain"] or 0) > 0:
            parts.append(say("agenda.detail.pain"))
    if flag["reason"] == "training" and flag["measure"]:
        parts.append(say("agenda.detail.by_test", name=name_of(flag["measure"], week)))
    elif flag["reason"] == "training":
        parts.append(say("agenda.detail.by_loads"))
    if athlete["known_difference"] and flag["reason"] != "overdue":
        parts.append(say("agenda.detail.known", known=words.cut(athlete["known_difference"])))
    parts += decided.details(flag, week)
    return words.capital(" · ".join(parts))


def _movement(finding: Mapping[str, Any], as_of: date) -> str:
    if finding["moved"] == "one_day":
        return say("agenda.detail.one_day")
    return say(
        "agenda.detail.movement",
        was=words.amount(abs(finding["reference_estimate"]), finding["unit"]),
        day=words.short_day(finding["reference_on"], as_of),
        moved=words.moved(finding["moved"], finding["moved_chance"]),
    )


def _suggestion(
    flag: Mapping[str, Any], athlete: Mapping[str, Any], block: Block, week: Week
) -> str:
    reason, side = flag["reason"], words.side_name(flag["lower_side"] or "both")
    measures = week.catalogue.measures
    if told := decided.suggestion(flag, block, week):
        return told
    if reason == "refer":
        if flag["urgency"] is None:
            return say("agenda.suggestion.medical")
        return say(f"agenda.suggestion.refer.{flag['urgency'].replace(' ', '_')}")
    if reason == "overdue":
        return say("agenda.suggestion.overdue")
    if block.plan == "medical":
        return say("agenda.suggestion.medical")
    if block.choice.why == "unmade":
        return say("agenda.suggestion.unmade")
    if block.choice.why == "under_age":
        return say("agenda.suggestion.under_age", age=week.catalogue.rules.pain_under_age)
    if block.choice.why == "availability":
        return say("agenda.suggestion.wait")
    if reason == "training":
        return say("agenda.suggestion.training", side=side)
    if reason == "retest":
        if flag["measure"] in measures and measures[flag["measure"]].is_record:
            return say("agenda.suggestion.record")
        if flag["measure"] == block.measure and block.steps:
            return say("agenda.suggestion.retest_block")
        return say("agenda.suggestion.retest")
    if flag["measure"] not in measures:
        return say("agenda.suggestion.watch")
    if not _group(measures[flag["measure"]], week).is_trained:
        return say("agenda.suggestion.untrained")
    if block.plan == "keep" or (athlete["known_difference"] and flag["measure"] != block.measure):
        return say("agenda.suggestion.known")
    if told := _of_ended(flag, block, week):
        return told
    if reason == "ratio":
        return say("agenda.suggestion.ratio", side=side, weeks=block.weeks)
    if flag["measure"] != block.measure and block.plan in ("train", "mobility"):
        is_covered = covers(block, measures[flag["measure"]], week)
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
    weeks = words.count(int(ended["weeks_in"]), "week")
    return say("agenda.suggestion.stop", weeks=weeks, retest=_retest(block, week.as_of))


def covers(block: Block, measure: Measure, week: Week) -> bool:
    """Whether the steps of a block train another measure, too."""
    group, exercises = _group(measure, week), week.catalogue.exercises
    if group.mobility:
        return any(step.exercise == group.mobility for step in block.steps)
    return any(
        step.part in ("jumps", "one_side", "isolation")
        and step.exercise in exercises
        and exercises[step.exercise].pattern in measure.patterns
        for step in block.steps
    )


def _group(measure: Measure, week: Week) -> Group:
    return week.catalogue.coaching.group_of(measure, week.catalogue.exercises)


def block_suggestion(block: Block, as_of: date) -> str:
    """The next block of an athlete in one line of the agenda."""
    side = words.side_name(block.lower_side or "both")
    retest = _retest(block, as_of)
    if block.plan == "train":
        if block.choice.stage == "closing":
            return say("agenda.suggestion.closing", side=side, retest=retest)
        if block.choice.stage == "catch_up":
            return say("agenda.suggestion.catch_up", retest=retest)
        if block.choice.stage == "widening":
            return say("agenda.suggestion.larger", retest=retest)
        if block.programme is not None and block.programme.has_extra:
            text = say("agenda.suggestion.extra", side=side, retest=retest)
        else:
            text = say("agenda.suggestion.no_extra", side=side, retest=retest)
        return words.capital(text)
    if block.plan == "mobility":
        return say("agenda.suggestion.mobility", side=side, retest=retest)
    return say("agenda.suggestion.done" if block.plan == "done" else "agenda.suggestion.watch")


def _retest(block: Block, as_of: date) -> str:
    if block.retest_on is None:
        return ""
    return say("agenda.suggestion.retest_on", day=words.short_day(block.retest_on, as_of))
