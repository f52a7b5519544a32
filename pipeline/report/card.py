"""The training card of an athlete's report, and what happens next, in words an athlete reads."""

from collections.abc import Mapping, Sequence

import polars as pl

from pipeline.catalogue import Measure
from pipeline.report import words
from pipeline.report.pages import Card, CardLine
from pipeline.review.block import Block
from pipeline.review.session import Step

PARTS = {
    "warm-up": "Warm-up",
    "one side at a time": "One side at a time",
    "both sides": "Both sides",
    "isolation": "Isolation",
    "extra": "Extra",
    "mobility": "Mobility",
}
NEXT_WEEKS = "Next weeks"
NO_SESSION = {
    "retest": "Train as planned, both sides the same. We test again within {retest_weeks} weeks.",
    "untested": "Nothing to change. Two or three tests would tell more.",
    "record": (
        "Nothing to change. Your log has the same load on both sides, as it was planned, so it "
        "cannot tell them apart. A test day would."
    ),
    "none": "Nothing to change. Train both sides the same.",
}


def training_card(
    block: Block, measures: Mapping[str, Measure], contact: str, retest_weeks: int
) -> Card:
    """The next weeks of one athlete as a card: a session to tick, or why there is none."""
    if block.kind == "medical":
        return _plain(
            f"Your plan comes from {contact} and your coach. No extra work for one side until then."
        )
    if block.kind == "maintain":
        return _plain(_kept(block))
    if block.kind in ("done", "stop", "even"):
        return _plain(_equal_from_now(block, measures))
    if block.kind not in ("train", "mobility") or block.lower_side is None:
        return _plain(NO_SESSION[block.kind].format(retest_weeks=retest_weeks))
    return Card(
        f"Next {block.weeks} weeks",
        _mobility_reason(block) if block.kind == "mobility" else _reason(block),
        tuple(_line(step, block) for step in block.steps),
        tuple(_after(block)),
    )


def _plain(text: str) -> Card:
    return Card(NEXT_WEEKS, text, (), ())


def _kept(block: Block) -> str:
    if block.structure in ("knee_surgery", "past_injury"):
        return (
            "Keep your training as agreed with your coach and the medical staff. We compare each "
            "side with its own earlier tests and look again if something changes."
        )
    return (
        "Keep your training as it is. We compare you with your own earlier tests and look "
        "again only if something changes."
    )


def _equal_from_now(block: Block, measures: Mapping[str, Measure]) -> str:
    lower = block.lower_side
    if block.kind == "even":
        return (
            f"Give both sides the same: in the last weeks your {lower} side did less. Start with "
            f"the {lower} side, then do the same sets, repetitions and load on the other. "
            "Nothing extra is needed."
        )
    name = f"“{measures[str(block.measure)].short}”"
    if block.kind == "done":
        return (
            f"The difference in {name} is within what is usual now. The extra work ends here: "
            "from now on both sides do the same."
        )
    weeks = int((block.outcome or {"weeks_in": 8})["weeks_in"])
    return (
        f"In {words.count(weeks, 'week')} the difference in {name} has not clearly changed. That "
        "happens, and some differences simply belong to a person. The extra work ends: both sides "
        "do the same, and your coach talks with you about what comes next."
    )


def _mobility_reason(block: Block) -> str:
    return (
        f"Some slow work through the range of your {block.lower_side} side, three times a week, "
        "at the end of a session. Stop short of pain."
    )


def _reason(block: Block) -> str:
    lower, parts = block.lower_side, []
    other = words.other(str(lower))
    if block.stage == "catch_up":
        parts.append(
            f"{_little_done(block)} The same plan gets another go before anybody reads anything "
            "from the difference. If it does not fit your week, tell your coach."
        )
    elif block.stage == "closing":
        parts.append("The difference is getting smaller. Go on as you are; no more is needed.")
    elif block.stage == "running":
        parts.append("You are in the middle of this block. Go on as planned.")
    elif block.stage == "widening":
        parts.append("The plan stays small and the same. Your coach goes through it with you.")
    if block.plan is not None and block.plan.other_does_more:
        parts.append(f"So far your {other} side did more: first both sides do the same.")
    if not _has_extra(block):
        parts.append(f"Both sides do the same work, {lower} first. That alone is often enough.")
        return " ".join(parts)
    parts.append(
        f"Both sides do the same work, {lower} first, and the {lower} side a little more at the "
        "end. A small extra is enough: twice the work was no better in the trial that compared "
        "them."
    )
    if block.is_record:
        parts.append(
            "This comes from your training record, not from a test; a test day would help."
        )
    return " ".join(parts)


def _little_done(block: Block) -> str:
    outcome = block.outcome
    if outcome is None or outcome["planned_sessions"] is None:
        return "Little of the last plan has been done yet."
    planned = max(1, round(outcome["planned_sessions"]))
    return f"So far {outcome['done_sessions']} of about {planned} planned extras were done."


def _has_extra(block: Block) -> bool:
    return any(step.part == "extra" for step in block.steps)


def _line(step: Step, block: Block) -> CardLine:
    lower = str(block.lower_side)
    text = step.name
    if step.side == "lower first":
        alike = "load on both sides" if step.load_kg is not None or step.is_new else "on both sides"
        text += f", {lower} side first, same {alike}"
    if step.side == "lower only":
        text += f", {lower} side"
    if step.load_kg is not None:
        text += f", {words.load(step.load_kg)}"
    if step.is_new:
        text += ", new for you: start light, with three repetitions left"
    if step.seconds_down is not None:
        text += f", lower in {step.seconds_down}{words.NBSP}s"
    if step.side == "lower first" and step.other_sets > step.sets:
        text += f"; {words.other(lower)} side {words.count(step.other_sets, 'set')}"
    if step.part == "extra" and block.plan is not None:
        text += _growing(block.plan.extra)
    return CardLine(PARTS[step.part], text, f"{step.sets}{words.NBSP}×{words.NBSP}{step.reps}")


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
        when = f"from week {week}" if place == len(changes) - 1 else f"in week {week}"
        said.append(f"{reps} repetitions {when}" if not said else f"{reps} {when}")
    return ": " + ", ".join(said)


def _after(block: Block) -> list[str]:
    lower, lines = str(block.lower_side), []
    if block.kind == "train":
        lines.append(
            f"The other side never does more than the {lower} side managed. Add load only when all "
            "repetitions are controlled."
        )
    if _has_extra(block):
        lines.append("The extra ends once the difference is within the usual on two test days.")
    lines.append("Stop and tell your coach if anything hurts.")
    return lines


def film_lines(film: pl.DataFrame) -> list[str]:
    """What the latest film review found, exercise by exercise."""
    if film.is_empty():
        return []
    latest = film.filter(pl.col("filmed_on") == film["filmed_on"].max()).sort(
        "exercise_name", "checkpoint", "side"
    )
    lines = [
        f"{row['exercise_name']}, {row['side']}: {row['checkpoint']}"
        + (f" ({row['note']})" if row["note"] else "")
        for row in latest.filter(pl.col("finding") == "adjust").iter_rows(named=True)
    ]
    head = f"Filmed {words.short_day(latest['filmed_on'][0])}"
    if not lines:
        return [f"{head}: all checkpoints fine on both sides."]
    return [f"{head}, to work on: " + "; ".join(lines) + "."]


def next_steps(
    block: Block, flags: pl.DataFrame, measures: Mapping[str, Measure], contact: str
) -> list[str]:
    """What to do, with a date wherever there is one."""
    lines = []
    if block.kind == "medical":
        lines.append(f"Before the next test or hard session: speak with {contact}.")
    if block.retest_on is not None and block.measure is not None:
        measure = measures[block.measure]
        again = "Look at your log again" if measure.is_record else f"Retest of {measure.short}"
        lines.append(f"{again}: {words.day(block.retest_on)}.")
    if block.film is not None:
        lines.append(f"Have one set of {block.film} filmed from the front, both sides.")
    for row in flags.filter(pl.col("reason") == "overdue").iter_rows(named=True):
        lines.append(f"Due again: {measures[row['measure']].short}.")
    if not lines:
        lines.append("The next ordinary test day is soon enough.")
    return lines
