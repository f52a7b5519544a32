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
from schemas.vocabulary import Fall, FlagKind, GirthChange, Movement, Reason

SURE = (
    Reason.CONFIRMED,
    Reason.WIDENING,
    Reason.RETEST,
    Reason.RATIO,
)  # reasons that come with a chance


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
    own = week.details.get((flag["kind"], flag["athlete_id"], flag["topic"]), {})
    sentence = (
        _silent(flag, week)
        if _is_silent(flag, finding)
        else SENTENCES.get(flag["kind"], _difference)({**flag, **own}, finding, week)
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
        name_of(flag["subject"], week),
        sentence,
        sure,
        word,
        _detail(flag, own, finding, athlete, week),
        suggestion(flag, athlete, block, week),
    )


def _is_silent(flag: Mapping[str, Any], finding: Mapping[str, Any] | None) -> bool:
    """Whether nothing in the data says today what the flag is about."""
    is_difference = flag["reason"] in (Reason.CONFIRMED, Reason.WIDENING, Reason.RETEST)
    return not flag["is_raised"] and not (is_difference and finding is not None)


def _silent(flag: Mapping[str, Any], week: Week) -> str:
    name = name_of(flag["subject"], week)
    if flag["reason"] == Reason.TRAINING:
        name = words.capital(words.one_sided_work(flag["part"]))
    is_running = flag["is_in_force"]
    return say("agenda.point.silent" if is_running else "agenda.point.silent_asked", name=name)


def _difference(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    if finding is None:
        return f"{name_of(flag['measure'], week)}."
    return balance.sentence(finding, week.catalogue.measures[flag["measure"]])


def _zero(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    zero = balance.zero_sentence(flag, week.catalogue.measures[flag["measure"]], week.as_of)
    return say("agenda.point.zero", zero=zero)


def _pain(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    name, day = name_of(flag["topic"], week), words.short_day(flag["noted_on"], week.as_of)
    return say("agenda.point.pain", name=name, pain=_of_ten(flag), day=day)


def _of_ten(pain: Mapping[str, Any]) -> str:
    """`pain 8.5 of 10, left side`; of no side where it stood beside both."""
    level = words.pain(pain["pain_level"])
    if pain["side"] is None:
        return say("agenda.point.pain_of", pain=level)
    return say("agenda.point.pain_of_side", pain=level, side=words.side_name(pain["side"]))


def _note(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    day = words.short_day(flag["noted_on"], week.as_of)
    return say("agenda.point.note", topic=sign_name(flag["sign"]), day=day)


def _written(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    told = _pain if flag["sign"] is None else _note
    return told({**flag, "side": None}, finding, week)


def _fall(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    changed, other = _changed(flag, words.amount(flag["lost_percent"], "%"), week)
    if flag["fall"] == Fall.BOTH_LOSS:
        text = say("agenda.point.both_loss", **changed)
    elif flag["fall"] == Fall.SLOW_LOSS:
        text = say("agenda.point.slow_loss", other=other, **changed)
    else:
        text = say("agenda.point.loss", other=other, **changed)
    return _with_pain(text, flag, week)


def _girth(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    changed, other = _changed(flag, words.amount(flag["change_cm"], "cm"), week)
    if flag["change"] == GirthChange.GAIN:
        return _with_pain(say("agenda.point.girth_gain", **changed), flag, week)
    return _with_pain(say("agenda.point.girth_loss", other=other, **changed), flag, week)


def _changed(flag: Mapping[str, Any], amount: str, week: Week) -> tuple[dict[str, str], str]:
    """What is said of a measured change of one side, as of the day of its row; the other side."""
    side = flag["lower_side"]
    return {
        "name": name_of(flag["measure"], week),
        "side": words.side_name(side),
        "amount": amount,
        "day": words.short_day(flag["tested_on"], week.as_of),
    }, words.side_name(words.other(side))


def _with_pain(text: str, flag: Mapping[str, Any], week: Week) -> str:
    """A measured change, and the pain that was noted beside it."""
    pain = _pain_beside(flag, week)
    if pain is None:
        return text
    day = words.short_day(pain["noted_on"], week.as_of)
    beside = say("agenda.point.pain_beside", pain=words.capital(_of_ten(pain)), day=day)
    return f"{text} {beside}"


def _pain_beside(flag: Mapping[str, Any], week: Week) -> Mapping[str, Any] | None:
    """The pain that was noted about what a flag for medical staff is about."""
    return week.details.get((FlagKind.PAIN, flag["athlete_id"], flag["topic"]))


def _ratio(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    return say(
        "agenda.point.ratio",
        name=name_of(flag["measure"], week),
        side=words.side_name(flag["lower_side"]),
        value=words.figure(flag["level"], "ratio"),
        low=words.figure(flag["low90"], "ratio"),
        high=words.figure(flag["high90"], "ratio"),
        line=words.figure(flag["line"], "ratio"),
    )


def _work(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    return say(
        "agenda.point.training",
        work=words.capital(words.one_sided_work(flag["part"])),
        side=words.side_name(flag["lower_side"]),
        amount=words.amount(flag["less_percent"], "%"),
        other=words.side_name(words.other(flag["lower_side"])),
        weeks=say("count.week", count=week.settings.review.training_weeks),
    )


def _overdue(flag: Mapping[str, Any], finding: Mapping[str, Any] | None, week: Week) -> str:
    text = say(
        "agenda.point.overdue",
        name=name_of(flag["measure"], week),
        weeks=words.span(flag["waiting_days"] // 7),
    )
    others = [name_of(name, week) for name in flag["other_measures"]]
    if others:
        text = say("agenda.point.overdue_others", overdue=text, names=words.listed(others))
    return f"{text}."


# By kind of flag; a difference and what stands without data are told by their finding.
SENTENCES = {
    FlagKind.PAIN: _pain, FlagKind.FALL: _fall, FlagKind.GIRTH: _girth, FlagKind.NOTE: _note,
    FlagKind.WRITTEN: _written, FlagKind.RATIO: _ratio, FlagKind.ZERO: _zero,
    FlagKind.WORK: _work, FlagKind.OVERDUE: _overdue,
}  # fmt: skip


def _detail(
    flag: Mapping[str, Any],
    own: Mapping[str, Any],
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
    noted = own if flag["kind"] == FlagKind.WRITTEN else _pain_beside(flag, week) or {}
    pain = noted.get("pain_level")
    if flag["reason"] == Reason.REFER and pain is not None and pain < rules.pain_refer:
        parts.append(
            say("agenda.detail.young", age=rules.pain_under_age, pain=f"{rules.pain_note:g}")
        )
    if flag["reason"] == Reason.REFER and flag["note"]:
        parts.append(say("agenda.detail.noted", note=flag["note"]))
    is_difference = flag["reason"] in (Reason.CONFIRMED, Reason.WIDENING, Reason.RETEST)
    if is_difference and finding is not None and flag["kind"] != FlagKind.ZERO:
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
    parts += decided.what_was_decided(flag, week)
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
