"""Every sentence about a number: which one is said, with how many decimals.

The texts themselves stand in `schemas/phrases/`. Chances come as a word, by the scale of
`review/differences/sureness.py`, and as a frequency. A finding is a measured difference with its
size and uncertainty; it never judges a body and never foretells anything.
"""

import re
from datetime import date

from babel.lists import format_list
from babel.numbers import get_decimal_symbol

from pipeline.catalogue import catalogue
from pipeline.report.text.phrases import locale, say, say_of
from pipeline.settings import ReviewSettings
from schemas.catalogue_words import Better
from schemas.plan_words import HeldLoad
from schemas.vocabulary import LowerSide, MeasureGroup, Movement, Side, Sureness

NBSP = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"

DECIMALS = {"%": 0, "cm": 1, "deg": 0, "s": 2, "ratio": 2, "%LL": 0, "kg": 1, "reps": 0}
LEVEL_DECIMALS = {
    "N": 0, "Nm": 0, "Nm/kg": 2, "N.s": 0, "kg": 1, "cm": 1, "deg": 0, "s": 2, "reps": 0,
    "ratio": 2, "%LL": 0, "m/s": 2, "W/kg": 1,
}  # fmt: skip
UNPLACED = "other:"  # begins the part of the body of an exercise that nobody can place


def day(on: date) -> str:
    """`20 November 2026`."""
    return say("date.long", day=on.day, month=_month(on), year=on.year)


def short_day(on: date, as_of: date) -> str:
    """`20 Nov`; `10 Dec 2023` outside the year of the as-of date."""
    month = locale().months["format"]["abbreviated"][on.month]
    if on.year == as_of.year:
        return say("date.short", day=on.day, month=month)
    return say("date.short_year", day=on.day, month=month, year=on.year)


def day_of_week(on: date) -> str:
    """`Tuesday, 5 January`."""
    return say("date.of_week", weekday=weekday(on.weekday()), day=on.day, month=_month(on))


def _month(on: date) -> str:
    """The month as it stands in a date."""
    return str(locale().months["format"]["wide"][on.month])


def month(number: int) -> str:
    """`March`, 3, by itself."""
    return str(locale().months["stand-alone"]["wide"][number])


def weekday(number: int) -> str:
    """`Monday`, 0."""
    return str(locale().days["stand-alone"]["wide"][number])


def with_days(text: str, as_of: date) -> str:
    """A text of the intake with its dates as a reader says them."""
    return re.sub(
        r"\b\d{4}-\d{2}-\d{2}\b",
        lambda found: short_day(date.fromisoformat(found[0]), as_of),
        text,
    )


def span(weeks: int) -> str:
    """`11 weeks`; `2 years` once there are two of them."""
    if weeks >= 104:
        return say("count.year", count=weeks // 52)
    return say("count.week", count=weeks)


def listed(items: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return format_list(items, locale=locale())


def some(items: list[str], most: int = 5) -> str:
    """The first of many, and how many more: `a, b and 3 more`."""
    if len(items) > most:
        items = [*items[: most - 1], say("coverage.more", number=len(items) - most + 1)]
    return listed(items)


def capital(text: str) -> str:
    """The text as a sentence begins."""
    return text[:1].upper() + text[1:]


def marked(number: str) -> str:
    """A written number with the decimal mark of the language."""
    return number.replace(".", get_decimal_symbol(locale()))


def figure(value: float, unit: str) -> str:
    """A number without its unit, with no more decimals than the tests carry."""
    text = f"{abs(value):.{DECIMALS.get(unit, 1)}f}"
    return marked(f"{MINUS}{text}" if value < 0 and float(text) != 0 else text)


def is_zero(value: float, unit: str) -> bool:
    """Whether nothing is left of a number as it is printed."""
    return float(f"{value:.{DECIMALS.get(unit, 1)}f}") == 0


def unit_name(unit: str) -> str:
    """A unit by itself: `%`, `cm`, `°`."""
    return say_of("unit", unit)


def amount(value: float, unit: str) -> str:
    """A number with its unit: `13 %`, `3.1 cm`, `4°`."""
    if unit == "ratio":
        return figure(value, unit)
    return with_unit(figure(value, unit), unit)


def with_unit(number: str, unit: str) -> str:
    """A number as it is written and its unit, on one line; a degree sign stands close."""
    return f"{number}{'' if unit == 'deg' else NBSP}{unit_name(unit)}"


def sure_word(sure: str) -> str:
    """`very sure`: what a `Sureness` is called."""
    return say_of("words.chance", sure)


def scale_values(review: ReviewSettings) -> dict[str, int]:
    """Where the words for how sure a difference is begin, in 100, for texts that explain them."""
    begins = {
        "very": max(catalogue().rules.very_sure, review.confirmed_chance),
        "fairly": review.confirmed_chance,
        "least": review.retest_chance,
    }
    return {word: round(100 * chance) for word, chance in begins.items()}


def in_hundred(chance: float) -> str:
    """A chance as a frequency: `about 97 in 100`, `more than 99 in 100`, `about 6 in 10`."""
    if chance > 0.99:
        return say("words.in_hundred.most")
    if chance < 0.01:
        return say("words.in_hundred.fewest")
    if 0.095 <= chance <= 0.905:
        return say("words.in_hundred.tens", number=round(chance * 10))
    number = round(chance * 100)
    # 0.946 is "fairly sure": beside that word no figure of the next, which begins at 95.
    begins = catalogue().rules.very_sure
    most = number if chance >= begins else round(100 * begins) - 1
    return say("words.in_hundred.hundreds", number=min(number, most))


def other(side: str) -> str:
    """The side opposite to `left` or `right`."""
    return Side.RIGHT if side == Side.LEFT else Side.LEFT


def side_name(side: str) -> str:
    """The word for `left`, `right`, `both` or `even`."""
    return say_of("side", side)


def comparison(better: str, group: str, unit: str) -> str:
    """How the lower side compares in this measure: lower, slower, less, smaller, shorter."""
    if better == Better.NEUTRAL:
        is_size = group in (MeasureGroup.SIZE, MeasureGroup.STRUCTURE)
        return say("words.comparison.smaller" if is_size else "words.comparison.lower")
    if group == MeasureGroup.RANGE_OF_MOTION:
        return say("words.comparison.less")
    if group == MeasureGroup.BALANCE:
        return say("words.comparison.shorter")
    is_time = better == Better.LOWER and unit == "s"
    return say("words.comparison.slower" if is_time else "words.comparison.lower")


def interval(low: float, high: float, unit: str, side: str) -> str:
    """The 90 % interval in words, as seen from the lower side.

    `low` and `high` are signed, positive where the right side is higher.
    """
    near, far = (low, high) if side == Side.LEFT else (-high, -low)
    if near >= 0:
        return say("words.interval.one_way", near=figure(near, unit), far=figure(far, unit))
    return say("words.interval.both_ways", near=amount(-near, unit), far=amount(far, unit))


def difference(
    short: str, side: str, word: str, estimate: float, low: float, high: float, unit: str
) -> str:
    """`Single hop: left lower by 13 % (9 to 17).`"""
    if side == LowerSide.EVEN:
        return say("words.difference.even", measure=short)
    return say(
        "words.difference.lower",
        measure=short,
        side=side_name(side),
        word=word,
        amount=amount(abs(estimate), unit),
        interval=interval(low, high, unit, side),
    )


def sureness(sure: str, chance: float) -> str:
    """`Very sure, about 97 in 100.`"""
    return say("words.sureness", word=capital(sure_word(sure)), chance=in_hundred(chance))


def unsettled(short: str, word: str, low: float, high: float, unit: str) -> str:
    """`Single hop: side not settled, from left lower by 39 % to right lower by 22 %.`"""
    return say(
        "words.difference.unsettled",
        measure=short,
        word=word,
        left=amount(max(0.0, high), unit),
        right=amount(max(0.0, -low), unit),
    )


def at_a_glance(side: str, word: str, estimate: float, unit: str, sure: str, is_wide: bool) -> str:
    """The few words at the right end of a balance line."""
    lower = {"side": side_name(side), "word": word, "amount": amount(abs(estimate), unit)}
    if side != LowerSide.EVEN and sure != Sureness.NOT_SHOWN:
        return say("balance.flagged", chance=sure_word(sure), **lower)
    if is_wide:
        return say("balance.unclear")
    return say("balance.even") if side == LowerSide.EVEN else say("balance.usual", **lower)


def moved(movement: str, chance: float | None) -> str:
    """How a difference has moved since its reference day, with the chance of what is said."""
    if chance is not None:
        is_smaller = movement == Movement.SMALLER
        return say(
            "words.moved.smaller" if is_smaller else "words.moved.larger", chance=in_hundred(chance)
        )
    return say("words.moved.untested" if movement == Movement.UNTESTED else "words.moved.unchanged")


def pain(value: float) -> str:
    """Pain of 10 as it was given: `8`, `8.5`."""
    return marked(f"{value:g}")


def one_sided_work(part: str) -> str:
    """Whose work it is: `one-sided lower-body work`, `one-sided work in “Sled drag”`."""
    if part.startswith(UNPLACED):
        return say("words.work_in", exercise=unplaced(part))
    return say_of("words.work", part)


def unplaced(part: str) -> str:
    """The name of an exercise that nobody can place, as far as it has room."""
    return cut(capital(part.removeprefix(UNPLACED).replace("_", " ")), 40)


def since(first: date, weeks: int, as_of: date) -> str:
    """`new, 20 Nov`, `since 6 Sep, 11 weeks`."""
    day = short_day(first, as_of)
    if weeks < 1:
        return say("words.since.new", day=day)
    return say("words.since.weeks", day=day, weeks=span(weeks))


def of_which_noise(noise: float | None) -> str:
    """How many of the listed differences are expected to be noise; None where none is listed."""
    if noise is None:
        return say("words.noise.nothing")
    if noise < 0.5:
        return say("words.noise.hardly")
    return say("words.noise.expected", count=round(noise))


def level(value: float, unit: str, largest: float) -> str:
    """One side's own result, without its unit; long distances need no decimal.

    `largest` is the largest result it stands beside: all of a row have as many decimals.
    """
    decimals = 0 if unit == "cm" and largest >= 60 else LEVEL_DECIMALS.get(unit, 1)
    text = marked(f"{abs(value):,.{decimals}f}".replace(",", NBSP))
    return f"{MINUS}{text}" if round(value, decimals) < 0 else text  # nothing has no sign


def cut(text: str, letters: int = 60) -> str:
    """A long text as it fits where little room is; the whole of it stands elsewhere."""
    return text if len(text) <= letters else text[: letters - 1].rstrip(" ,;") + "…"


def load(kilograms: float, held: HeldLoad) -> str:
    """What to pick up: `18 kg`, `7.5 kg each hand`."""
    return say_of("card.held", held, load=with_unit(marked(f"{kilograms:g}"), "kg"))
