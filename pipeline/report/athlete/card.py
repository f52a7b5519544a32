"""The card of an athlete's report: why, the days, the weeks, and what happens next.

The sentences are read by the athlete alone, who may be fifteen.
"""

from collections.abc import Iterator, Mapping

import polars as pl

from pipeline.catalogue import Measure
from pipeline.plan.block import Block
from pipeline.programme.who import Who
from pipeline.report.athlete.card_days import day_tables, week_tables
from pipeline.report.page_models import Card
from pipeline.report.text import decided, words
from pipeline.report.text.phrases import say, say_of
from schemas.catalogue_words import Handling
from schemas.plan_words import LogState, Plan, PlanNote, PlanReason, Stage, StepPart
from schemas.vocabulary import Reason

FILMED = (0, 4)  # weeks, counted from 0


def training_card(
    block: Block, measures: Mapping[str, Measure], contact: str, retest_weeks: int, who: Who
) -> Card:
    """The next weeks of one athlete as a card: days to follow, or why there are none."""
    if block.programme is None:
        told = "" if block.plan == Plan.MEDICAL else decided.told_athlete(block, contact, who.as_of)
        why = told or _why_no_days(block, measures, contact, retest_weeks)
        return Card(say("card.next_weeks"), why)
    return Card(
        title=say("card.title", count=block.weeks),
        why=" ".join(_why(block)),
        days=tuple(day_tables(block)),
        weeks=tuple(week_tables(block)),
        week=block.week,
        after=tuple(_after(block, measures, contact, who)),
    )


def _why_no_days(
    block: Block, measures: Mapping[str, Measure], contact: str, retest_weeks: int
) -> str:
    choice = block.choice
    if block.plan == Plan.MEDICAL:
        return say("card.why.medical", contact=contact)
    if block.plan == Plan.RETURN:
        up = say_of("card.return_up", str(choice.step))
        return " ".join(
            [
                say("card.why.return_test", step=choice.step, contact=words.capital(contact)),
                say("card.after.return", contact=contact, up=up),
            ]
        )
    if block.plan == Plan.KEEP:
        is_agreed = choice.handling == Handling.CLINICIAN
        return say("card.why.kept_as_agreed" if is_agreed else "card.why.kept")
    is_of_log = choice.flag is None or choice.flag["reason"] == Reason.TRAINING
    if block.plan == Plan.EVEN and (block.lower_side is None or not is_of_log):
        return say("card.why.alike")
    if block.plan == Plan.EVEN:
        work, lower = words.one_sided_work(str(choice.part)), str(block.lower_side)
        sides = {"side": words.side_name(lower), "other": words.side_name(words.other(lower))}
        return say("card.why.even", work=work, **sides)
    if block.plan == Plan.DONE:
        return say("card.why.done", measure=measures[str(block.measure)].short)
    if block.plan == Plan.STOP:
        weeks = say("count.week", count=int(choice.ended[0]["weeks_in"]))
        return say("card.why.stop", weeks=weeks, measure=measures[str(block.measure)].short)
    if block.plan == Plan.RETEST and choice.why != PlanReason.DIFFER:
        text = say("card.why.retest", weeks=retest_weeks)
        return " ".join([text, *told_together(block)])
    if choice.why != PlanReason.FLAG:
        return say_of("card.because", choice.why)
    return say_of("card.no_days", block.plan)


def _why(block: Block) -> list[str]:
    if block.plan == Plan.RETURN:
        fast = block.choice.fast
        said = [] if fast is None else [say_of("card.fast", fast)]
        return [say("card.why.return", step=block.choice.step), *said]
    side = words.side_name(str(block.lower_side))
    other = words.side_name(words.other(str(block.lower_side)))
    gym = sum(not session.is_home for session in block.sessions)
    parts = [_stage(block, side, other, gym), *told_together(block)]
    if block.plan == Plan.MOBILITY:
        parts.append(say("card.why.mobility", side=side))
    for note in block.notes:
        if note == PlanNote.OTHER_DOES_MORE:
            has_extra = block.programme is not None and block.programme.has_extra
            parts.append(
                say(
                    "card.note.other_does_more" if has_extra else "card.why.both_alike",
                    other=other,
                )
            )
        elif note == PlanNote.NO_FIT:
            parts.append(say("card.note.no_fit", side=side))
        else:
            parts.append(say_of("card.note", note))
    if block.programme is not None and block.programme.has_extra:
        stays = block.choice.stage == Stage.CLOSING
        parts.append(say("card.why.extra_stays" if stays else "card.why.extra", side=side))
    if block.is_record:
        parts.append(say("card.why.from_record"))
    return parts


def _stage(block: Block, side: str, other: str, sessions: int) -> str:
    choice = block.choice
    if choice.stage == Stage.CATCH_UP:
        return " ".join([_little_done(block), say("card.why.catch_up")]).strip()
    if choice.stage == Stage.CLOSING:
        return say("card.why.closing")
    if choice.stage == Stage.RUNNING and _is_over(block):
        return say("card.why.over")
    if choice.stage == Stage.RUNNING:
        return say("card.why.running", week=block.week)
    if choice.stage == Stage.WIDENING:
        return say("card.why.widening")
    times = say("card.why.times", count=sessions)
    return say("card.why.new", times=times, side=side, other=other)


def _is_over(block: Block) -> bool:
    """Whether the weeks that were planned for the block have passed."""
    outcome = block.choice.outcome
    if outcome is None:
        return False
    return bool(outcome["weeks_in"] * 7 > (outcome["ends_on"] - outcome["started_on"]).days)


def _little_done(block: Block) -> str:
    """What the log holds of the plan; nothing where it cannot tell."""
    outcome = block.choice.outcome
    if outcome is None or outcome["log_state"] != LogState.COUNTED:
        return ""
    planned = max(1, round(outcome["planned_sessions"]))
    return say("card.why.partly_done", done=outcome["done_sessions"], planned=planned)


def _after(block: Block, measures: Mapping[str, Measure], contact: str, who: Who) -> list[str]:
    """What stands below the weeks: load, film, the next test, when to stop."""
    lines = []
    if block.programme is not None and block.programme.left_out:
        names = words.listed(list(block.programme.left_out))
        lines.append(say("card.after.left_out", exercises=names))
    if block.plan == Plan.RETURN:
        up = say_of("card.return_up", str(block.choice.step))
        lines.append(say("card.after.return", contact=contact, up=up))
        lines.append(say("card.after.limits", contact=contact))
    elif any(step.load_kg is not None or step.is_new for step in block.steps):
        lines.append(say("card.after.load", side=words.side_name(str(block.lower_side))))
    if block.film is not None:
        film = block.film
        view = say_of("card.view", film.view)
        points = words.listed([point.lower() for point in film.looked_at])
        about = {"exercise": film.exercise, "view": view, "points": points}
        if block.plan == Plan.RETURN:
            line = say("card.after.film_return", **about)
        else:
            has_one = _has_one_set(block, film.exercise)
            line = say("card.after.film_one" if has_one else "card.after.film", **about)
        lines.append(" ".join([line, say("card.after.film_minor")]) if who.is_minor else line)
    if block.retest_on is not None and block.measure is not None:
        day = words.day_of_week(block.retest_on)
        measure = measures[block.measure]
        if measure.is_record:
            lines.append(say("card.after.log_again", day=day))
        else:
            lines.append(say("card.after.retest", measure=measure.short, day=day))
    if any(step.part == StepPart.BOTH_SIDES for step in block.steps):
        lines.append(say("card.after.lifting"))
    around = [say("card.after.match")]
    if block.plan in (Plan.TRAIN, Plan.MOBILITY):
        around.append(say("card.after.rest"))
    lines.append(" ".join(around))
    if who.age is None:
        lines.append(say("card.pain.unknown_age", contact=contact))
    else:
        lines.append(say("card.pain.minor" if who.is_minor else "card.pain.adult", contact=contact))
    lines.append(say("card.after.stop"))
    return lines


def _has_one_set(block: Block, name: str) -> bool:
    """Whether a week in which an exercise is filmed has one set of it only."""
    steps = (one for one in block.steps if one.name == name and one.part != StepPart.EXTRA)
    doses = [step.weeks[week] for step in steps for week in FILMED if week < len(step.weeks)]
    return any(dose is not None and dose.sets == 1 for dose in doses)


def told_together(block: Block) -> Iterator[str]:
    """That several tests of one limb say the same; nothing where they do not."""
    story = block.choice.story
    if story is None or not story.is_one:
        return
    tests = say("count.kind_of_test", count=story.test_count)
    if story.test_count < len(story.measures):
        tests = say("card.story.with_log", tests=tests)
    yield say(
        "card.story.again" if block.plan == Plan.RETEST else "card.story.linked",
        tests=words.capital(tests),
        side=words.side_name(story.lower_side),
        limb=say_of("card.limb", story.limb),
    )


def next_steps(
    block: Block, flags: pl.DataFrame, measures: Mapping[str, Measure], contact: str
) -> list[str]:
    """What to do, with a date wherever there is one; what the card says already is not repeated."""
    lines = []
    if block.plan == Plan.MEDICAL:
        lines.append(say("athlete.next.medical", contact=contact))
    if block.choice.why == PlanReason.UNMADE:
        lines.append(say("athlete.next.unmade"))
    if block.retest_on is not None and block.programme is None:
        day = words.day_of_week(block.retest_on)
        if block.measure is None:
            lines.append(say("athlete.next.retest_any", day=day))
        elif measures[block.measure].is_record:
            lines.append(say("athlete.next.log_again", day=day))
        else:
            short = measures[block.measure].short
            lines.append(say("athlete.next.retest", measure=short, day=day))
    if block.plan in (Plan.MEDICAL, Plan.RETURN):  # what comes next is for medical staff to say
        return lines or ([] if block.programme else [say("athlete.next.nothing")])
    told = block.measure if block.retest_on is not None else None
    overdue = flags.filter(pl.col("reason") == Reason.OVERDUE, pl.col("measure").ne_missing(told))
    for row in overdue.iter_rows(named=True):
        lines.append(say("athlete.next.overdue", measure=measures[row["measure"]].short))
    if block.programme is not None or block.plan == Plan.RETEST:
        return lines
    is_new = block.choice.why in (PlanReason.UNTESTED, PlanReason.RECORD)
    return lines or [say("athlete.next.first" if is_new else "athlete.next.nothing")]
