"""A flag as a point of the meeting: what somebody says aloud, since when, and what next."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.catalogue.entries import TRAINING_RECORD
from pipeline.plan.block import Block
from pipeline.report.sections import balance
from pipeline.report.text import decided, words
from pipeline.report.text.names import name_of, sign_name
from pipeline.report.text.phrases import say
from pipeline.report.text.suggestions import suggestion
from pipeline.review.differences.sureness import how_sure, spoken
from pipeline.review.week import Week
from schemas.vocabulary import Cause, Movement, Reason

SURE = ("confirmed", "widening", "retest", "ratio")  # reasons that come with a chance


@dataclass(frozen=True)
class Point:
    """The texts of one flag."""

    test: str
    sentence: str
    sureness: str
    sure_word: str  # of it the word alone
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
    sure = word = ""
    if flag["chance_over_line"] is not None and reason in SURE:
        disagree = reason != Reason.RATIO and finding is not None and finding["recent_disagree"]
        chance = flag["chance_over_line"]
        [said] = how_sure([chance], [disagree], week.settings.review)
        sure, word = words.sureness(said, spoken(chance, disagree)), words.sure_word(said)
        if disagree:
            sure = " ".join([sure, say("agenda.point.disagree")])
    return Point(
        name_of(flag["measure"], week),
        sentence,
        sure,
        word,
        _detail(flag, finding, athlete, week),
        suggestion(flag, athlete, block, week),
    )


def _is_silent(flag: Mapping[str, Any], finding: Mapping[str, Any] | None) -> bool:
    """Whether nothing in the data says today what the flag is about."""
    is_difference = flag["reason"] in (Reason.CONFIRMED, Reason.WIDENING, Reason.RETEST)
    return not flag["is_raised"] and not (is_difference and finding is not None)


def _silent(flag: Mapping[str, Any], week: Week) -> str:
    name = name_of(flag["measure"], week)
    if flag["reason"] == Reason.TRAINING:
        name = words.capital(words.one_sided_work(flag["part"]))
    is_running = flag["is_in_force"]
    return say("agenda.point.silent" if is_running else "agenda.point.silent_asked", name=name)


def _difference(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    if flag["cause"] == Cause.ZERO:
        zero = balance.zero_sentence(flag, week.catalogue.measures[flag["measure"]], week.as_of)
        return say("agenda.point.zero", zero=zero)
    if finding is None:
        return f"{name_of(flag['measure'], week)}."
    return balance.sentence(finding, week.catalogue.measures[flag["measure"]])


def _refer(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    name, day = name_of(flag["measure"], week), words.short_day(flag["cause_on"], week.as_of)
    if flag["cause"] == Cause.PAIN:
        pain = _pain(flag["cause_value"], flag["lower_side"])
        return say("agenda.point.pain", name=name, pain=pain, day=day)
    if flag["cause"] == Cause.WORDS:
        return say("agenda.point.note", topic=sign_name(flag["measure"]), day=day)
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
    unit = "cm" if flag["cause"] in (Cause.GIRTH_LOSS, Cause.GIRTH_GAIN) else "%"
    changed = {
        "name": name, "side": side, "amount": words.amount(flag["cause_value"], unit), "day": day,
    }  # fmt: skip
    if flag["cause"] == Cause.GIRTH_GAIN:
        return say("agenda.point.girth_gain", **changed)
    other = words.side_name(words.other(flag["lower_side"]))
    if flag["cause"] == Cause.BOTH_LOSS:
        return say("agenda.point.both_loss", **changed)
    if flag["cause"] == Cause.SLOW_LOSS:
        return say("agenda.point.slow_loss", other=other, **changed)
    is_girth = flag["cause"] == Cause.GIRTH_LOSS
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
        weeks=say("count.week", count=week.settings.review.training_weeks),
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
    if flag["reason"] != Reason.OVERDUE:
        parts.append(words.since(flag["first_flagged_on"], flag["weeks_open"], week.as_of))
    if finding is not None and finding["measure_group"] == TRAINING_RECORD:
        parts.append(say("agenda.detail.record"))
    rules = week.catalogue.rules
    pain = flag["cause_value"] if flag["cause"] == Cause.PAIN else flag["pain"]
    if flag["reason"] == Reason.REFER and pain is not None and pain < rules.pain_refer:
        parts.append(
            say("agenda.detail.young", age=rules.pain_under_age, pain=f"{rules.pain_note:g}")
        )
    if flag["reason"] == Reason.REFER and flag["cause_note"]:
        parts.append(say("agenda.detail.noted", note=flag["cause_note"]))
    is_difference = flag["reason"] in (Reason.CONFIRMED, Reason.WIDENING, Reason.RETEST)
    if is_difference and finding is not None and flag["cause"] is None:
        parts.append(_movement(finding, week.as_of))
        if balance.has_lead(finding):
            side = words.side_name("right" if finding["lead_d"] > 0 else "left")
            lead = words.amount(abs(finding["lead"]), finding["unit"])
            parts.append(say("agenda.detail.lead", lead=lead, side=side))
        if (finding["pain"] or 0) > 0:
            parts.append(say("agenda.detail.pain"))
    if flag["reason"] == Reason.TRAINING and flag["measure"]:
        parts.append(say("agenda.detail.by_test", name=name_of(flag["measure"], week)))
    elif flag["reason"] == Reason.TRAINING:
        parts.append(say("agenda.detail.by_loads"))
    if athlete["known_difference"] and flag["reason"] != Reason.OVERDUE:
        parts.append(say("agenda.detail.known", known=words.cut(athlete["known_difference"])))
    parts += decided.details(flag, week)
    return words.capital(" · ".join(parts))


def _movement(finding: Mapping[str, Any], as_of: date) -> str:
    if finding["moved"] == Movement.ONE_DAY:
        return say("agenda.detail.one_day")
    return say(
        "agenda.detail.movement",
        was=words.amount(abs(finding["reference_estimate"]), finding["unit"]),
        day=words.short_day(finding["reference_on"], as_of),
        moved=words.moved(finding["moved"], finding["moved_chance"]),
    )
