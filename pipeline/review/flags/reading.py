"""What the flags read besides rows of the exports: what is in force for a squad, as tables.

Every figure that a flag is held against comes from here, so that none stands in SQL: those of the
settings, of the practice rules and of the catalogue.
"""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Catalogue
from pipeline.settings import Settings
from schemas.vocabulary import URGENCIES, Turn

Z90, Z95 = 1.645, 1.96  # errors within which 90 and 95 in 100 lie
FEW, MOST = 4, 0.5  # athletes of a test from which on, and the share that is most of them
GIRTH_SIGNS = {
    "measure": pl.String,
    "gain_cm": pl.Float64,  # on one side since the last time, with a note; null where it is no sign
    "loss_cm": pl.Float64,  # on one side
    "urgency": pl.String,
    "place": pl.Int64,
}


def in_force(
    squads: Sequence[str], book: Catalogue, as_of: date, settings: Settings
) -> dict[str, pl.DataFrame]:
    """`ref_flag_rules`: one row per squad, the figures that its flags are held against.

    `ref_girth_signs`: one row per sign and girth that shows it. `ref_shown_measures`: the tests
    that are looked at. `ref_urgencies`, `ref_turns`: the places of words in their orders.
    """
    rules, review = book.rules, settings.review
    figures = {
        **asdict(review),
        "as_of": as_of,
        "signs_since": as_of - timedelta(days=review.refer_days),
        "pain_note": rules.pain_note,
        "pain_refer": rules.pain_refer,
        "pain_under_age": rules.pain_under_age,
        "pain_urgency": rules.pain_urgency,
        "loss_urgency": rules.loss_urgency,
        "slow_loss_urgency": rules.slow_loss_urgency,
        "few_athletes": FEW,
        "most_share": MOST,
        "z90": Z90,
        "z95": Z95,
    }
    girths = [
        (measure, sign.girth_gain_cm, sign.girth_loss_cm, sign.urgency, place)
        for place, sign in enumerate(rules.signs.values())
        for measure in sign.girths
    ]
    return {
        # Whole numbers of 32 bits, as days are added to dates.
        "ref_flag_rules": pl.DataFrame([{"squad": squad, **figures} for squad in squads]).cast(
            {pl.Int64: pl.Int32}
        ),
        "ref_girth_signs": pl.DataFrame(girths, GIRTH_SIGNS, orient="row"),
        "ref_shown_measures": pl.DataFrame(
            {"measure": list(settings.report.measures or book.measures)}
        ),
        "ref_urgencies": _places("urgency", URGENCIES),
        "ref_turns": _places("turn", [str(turn) for turn in Turn]),
    }


def _places(name: str, words: Sequence[str]) -> pl.DataFrame:
    return pl.DataFrame({name: list(words)}).with_row_index("place")
