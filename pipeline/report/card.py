"""The training card of an athlete's report, and what happens next, in words an athlete reads."""

from collections.abc import Mapping, Sequence
from datetime import date

import polars as pl

from pipeline.catalogue import Measure
from pipeline.plan.block import Block
from pipeline.report import words
from pipeline.report.pages import Card, CardLine
from pipeline.report.phrases import say
from pipeline.review.session import Step

JOINT_PARTS = ("warm-up", "mobility")  # steps named by their joint, not by an exercise


def training_card(
    block: Block, measures: Mapping[str, Measure], contact: str, retest_weeks: int
) -> Card:
    """The next weeks of one athlete as a card: a session to tick, or why there is none."""
    if block.plan == "medical":
        return _plain(say("card.why.medical", contact=contact))
    if block.plan == "keep":
        is_agreed = block.choice.handling == "clinician"
        return _plain(say("card.why.kept_as_agreed" if is_agreed else "card.why.kept"))
    if block.plan in ("done", "stop", "even"):
        return _plain(_equal_from_now(block, measures))
    if block.plan == "retest":
        return _plain(say("card.why.retest", weeks=retest_weeks))
    if block.plan in ("none", "wait"):
        return _plain(say(f"card.why.{block.choice.why or block.plan}"))
    if block.plan == "mobility":
        why = say("card.why.mobility", side=words.side_name(str(block.lower_side)))
    else:
        why = _reason(block)
    return Card(
        say("card.title", number=block.weeks),
        why,
        tuple(_line(step, block) for step in block.steps),
        tuple(_after(block)),
    )


def _plain(text: str) -> Card:
    return Card(say("card.next_weeks"), text, (), ())


def _equal_from_now(block: Block, measures: Mapping[str, Measure]) -> str:
    if block.plan == "even":
        work, lower = words.one_sided_work(str(block.choice.part)), str(block.lower_side)
        sides = {"side": words.side_name(lower), "other": words.side_name(words.other(lower))}
        return say("card.why.even", work=work, **sides)
    short = measures[str(block.measure)].short
    if block.plan == "done":
        return say("card.why.done", measure=short)
    weeks = int(block.choice.ended[0]["weeks_in"])
    return say("card.why.stop", weeks=words.count(weeks, "week"), measure=short)


def _reason(block: Block) -> str:
    lower, parts = words.side_name(str(block.lower_side)), []
    if block.choice.stage == "catch_up":
        parts += [_little_done(block), say("card.why.catch_up")]
    elif block.choice.stage == "closing" and block.since is not None:
        parts.append(say("card.why.closing", day=words.day(block.since)))
    elif block.choice.stage == "running" and _is_over(block):
        parts.append(say("card.why.over"))
    elif block.choice.stage in ("running", "widening"):
        parts.append(say(f"card.why.{block.choice.stage}"))
    if block.session is not None and block.session.other_does_more:
        other = words.side_name(words.other(str(block.lower_side)))
        parts.append(say("card.why.other_does_more", other=other))
    if not _has_extra(block):
        return " ".join([*parts, say("card.why.equal", side=lower)])
    parts.append(say("card.why.extra", side=lower))
    if block.is_record:
        parts.append(say("card.why.from_record"))
    return " ".join(parts)


def _is_over(block: Block) -> bool:
    """Whether the weeks that were planned for the block have passed."""
    outcome = block.choice.outcome
    if outcome is None:
        return False
    return bool(outcome["weeks_in"] * 7 > (outcome["ends_on"] - outcome["started_on"]).days)


def _little_done(block: Block) -> str:
    """What the log holds of the plan; where another block of that side was the one hardly done, or
    the log cannot tell, without a number."""
    outcome = block.choice.outcome
    if outcome is None or outcome["log_state"] != "counted":
        return say("card.why.little_done")
    planned = max(1, round(outcome["planned_sessions"]))
    return say("card.why.partly_done", done=outcome["done_sessions"], planned=planned)


def _has_extra(block: Block) -> bool:
    return any(step.part == "extra" for step in block.steps)


def _line(step: Step, block: Block) -> CardLine:
    lower = words.side_name(str(block.lower_side))
    text = step.name
    if step.part in JOINT_PARTS:
        text = words.capital(say(f"card.line.{step.part}", joint=step.name))
    if step.side == "lower first":
        is_loaded = step.load_kg is not None or step.is_new
        text += say("card.line.first_loaded" if is_loaded else "card.line.first", side=lower)
    if step.side == "lower only":
        text += say("card.line.only", side=lower)
    if step.load_kg is not None:
        text += say("card.line.load", load=words.load(step.load_kg))
    if step.is_new:
        text += say("card.line.new")
    if step.seconds_down is not None:
        text += say("card.line.slow", seconds=step.seconds_down)
    if step.side == "lower first" and step.other_sets > step.sets:
        other = words.side_name(words.other(str(block.lower_side)))
        text += say("card.line.other", side=other, sets=words.count(step.other_sets, "set"))
    if step.part == "extra" and block.session is not None:
        text += _growing(block.session.extra)
    dose = f"{step.sets}{words.NBSP}×{words.NBSP}{step.reps}"
    return CardLine(say(f"card.part.{step.part}"), text, dose)


def _growing(extra: Sequence[int]) -> str:
    """`: 4 repetitions in week 1, 8 from week 2`; nothing where it stays the same."""
    changes = [
        (week, reps)
        for week, reps in enumerate(extra, start=1)
        if week == 1 or reps != extra[week - 2]
    ]
    if len(changes) < 2:
        return ""
    said: list[str] = []
    for place, (week, reps) in enumerate(changes):
        if reps == 0:
            continue
        is_last = place == len(changes) - 1
        when = say("card.line.from_week" if is_last else "card.line.in_week", week=week)
        if said:
            said.append(say("card.line.growing_next", reps=reps, when=when))
        else:
            said.append(say("card.line.growing_first", reps=reps, when=when))
    return ": " + ", ".join(said)


def _after(block: Block) -> list[str]:
    lines = []
    if block.plan == "train":
        lines.append(say("card.after.ceiling", side=words.side_name(str(block.lower_side))))
    if _has_extra(block):
        lines.append(say("card.after.end"))
    return [*lines, say("card.after.stop")]


def film_lines(film: pl.DataFrame, as_of: date, *, with_notes: bool) -> list[str]:
    """What the latest film review found, exercise by exercise."""
    if film.is_empty():
        return []
    latest = film.filter(pl.col("filmed_on") == film["filmed_on"].max()).sort(
        "exercise_name", "checkpoint", "side"
    )
    lines = [
        say(
            "film.point",
            exercise=row["exercise_name"],
            side=words.side_name(row["side"]),
            checkpoint=row["checkpoint"].rstrip(".!?:;, "),  # the sentence ends by itself
        )
        + (f" ({row['note']})" if row["note"] and with_notes else "")
        for row in latest.filter(pl.col("finding") == "adjust").iter_rows(named=True)
    ]
    day = words.short_day(latest["filmed_on"][0], as_of)
    if lines:
        return [say("film.points", day=day, points="; ".join(lines))]
    seen = set(latest["side"])
    if {"left", "right"} <= seen or "both" in seen:
        return [say("film.fine", day=day)]
    return [say("film.fine_side", day=day, side=words.side_name(latest["side"][0]))]


def next_steps(
    block: Block, flags: pl.DataFrame, measures: Mapping[str, Measure], contact: str
) -> list[str]:
    """What to do, with a date wherever there is one."""
    lines = []
    if block.plan == "medical":
        lines.append(say("athlete.next.medical", contact=contact))
    if block.choice.why == "unmade":
        lines.append(say("athlete.next.unmade"))
    if block.retest_on is not None and block.measure is not None:
        measure, day = measures[block.measure], words.day(block.retest_on)
        if measure.is_record:
            lines.append(say("athlete.next.log_again", day=day))
        else:
            lines.append(say("athlete.next.retest", measure=measure.short, day=day))
    if block.film is not None:
        lines.append(say("athlete.next.film", exercise=block.film))
    for row in flags.filter(pl.col("reason") == "overdue").iter_rows(named=True):
        lines.append(say("athlete.next.overdue", measure=measures[row["measure"]].short))
    return lines or [say("athlete.next.nothing")]
