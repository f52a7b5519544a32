"""How the work was done and whether it helped, in a few plain lines for the athlete."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Doses, Measure
from pipeline.plan.block import Block
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.report.text.phrases import say
from schemas.catalogue_words import Scale
from schemas.plan_words import BlockVerdict, LogState, Plan, PlanReason
from schemas.vocabulary import Side

SHOWN_WEEKS = 4
LARGE_JUMP = 2.0  # in weekly ceilings: smaller rises are ordinary


def work_lines(
    habits: pl.DataFrame,
    outcomes: Sequence[Mapping[str, Any]],
    loads: Sequence[Mapping[str, Any]],
    block: Block,
    measures: Mapping[str, Measure],
    doses: Doses,
    as_of: date,
) -> list[str]:
    """Lines about the last four weeks and the running block; rows hold one athlete only."""
    if block.plan == Plan.MEDICAL or block.choice.why == PlanReason.UNTESTED:
        return []
    recent = habits.filter(pl.col("week_on") > as_of - timedelta(weeks=SHOWN_WEEKS))
    lines = [outcome_line(one, measures[one["measure"]], as_of) for one in outcomes]
    if block.lower_side is not None and block.plan in (Plan.TRAIN, Plan.EVEN, Plan.DONE, Plan.STOP):
        lines += _sides(recent, str(block.lower_side))
        lines += _order_and_tempo(recent, doses)
    lines += _jumps(recent, float(doses("weekly_increase", "max_share")), as_of)
    near = [one for one in loads if block.choice.part in (None, measures[one["measure"]].region)]
    if block.plan in (Plan.TRAIN, Plan.EVEN, Plan.NONE) and near:
        lines.append(equal_loads_line(near, measures))
    return lines


def outcome_line(outcome: Mapping[str, Any], measure: Measure, as_of: date) -> str:
    """What happened since a decision: the difference, how sure, each side, and what was done."""
    head = {"day": words.short_day(outcome["started_on"], as_of), "measure": measure.short}
    if outcome["latest_d"] is None:
        is_early = outcome["verdict"] == BlockVerdict.TOO_EARLY
        text = say("work.too_early" if is_early else "work.no_test", **head)
        return " ".join([text, *_extras(outcome)])
    text = say(
        "work.outcome",
        was=balance.size(outcome["observed_then_d"], measure),
        now=balance.size(outcome["latest_d"], measure),
        verdict=_verdict(outcome),
        **head,
    )
    expected = []
    if outcome["verdict"] == BlockVerdict.SMALLER:
        size = balance.size(outcome["expected_d"], measure)
        expected = [say("work.expected", expected=size)]
    return " ".join([text, *expected, *_each_side(outcome, measure), *_extras(outcome)])


def own_level_line(row: Mapping[str, Any], lower: str | None, measure: Measure) -> str:
    """Each side beside what it did before the date in the roster, and what that says."""
    first = lower if lower in (Side.LEFT, Side.RIGHT) else "left"
    second = words.other(first)
    text = say(
        "work.own_level",
        measure=measure.short,
        day=words.day(row["known_since"]),
        side=words.side_name(first),
        share=round(row[f"{first}_share"]),
        other=words.side_name(second),
        other_share=round(row[f"{second}_share"]),
    )
    return f"{text} {say('work.both_behind')}" if row["both_behind"] else text


def _verdict(outcome: Mapping[str, Any]) -> str:
    chance = outcome["chance_smaller"]
    if outcome["verdict"] == BlockVerdict.SMALLER:
        return say("work.smaller", chance=words.in_hundred(chance))
    if outcome["verdict"] == BlockVerdict.LARGER:
        return say("work.larger", chance=words.in_hundred(1 - chance))
    return say("work.unchanged")


def _each_side(outcome: Mapping[str, Any], measure: Measure) -> list[str]:
    lower = outcome["lower_side"]
    changes = [
        say("work.change", side=words.side_name(side), moved=_moved(outcome[name], measure))
        for side, name in ((lower, "lower_change"), (words.other(lower), "other_change"))
    ]
    texts = [say("work.each_side", changes=words.listed(changes))]
    fell, rose = outcome["other_change"], outcome["lower_change"]
    if outcome["verdict"] == BlockVerdict.SMALLER and fell < 0 and abs(fell) > abs(rose):
        texts.append(say("work.other_came_down", side=words.side_name(words.other(lower))))
    return texts


def _moved(change: float, measure: Measure) -> str:
    """`up 15 %`, `down 0.7 cm`, `as before`; a change is always up where it is better."""
    if measure.scale == Scale.LOG:
        size, unit = 100 * abs(change), "%"
    else:
        size, unit = abs(change), measure.difference_unit
    if words.is_zero(size, unit):
        return say("work.as_before")
    return say("work.up" if change > 0 else "work.down", amount=words.amount(size, unit))


def _extras(outcome: Mapping[str, Any]) -> list[str]:
    """What the log holds of the extra work, or that it holds nothing and so cannot tell."""
    if outcome["log_state"] == LogState.NOT_FOR_A_LOG:
        return []
    planned = max(1, round(outcome["planned_sessions"]))
    if outcome["log_state"] == LogState.NO_LOG:
        return [say("work.no_log", planned=say("count.session", count=planned))]
    told = {"done": say("count.session", count=outcome["done_sessions"]), "planned": planned}
    weeks, extras = outcome["logged_weeks"], round(outcome["planned_extras"])
    if weeks > _weeks_so_far(outcome) - 1:
        lines = [say("work.sessions", **told)]
    else:
        lines = [
            say("work.sessions_logged", weeks=say("count.week", count=max(1, round(weeks))), **told)
        ]
    if extras:
        lines.append(say("work.extras", done=outcome["done_extras"], planned=extras))
    return lines


def _weeks_so_far(outcome: Mapping[str, Any]) -> float:
    length = (outcome["ends_on"] - outcome["started_on"]).days / 7
    return float(min(length, outcome["weeks_in"]))


def _sides(recent: pl.DataFrame, lower: str) -> list[str]:
    total, lines = _sums(recent), []
    if total["lower_session_count"] == 0:
        return []
    side, other = words.side_name(lower), words.side_name(words.other(lower))

    def of_sessions(name: str) -> str:
        sessions = say("count.session", count=total["lower_session_count"])
        return say("work.of_sessions", number=total[name], sessions=sessions)

    if total["extra_session_count"]:
        is_at_end = total["extra_at_end_count"] == total["extra_session_count"]
        lines.append(
            say(
                "work.extra_sets_at_end" if is_at_end else "work.extra_sets",
                side=side,
                of_sessions=of_sessions("extra_session_count"),
            )
        )
    if total["other_more_count"]:
        of = of_sessions("other_more_count")
        lines.append(say("work.other_more", side=other, of_sessions=of))
    if total["side_order_count"]:
        exercises = say("count.exercise", count=total["side_order_count"])
        first = total["lower_first_count"]
        lines.append(say("work.lower_first", side=side, number=first, exercises=exercises))
    return lines


def _order_and_tempo(recent: pl.DataFrame, doses: Doses) -> list[str]:
    total, lines = _sums(recent), []
    if total["order_count"]:
        sessions = say("count.session", count=total["order_count"])
        lines.append(say("work.order", number=total["order_kept_count"], sessions=sessions))
    if total["tempo_set_count"]:
        seconds, slow = int(doses("controlled_lowering", "seconds")), total["slow_set_count"]
        if slow == 0:
            return [*lines, say("work.quicker", seconds=seconds)]
        sets = say("count.set", count=total["tempo_set_count"])
        lines.append(say("work.slow", seconds=seconds, number=slow, sets=sets))
    return lines


def _jumps(recent: pl.DataFrame, share: float, as_of: date) -> list[str]:
    lines = []
    for side in (Side.LEFT, Side.RIGHT):
        high = recent.drop_nulls(f"{side}_jump").sort(f"{side}_jump", descending=True)
        if high.is_empty() or high[f"{side}_jump"][0] <= LARGE_JUMP * share:
            continue
        lines.append(
            say(
                "work.jump",
                day=words.short_day(high["week_on"][0], as_of),
                side=words.side_name(side),
                rise=words.amount(100 * high[f"{side}_jump"][0], "%"),
            )
        )
    return lines[:1]


def equal_loads_line(loads: Sequence[Mapping[str, Any]], measures: Mapping[str, Measure]) -> str:
    """Equality by prescription, said in so many words."""
    names = [measures[one["measure"]].short.removesuffix(", log") for one in loads][:3]
    return say("work.equal_loads", names=words.listed(names))


def _sums(recent: pl.DataFrame) -> dict[str, int]:
    counts = [name for name in recent.columns if name.endswith("_count")]
    return recent.select(pl.col(counts).sum()).row(0, named=True)
