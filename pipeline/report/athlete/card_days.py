"""The days of a card as tables, and its weeks as rows with a box for each session."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from pipeline.plan.block import Block
from pipeline.programme.ladder import is_lighter
from pipeline.programme.step import OTHER_HAND, Dose, Session, Step
from pipeline.report.page_models import CardDay, CardLine, CardWeeks
from pipeline.report.text import words
from pipeline.report.text.phrases import say, say_of
from schemas.plan_words import CountedIn, Plan, StepPart
from schemas.vocabulary import StepSide, WorkedSide

WEEKS_A_ROW = 6
BOX = "\N{BALLOT BOX}"
LISTED = (
    StepPart.JUMPS,
    StepPart.ONE_SIDE,
    StepPart.ISOLATION,
    StepPart.BOTH_SIDES,
)  # parts whose weeks are told


def day_tables(block: Block) -> Iterator[CardDay]:
    """The sessions in order; what is done at home more than once stands there once."""
    home = [session for session in block.sessions if session.is_home]
    for session in block.sessions:
        if session not in home[1:]:
            yield card_day(session, block, times=len(home))


def card_day(session: Session, block: Block, times: int = 1) -> CardDay:
    """One session: its day and its lines in order. `times`: days at home."""
    if session.is_home:
        title = say("card.day.home" if times == 1 else "card.day.home_twice")
    elif session.weekday is None:
        title = say("card.day.any", letter=session.letter)
    else:
        title = words.weekday(session.weekday)
    return CardDay(title, tuple(_lines(session, block)))


def _lines(session: Session, block: Block) -> Iterator[CardLine]:
    ranges = [step for step in session.steps if step.part == StepPart.RANGE]
    for step in session.steps:
        if step.part != StepPart.RANGE:
            yield _line(step, block)
    # Both rows of one drill are one line: what both do, and what the tighter side does more.
    for name in dict.fromkeys(step.exercise for step in ranges):
        own = [step for step in ranges if step.exercise == name]
        yield _line(own[0], block, more=sum(step.dose.sets for step in own[1:]))


def _line(step: Step, block: Block, more: int = 0) -> CardLine:
    part = say_of("card.part", step.part)
    if step.part == StepPart.EXTRA:
        part = say("card.extra_side", side=words.side_name(str(block.lower_side)))
    return CardLine(
        part=part,
        name=step.name,
        text=_said(step, block, more),
        dose=say("card.line.see_weeks") if step.part == StepPart.EXTRA else _dose(step, block.week),
        load=_load(step, block.week),
        rest=_rest(step),
        cue=step.cue if step.part != StepPart.EXTRA else "",
        is_main=step.part in (StepPart.ONE_SIDE, StepPart.JUMPS),
    )


def _said(step: Step, block: Block, more: int) -> str:
    """What is said behind the name of an exercise."""
    texts = []
    lower = words.side_name(str(block.lower_side or WorkedSide.BOTH))
    other = words.side_name(words.other(block.lower_side)) if block.lower_side else ""
    if step.hint == OTHER_HAND:
        texts.append(say("card.line.other_hand"))
    elif step.hint:
        texts.append(step.hint)
    if step.part == StepPart.ACTIVATION:
        sets = step.dose.sets
        if sets == 1:
            texts.append(say("card.line.wake_once", side=lower))
        else:
            texts.append(say("card.line.wake", side=lower, sets=sets, other=other))
    elif step.part == StepPart.RANGE:
        text = say("card.line.range", side=lower, sets=1 + more, other=other)
        texts.append(text if more else say("card.line.range_alike"))
    elif step.part == StepPart.EXTRA:
        if step.begins > 1:
            texts.append(say("card.line.from_week", week=step.begins))
    elif step.side in (StepSide.LEFT, StepSide.RIGHT):
        texts.append(say("card.line.only", side=words.side_name(step.side)))
    elif block.plan == Plan.RETURN:
        texts.append(say("card.line.alike"))
    elif step.is_of_lower:
        texts.append(say("card.line.first", side=lower))
    if step.instead_of:
        texts.append(say("card.line.instead", exercise=words.listed(list(step.instead_of))))
    if step.offer:
        texts.append(say("card.line.offer", exercise=step.offer))
    if step.is_new and step.part not in (StepPart.ACTIVATION, StepPart.RANGE, StepPart.EXTRA):
        is_jump = step.part == StepPart.JUMPS
        new = say("card.line.new_jump") if is_jump else say("card.line.new")
        texts.append(say("card.line.shown") if step.level == 2 else new)
    if step.later is not None:
        week, harder = step.later[0], step.later[2]
        is_shown = step.is_later_shown
        texts.append(
            say(
                "card.line.later_shown" if is_shown else "card.line.later",
                week=week,
                exercise=harder,
            )
        )
    if step.seconds_down is not None and step.part in (StepPart.ONE_SIDE, StepPart.ISOLATION):
        texts.append(say("card.line.slow", seconds=step.seconds_down))
    return ", ".join(texts)


def _at(step: Step, week: int) -> Dose:
    """The dose of a week, of the nearest one with any where that has none."""
    return step.weeks[min(week, len(step.weeks)) - 1] or step.dose


def _dose(step: Step, week: int) -> str:
    """`3 × 8`, `10, hold 2 s`, `3 × 20 s`, `4`."""
    dose = _at(step, week)
    reps = _reps(step, dose)
    is_plain = step.part == StepPart.ACTIVATION or (dose.sets == 1 and step.part == StepPart.RANGE)
    text = reps if is_plain else f"{dose.sets}{words.NBSP}×{words.NBSP}{reps}"
    if step.hold_s is not None:
        text = say("card.line.hold", dose=text, seconds=step.hold_s)
    if step.speeds:
        text = say("card.line.speed", dose=text, share=step.speeds[week - 1])
    return text


def _reps(step: Step, dose: Dose) -> str:
    if step.unit in (CountedIn.REPS, CountedIn.CONTACTS):
        return str(dose.reps)
    return say_of("card.unit", step.unit, number=dose.reps)


def _load(step: Step, week: int) -> str:
    """`12 kg · 2 spare`."""
    dose = _at(step, week)
    if step.part in (StepPart.ACTIVATION, StepPart.RANGE):
        return say("card.line.light") if step.part == StepPart.ACTIVATION else "–"
    parts = [words.load(step.load_kg, step.held)] if step.load_kg is not None else []
    if step.is_new and step.load_kg is None and step.seconds_down is not None:
        parts.append(say("card.line.light"))
    if dose.in_reserve is not None and step.part != StepPart.EXTRA:
        parts.append(say("card.line.left_over", number=dose.in_reserve))
    return " · ".join(parts) or "–"


def _rest(step: Step) -> str:
    if step.rest_s is None or step.part in (StepPart.ACTIVATION, StepPart.RANGE, StepPart.EXTRA):
        return "–"
    return say("card.unit.s", number=step.rest_s)


def week_tables(block: Block) -> Iterator[CardWeeks]:
    """The weeks, six side by side: what changes from one to the next, and boxes to tick."""
    made = block.programme
    if made is None:
        return
    at_home = sum(session.is_home for session in made.sessions)
    boxes = len(made.sessions) - (at_home if at_home == 1 else 0)
    for begin in range(0, block.weeks, WEEKS_A_ROW):
        numbers = range(begin, min(begin + WEEKS_A_ROW, block.weeks))
        head = tuple(_head(number, block) for number in numbers)
        rows = [
            (label, tuple(_cell(step, number) for number in numbers))
            for label, step in _told(block)
        ]
        rows.append((say("card.weeks.done"), tuple(" ".join([BOX] * boxes) for _ in numbers)))
        yield CardWeeks(head, tuple(rows), block.week - 1 - begin)


def _head(number: int, block: Block) -> str:
    assert block.programme is not None
    begins = block.programme.starts_on + timedelta(weeks=number)
    day = words.short_day(begins, block.programme.starts_on)
    if is_lighter(number) and block.plan != Plan.RETURN:
        return say("card.weeks.lighter", number=number + 1, day=day)
    return say("card.weeks.head", number=number + 1, day=day)


def _told(block: Block) -> Iterator[tuple[str, Step]]:
    """Steps whose dose changes; those alike from week to week together, under all their names."""
    alike: dict[tuple[object, ...], list[tuple[str, Step]]] = {}
    rows: dict[str, set[tuple[object, ...]]] = {}
    for session in block.sessions:
        for step in session.steps:
            is_told = step.part in LISTED and (
                len({*step.weeks}) > 1 or step.part == StepPart.ONE_SIDE
            )
            if step.part == StepPart.EXTRA or is_told:
                key = (step.part == StepPart.EXTRA, step.weeks, step.speeds, step.unit)
                name = _name(step, block)
                alike.setdefault(key, []).append((card_day(session, block).title, step))
                rows.setdefault(name, set()).add(key)
    for named in alike.values():
        names = []
        for day, step in named:
            name = _name(step, block)
            names.append(f"{name}, {day}" if len(rows[name]) > 1 else name)
        yield words.capital(words.listed(list(dict.fromkeys(names)))), named[0][1]


def _name(step: Step, block: Block) -> str:
    if step.part == StepPart.EXTRA:
        return say("card.weeks.extra", side=words.side_name(str(block.lower_side)))
    if step.later is not None:
        return say("card.weeks.then", exercise=step.name, later=step.later[2])
    return step.name


def _cell(step: Step, number: int) -> str:
    dose = step.weeks[number]
    if dose is None:
        return "–"
    if step.part == StepPart.EXTRA:
        reps = _reps(step, dose)
        return f"+{reps}" if dose.sets == 1 else f"{dose.sets}{words.NBSP}×{words.NBSP}+{reps}"
    text = f"{dose.sets}{words.NBSP}×{words.NBSP}{_reps(step, dose)}"
    if step.speeds:
        return say("card.line.speed", dose=text, share=step.speeds[number])
    if dose.in_reserve is None:
        return text
    return say("card.weeks.dose", dose=text, number=dose.in_reserve)


def listed_days(sessions: Sequence[Session]) -> str:
    """`Monday and Thursday`."""
    days = [words.weekday(one.weekday) for one in sessions if one.weekday is not None]
    return words.listed(list(dict.fromkeys(days)))
