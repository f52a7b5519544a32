"""Words for a side into left and right, with the roster's help where they need it."""

import polars as pl

from pipeline.catalogue import Measure, catalogue
from pipeline.intake.parse.values import chosen
from pipeline.intake.rows.people import People
from schemas.catalogue_words import LeadBy, WrittenSide
from schemas.vocabulary import Region, WorkedSide

SIDES = tuple(WorkedSide)
LEFT, RIGHT, BOTH = range(3)
CODE: dict[str, int] = {name: code for code, name in enumerate(WrittenSide)}
NEEDS_ROSTER = CODE[WrittenSide.INVOLVED]  # this code and all after it


def side_codes(texts: pl.Series) -> pl.Series:
    """Place among `WrittenSide` of each text (UInt8), null where it names no side."""
    names = chosen(texts, catalogue().headers.sides)
    return names.replace_strict(CODE, default=None, return_dtype=pl.UInt8)


def uses_hand(measure: Measure) -> bool:
    """Whether the dominant hand, not the foot, says which side of this test is dominant."""
    return measure.lead.by == LeadBy.HAND or (
        measure.lead.by == LeadBy.NONE and measure.region != Region.LOWER
    )


def roster_sides(
    codes: pl.Series, athlete: pl.Series, by_hand: pl.Series, people: People
) -> pl.Series:
    """Codes with involved and dominant turned into left or right; null where not known.

    `athlete` is the place in the roster, `by_hand` whether the hand decides. Codes that need
    no roster are handed back as they are.
    """
    frame = pl.DataFrame(
        {
            "code": codes,
            "involved": people.known_side.gather(athlete),
            "hand": people.hand.gather(athlete),
            "foot": people.foot.gather(athlete),
            "by_hand": by_hand,
        }
    )
    code = pl.col("code")
    known = (
        pl.when(code <= CODE[WrittenSide.UNINVOLVED])
        .then("involved")
        .when("by_hand")
        .then("hand")
        .otherwise("foot")
    )
    is_other = code.is_in([CODE[WrittenSide.UNINVOLVED], CODE[WrittenSide.NONDOMINANT]])
    side = pl.when(is_other).then(1 - known.cast(pl.Int8)).otherwise(known.cast(pl.Int8))
    return frame.select(
        pl.when(code < NEEDS_ROSTER).then(code).otherwise(side).cast(pl.UInt8).alias("code")
    ).to_series()


def why_unknown(code: int, by_hand: bool) -> str:
    """What the roster must say before such a side can be read."""
    if code <= CODE[WrittenSide.UNINVOLVED]:
        return "needs the known_side (left or right) of the athlete in the roster"
    part = "hand" if by_hand else "foot"
    return f"needs the dominant_{part} (left or right) of the athlete in the roster"
