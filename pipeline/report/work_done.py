"""How the work was done and whether it helped, in a few plain lines for the athlete."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import polars as pl

from pipeline.catalogue import Doses, Measure
from pipeline.estimate.scales import shown
from pipeline.report import words
from pipeline.review.block import Block

SHOWN_WEEKS = 4
LARGE_JUMP = 2.0  # in weekly ceilings: smaller rises are ordinary
SILENT = ("medical", "untested")


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
    if block.kind in SILENT:
        return []
    recent = habits.filter(pl.col("week_on") > as_of - timedelta(weeks=SHOWN_WEEKS))
    lines = [outcome_line(one, measures[one["measure"]]) for one in outcomes]
    if block.lower_side is not None and block.kind in ("train", "even", "done", "stop"):
        lines += _sides(recent, str(block.lower_side))
        lines += _order_and_tempo(recent, doses)
    lines += _jumps(recent, float(doses("weekly_increase", "max_share")))
    near = [one for one in loads if block.region in (None, measures[one["measure"]].region)]
    if block.kind in ("train", "even", "record") and near:
        lines.append(equal_loads_line(near, measures))
    return lines


def outcome_line(outcome: Mapping[str, Any], measure: Measure) -> str:
    """What happened since a decision: the difference, how sure, each side, and what was done."""
    head = f"Since {words.short_day(outcome['started_on'])}, “{measure.short}”: "
    if outcome["latest_d"] is None:
        return f"{head}too early to tell.{_extras(outcome)}"
    was, now = (_size(outcome[name], measure) for name in ("observed_then_d", "latest_d"))
    return (
        f"{head}the difference went from {was} to {now}; {_verdict(outcome, measure)} "
        f"{_each_side(outcome, measure)}{_extras(outcome)}"
    )


def _verdict(outcome: Mapping[str, Any], measure: Measure) -> str:
    chance = words.in_hundred(outcome["chance_smaller"])
    expected = _size(outcome["expected_d"], measure)
    if outcome["verdict"] == "smaller":
        return (
            f"{chance} that it truly became smaller. Without any work, another test would have "
            f"shown about {expected}."
        )
    if outcome["verdict"] == "larger":
        return f"it became larger ({words.in_hundred(1 - outcome['chance_smaller'])})."
    return "no change shown."


def _each_side(outcome: Mapping[str, Any], measure: Measure) -> str:
    lower = outcome["lower_side"]
    changes = [
        f"{side} {_moved(outcome[name], measure)}"
        for side, name in ((lower, "lower_change"), (words.other(lower), "other_change"))
    ]
    text = f"Each side since then: {words.listed(changes)}."
    fell, rose = outcome["other_change"], outcome["lower_change"]
    if outcome["verdict"] == "smaller" and fell < 0 and abs(fell) > abs(rose):
        text += f" It became smaller mostly because the {words.other(lower)} side came down."
    return text


def _moved(change: float, measure: Measure) -> str:
    """`up 15 %`, `down 0.7 cm`, `as before`; a change is always up where it is better."""
    if measure.scale == "log":
        text, unit = 100 * abs(change), "%"
    else:
        text, unit = abs(change), measure.difference_unit
    size = words.amount(text, unit)
    if float(words.figure(text, unit)) == 0:
        return "as before"
    return f"{'up' if change > 0 else 'down'} {size}"


def _extras(outcome: Mapping[str, Any]) -> str:
    planned = outcome["planned_sessions"]
    if planned is None:
        return ""
    done = outcome["done_sessions"]
    return (
        f" Extra work was done in {words.count(done, 'session')}, "
        f"planned in about {max(1, round(planned))}."
    )


def _size(d: float, measure: Measure) -> str:
    return words.amount(abs(float(shown(d, measure.formula))), measure.difference_unit)


def _sides(recent: pl.DataFrame, lower: str) -> list[str]:
    total = _sums(recent)
    sessions, lines = total["lower_session_count"], []
    if sessions == 0:
        return []
    of = f"of {words.count(sessions, 'session')} with one-sided work"
    if total["extra_session_count"]:
        at_end = total["extra_at_end_count"] == total["extra_session_count"]
        lines.append(
            f"Your {lower} side did an extra set in {total['extra_session_count']} {of}"
            f"{', each time at the end' if at_end else ''}."
        )
    if total["other_more_count"]:
        lines.append(
            f"Your {words.other(lower)} side did more repetitions in {total['other_more_count']} "
            f"{of}."
        )
    if total["side_order_count"]:
        lines.append(
            f"Your {lower} side went first in {total['lower_first_count']} of "
            f"{words.count(total['side_order_count'], 'exercise')}."
        )
    return lines


def _order_and_tempo(recent: pl.DataFrame, doses: Doses) -> list[str]:
    total, lines = _sums(recent), []
    if total["order_count"]:
        lines.append(
            f"One-sided work came first and isolation last in {total['order_kept_count']} of "
            f"{words.count(total['order_count'], 'session')}."
        )
    if total["tempo_set_count"]:
        slow = int(doses("controlled_lowering", "seconds"))
        if total["slow_set_count"] == 0:
            lines.append(f"The plan asks to lower in {slow}{words.NBSP}s; your log is quicker.")
            return lines
        lines.append(
            f"You lowered in {slow}{words.NBSP}s or more in {total['slow_set_count']} of "
            f"{words.count(total['tempo_set_count'], 'set')} with a tempo in the log."
        )
    return lines


def _jumps(recent: pl.DataFrame, share: float) -> list[str]:
    lines = []
    for side in ("left", "right"):
        high = recent.drop_nulls(f"{side}_jump").sort(f"{side}_jump", descending=True)
        if high.is_empty() or high[f"{side}_jump"][0] <= LARGE_JUMP * share:
            continue
        rise, on = words.amount(100 * high[f"{side}_jump"][0], "%"), high["week_on"][0]
        lines.append(
            f"In the week of {words.short_day(on)} your {side} side did {rise} more than in the "
            "fullest of the four weeks before. Smaller steps are easier to take."
        )
    return lines[:1]


def equal_loads_line(loads: Sequence[Mapping[str, Any]], measures: Mapping[str, Measure]) -> str:
    """Equality by prescription, said in so many words."""
    names = [measures[one["measure"]].short.removesuffix(", log") for one in loads][:3]
    return (
        f"In {words.listed(names)} your log has the same load on both sides, as planned. That says "
        "nothing about how strong each side is."
    )


def _sums(recent: pl.DataFrame) -> dict[str, int]:
    counts = [name for name in recent.columns if name.endswith("_count")]
    return recent.select(pl.col(counts).sum()).row(0, named=True)
