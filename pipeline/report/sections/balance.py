"""Findings as rows of the balance chart, and as the words beside and instead of it."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np

from pipeline.catalogue import Measure
from pipeline.report.charts.rows import BalanceRow
from pipeline.report.text import words
from pipeline.report.text.phrases import say
from pipeline.scales import Z95, shown
from schemas.vocabulary import LowerSide, MeasureGroup, Side, Sureness

SHOWN_DAYS = 6


def balance_row(
    label: str,
    row: Mapping[str, Any],
    measure: Measure,
    days: Sequence[float],
    retest_chance: float,
) -> BalanceRow:
    """One finding as one line of the chart; `days` holds d of single test days, oldest first."""
    points = shown(np.array(days[-SHOWN_DAYS:]), measure.formula)
    return BalanceRow(
        label=label,
        unit=row["unit"],
        estimate=row["estimate"],
        low=row["low90"],
        high=row["high90"],
        days=tuple(float(point) for point in points),
        lead=row["lead"],
        error=Z95 * row["typical_error"],
        line=row["review_line"],
        sentence=line_end(row, measure),
        is_flagged=row["chance_over_line"] >= retest_chance,
        is_size=is_size(measure),
    )


def line_end(row: Mapping[str, Any], measure: Measure) -> str:
    """The few words at the right end of a balance line."""
    if row["is_referred"]:
        return say("balance.referred")
    if row["is_accepted"]:
        return say("balance.accepted")
    word = compared(measure)
    is_wide = row["high90"] - row["low90"] > 2 * row["review_line"]
    expected = "left" if row["lead"] > 0 else "right"
    if has_lead(row) and row["lower_side"] == expected and row["sureness"] == Sureness.NOT_SHOWN:
        return say("balance.preferred")
    return words.at_a_glance(
        row["lower_side"], word, row["estimate"], row["unit"],
        row["sureness"], is_wide,
    )  # fmt: skip


def compared(measure: Measure) -> str:
    """How the lower side of a measure compares: lower, slower, less, smaller, shorter."""
    return words.comparison(measure.better, measure.group, measure.unit)


def is_size(measure: Measure) -> bool:
    """Whether a measure says how large a side is, so that no side is ahead of the other."""
    return measure.group in (MeasureGroup.SIZE, MeasureGroup.STRUCTURE)


def has_lead(row: Mapping[str, Any]) -> bool:
    """Whether a lead of the preferred side is large enough to speak of: a fifth of the line."""
    return abs(row["lead"]) >= 0.2 * row["review_line"]


def sentence(row: Mapping[str, Any], measure: Measure) -> str:
    """`Single hop: left lower by 13 % (9 to 17).`"""
    word = compared(measure)
    if row["lower_side"] == LowerSide.EVEN and row["sureness"] != Sureness.NOT_SHOWN:
        return words.unsettled(measure.short, word, row["low90"], row["high90"], row["unit"])
    return words.difference(
        measure.short, row["lower_side"], word,
        row["estimate"], row["low90"], row["high90"], row["unit"],
    )  # fmt: skip


def size(d: float | None, measure: Measure) -> str:
    """How large a difference is, whichever side it favours: `13 %`; a dash where there is none."""
    if d is None:
        return "–"
    return words.amount(abs(float(shown(d, measure.formula))), measure.difference_unit)


def zero_sentence(flag: Mapping[str, Any], measure: Measure, as_of: date) -> str:
    """`“Calf raises”: 0 on the left, 12 on the right on 20 Nov`, from a row of `flag_zero`."""
    other = words.level(flag["other_value"], measure.unit, flag["other_value"])
    left, right = ("0", other) if flag["lower_side"] == Side.LEFT else (other, "0")
    day = words.short_day(flag["tested_on"], as_of)
    return say("words.zero", measure=measure.short, left=left, right=right, day=day)
