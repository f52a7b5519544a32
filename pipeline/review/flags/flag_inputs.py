"""What the flags read besides rows of the exports, as tables: what was estimated and decided, and
what is in force for a squad.

Every figure that a flag is held against comes from here, so that none stands in SQL: those of the
settings, of the practice rules and of the catalogue.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.catalogue import Catalogue, full_catalogue
from pipeline.estimate import Estimates
from pipeline.review.decisions.cleared_signs import settled_signs, written_signs
from pipeline.review.decisions.earlier_days import Then, fallen_of
from pipeline.review.decisions.standing import Standing, stands
from pipeline.review.training.by_side import lower_sides
from pipeline.scales import Z90, Z95
from pipeline.settings import Settings
from pipeline.warehouse.parts import squads_of
from schemas.vocabulary import URGENCIES, Turn

FEW, MOST = 4, 0.5  # athletes of a test from which on, and the share that is most of them
GIRTH_SIGNS = {
    "measure": pl.String,
    "gain_cm": pl.Float64,  # on one side since the last time, with a note; null where it is no sign
    "loss_cm": pl.Float64,  # on one side
    "urgency": pl.String,
    "place": pl.Int64,
}


@dataclass(frozen=True)
class Evidence:
    """What the tests, the log and the notes of some squads say."""

    estimates: Estimates
    found: pl.DataFrame  # the findings
    then: Then  # what was known on earlier days
    work: pl.DataFrame  # the one-sided work by part
    signs: pl.DataFrame  # those in notes


def what_is_known(
    evidence: Evidence,
    told: Mapping[str, Standing],
    athletes: pl.DataFrame,
    as_of: date,
    settings: Settings,
) -> dict[str, pl.DataFrame]:
    """Tables by name; `told` holds what stands about each flag."""
    estimates, found, work = evidence.estimates, evidence.found, evidence.work
    book, review = full_catalogue(), settings.review
    return {
        **in_force(squads_of(athletes), book, as_of, settings),
        "mart_findings": found,
        "mart_session_estimates": estimates.days,
        "mart_side_levels": estimates.sides,
        "mart_falls": fallen_of(estimates, found, as_of - timedelta(days=review.refer_days)),
        "mart_known_then": evidence.then.differences,
        "mart_falls_then": evidence.then.falls,
        "mart_work_by_side": work,
        "mart_lower_sides": lower_sides(found, work, review),
        "mart_noted_signs": evidence.signs,
        "mart_written_signs": written_signs(told, athletes, book.rules),
        "mart_settled_signs": settled_signs(told),
        "mart_standing": stands(told),
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
        **review.model_dump(),
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
