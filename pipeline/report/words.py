"""Every sentence the reports print about a number, in one place.

Chances come as a word and a frequency by one fixed scale (a design choice): clear from 95 in
100, likely from 80, possible from 40 (where a retest is asked for), not shown below. A finding is
a measured difference with its size and uncertainty; it never judges a body and never foretells
anything.
"""

from datetime import date

NBSP = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"

UNIT_NAMES = {
    "%": "%", "cm": "cm", "deg": "°", "s": "s", "ratio": "", "%LL": "% of limb length",
    "kg": "kg", "reps": "repetitions",
}  # fmt: skip
DECIMALS = {"%": 0, "cm": 1, "deg": 0, "s": 2, "ratio": 2, "%LL": 0, "kg": 1, "reps": 0}

REASONS = {
    "refer": "Medical staff first",
    "confirmed": "Clear differences",
    "widening": "Widening",
    "ratio": "Ratio within one limb",
    "training": "Unequal training",
    "retest": "Test again before acting",
    "overdue": "Tests overdue",
}


def day(on: date) -> str:
    """`20 November 2026`."""
    return f"{on.day}{NBSP}{on:%B}{NBSP}{on.year}"


def short_day(on: date) -> str:
    """`20 Nov`."""
    return f"{on.day}{NBSP}{on:%b}"


def count(number: int, one: str, many: str | None = None) -> str:
    """`1 test`, `2 tests`, `no tests`."""
    word = one if number == 1 else many or one + "s"
    return f"{number or 'no'} {word}"


def listed(items: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]


def figure(value: float, unit: str) -> str:
    """A number without its unit, with no more decimals than the tests carry."""
    text = f"{abs(value):.{DECIMALS.get(unit, 1)}f}"
    return f"{MINUS}{text}" if value < 0 and float(text) != 0 else text


def amount(value: float, unit: str) -> str:
    """A number with its unit: `13 %`, `3.1 cm`, `4°`."""
    name = UNIT_NAMES.get(unit, unit)
    gap = "" if name in ("", "°") else NBSP
    return f"{figure(value, unit)}{gap}{name}"


def chance_word(chance: float) -> str:
    """The word of the fixed scale for a chance between 0 and 1."""
    if chance >= 0.95:
        return "clear"
    if chance >= 0.80:
        return "likely"
    return "possible" if chance >= 0.40 else "not shown"


def in_hundred(chance: float) -> str:
    """A chance as a frequency: `about 97 in 100`, `more than 99 in 100`, `about 6 in 10`."""
    if chance > 0.99:
        return f"more than 99 in{NBSP}100"
    if chance < 0.01:
        return f"fewer than 1 in{NBSP}100"
    if 0.095 <= chance <= 0.905:
        return f"about {round(chance * 10)} in{NBSP}10"
    return f"about {round(chance * 100)} in{NBSP}100"


def other(side: str) -> str:
    """The side opposite to `left` or `right`."""
    return "right" if side == "left" else "left"


def comparison(better: str, group: str, unit: str) -> str:
    """How the lower side compares in this measure: lower, slower, less, smaller, shorter."""
    if better == "neutral":
        return "smaller" if group in ("size", "structure") else "lower"
    if group == "range_of_motion":
        return "less"
    if group == "balance":
        return "shorter"
    return "slower" if better == "lower" and unit == "s" else "lower"


def interval(low: float, high: float, unit: str, side: str) -> str:
    """The 90 % interval in words, as seen from the lower side.

    `low` and `high` are signed, positive where the right side is higher.
    """
    near, far = (low, high) if side == "left" else (-high, -low)
    if near >= 0:
        return f"{figure(near, unit)} to {figure(far, unit)}"
    return f"from {amount(-near, unit)} the other way to {amount(far, unit)}"


def difference(
    short: str, side: str, word: str, estimate: float, low: float, high: float, unit: str
) -> str:
    """`Single hop: left lower by 13 % (9 to 17).`"""
    if side == "even":
        return f"{short}: sides even, as far as this test can tell."
    return (
        f"{short}: {side} {word} by {amount(abs(estimate), unit)} "
        f"({interval(low, high, unit, side)})."
    )


def sureness(chance: float) -> str:
    """`Clear, about 97 in 100.`"""
    return f"{chance_word(chance).capitalize()}, {in_hundred(chance)}."


def at_a_glance(
    verdict: str, side: str, word: str, estimate: float, unit: str, chance: float, is_wide: bool
) -> str:
    """The few words at the right end of a balance line."""
    if side != "even" and chance >= 0.40:
        return f"{side} {word}, {amount(abs(estimate), unit)}: {chance_word(chance)}"
    if is_wide:
        return "this test could not tell"
    if side == "even":
        return "even, as far as we can tell"
    return f"{side} {word}, {amount(abs(estimate), unit)}: within usual"


def closing(chance: float | None) -> str:
    """How a difference has moved since the first test, with its chance."""
    if chance is None:
        return "first test"
    if chance >= 0.80:
        return f"closing ({in_hundred(chance)})"
    if chance <= 0.20:
        return f"widening ({in_hundred(1 - chance)})"
    return "no change shown"


def since(first: date, weeks: int) -> str:
    """`new today`, `since 6 Sep, 11 weeks`."""
    if weeks < 1:
        return f"new, {short_day(first)}"
    return f"since {short_day(first)}, {count(weeks, 'week')}"


def expected_noise(chances: list[float]) -> str:
    """How many of the listed differences are expected to be noise: the sum of (1 − chance)."""
    if not chances:
        return "no difference stands out"
    noise = sum(1 - chance for chance in chances)
    if noise < 0.5:
        return "of which probably none is noise"
    return (
        f"of which about {round(noise)} {'is' if round(noise) == 1 else 'are'} expected to be noise"
    )


LEVEL_DECIMALS = {
    "N": 0, "Nm": 0, "Nm/kg": 2, "N.s": 0, "kg": 1, "cm": 1, "deg": 0, "s": 2, "reps": 0,
    "ratio": 2, "%LL": 0, "m/s": 2, "W/kg": 1,
}  # fmt: skip


def level(value: float, unit: str) -> str:
    """One side's own result, without its unit; long distances need no decimal."""
    decimals = 0 if unit == "cm" and value >= 60 else LEVEL_DECIMALS.get(unit, 1)
    return f"{value:,.{decimals}f}".replace(",", NBSP)


def load(kilograms: float) -> str:
    """A load on the bar or in the hand: `18 kg`, `7.5 kg`."""
    return f"{kilograms:g}{NBSP}kg"
