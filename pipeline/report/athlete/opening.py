"""The first words of an athlete's report: what is normal, and what stands out today."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl

from pipeline.catalogue import Measure
from pipeline.plan.block import Block
from pipeline.report.sections import balance
from pipeline.report.text import decided, words
from pipeline.report.text.phrases import say
from pipeline.review.week import Week
from schemas.plan_words import Plan, PlanReason
from schemas.vocabulary import FlagKind, LowerSide, Movement, Reason, Sureness, Turn, Verdict

PLANNED = (
    Plan.TRAIN,
    Plan.MOBILITY,
    Plan.EVEN,
    Plan.DONE,
    Plan.STOP,
)  # blocks that change what is done


def opening_of(
    ranked: pl.DataFrame,
    flags: pl.DataFrame,
    block: Block,
    week: Week,
    contact: str,
) -> str:
    """What a report says first, to whom it is about; `ranked` are the findings, surest first."""
    measures = week.catalogue.measures
    parts = [say("athlete.opening.normal")]
    told = decided.told_athlete(block, contact, week.as_of)
    if told and block.plan in (Plan.MEDICAL, Plan.RETURN):
        return " ".join([*parts, told])
    if not flags.filter(pl.col("turn") == Turn.REFER).is_empty():
        return " ".join([*parts, say("athlete.opening.referred", contact=contact)])
    is_medical = block.plan == Plan.MEDICAL  # trains with limits: the staff come before any number
    if is_medical:
        parts.append(say("athlete.opening.medical", contact=contact))
    # Whatever the tests say, nobody knows what follows from it.
    if block.choice.why == PlanReason.UNMADE:
        return " ".join([*parts, say("athlete.opening.unmade")])
    if block.choice.why == PlanReason.AVAILABILITY:
        return " ".join([*parts, say("athlete.opening.wait")])
    # What a meeting decided is said in its place; what it left as it is stands out no more.
    ranked = ranked.filter(~pl.col("is_accepted"))
    clear = ranked.filter(
        (pl.col("verdict") == Verdict.CONFIRMED) & (pl.col("lower_side") != LowerSide.EVEN)
    )
    if block.plan in (Plan.KEEP, Plan.WAIT, Plan.RETEST, Plan.DONE) and told:
        parts.append(told)
        if block.plan == Plan.KEEP and not clear.is_empty():
            parts.append(say("athlete.opening.beside_kept", count=clear.height))
        return " ".join(parts)
    none = zeros(flags, week)
    if ranked.is_empty() and not none:
        is_uneven = block.plan == Plan.EVEN
        if not is_medical:
            parts.append(say("athlete.opening.log" if is_uneven else "athlete.opening.untested"))
        return " ".join(parts)
    open_ones = ranked.filter(
        pl.col("verdict").is_in([Verdict.RETEST, Verdict.ONE_SESSION])
    ).filter((pl.col("sureness") != Sureness.NOT_SHOWN) & (pl.col("lower_side") != LowerSide.EVEN))
    if block.plan == Plan.DONE and block.measure in measures:  # two test days within its line
        parts.append(say("athlete.opening.closed", measure=measures[block.measure].short))
        open_ones = open_ones.filter(pl.col("measure") != block.measure)
        if clear.is_empty() and open_ones.is_empty():
            return " ".join(parts)
    if clear.is_empty() and open_ones.is_empty():
        if none:
            return " ".join([*parts, say("athlete.opening.zero", zero=none[0])])
        if is_medical:  # no verdict before theirs
            return " ".join(parts)
        if block.plan == Plan.RETEST and block.measure in measures:
            again = measures[block.measure].short
            flag = block.choice.flag
            if flag is not None and flag["reason"] == Reason.OVERDUE:
                parts.append(_nothing_found(ranked, measures))
                return " ".join([*parts, say("athlete.opening.due_again", measure=again)])
            return " ".join([*parts, say("athlete.opening.test_again", measure=again)])
        parts.append(_nothing_found(ranked, measures))
        if block.plan in PLANNED:
            parts.append(say("athlete.opening.planned"))
        else:
            parts.append(say("athlete.opening.nothing"))
        return " ".join(parts)
    open_count = open_ones.height
    if ranked.height - clear.height - open_count > ranked.height / 2:
        parts.append(say("athlete.opening.mostly_usual"))
    if not clear.is_empty():
        row = clear.row(0, named=True)
        parts.append(say("athlete.opening.stands_out", difference=_plain(row, measures)))
        parts.append(_movement(row, week.as_of))
        if clear.height > 1:
            parts.append(say("athlete.opening.others", count=clear.height - 1))
    else:
        row = open_ones.row(0, named=True)
        parts.append(say("athlete.opening.unsettled", difference=_plain(row, measures)))
        open_count -= 1
    if open_count:
        parts.append(say("athlete.opening.others_unsettled", count=open_count))
    if clear.is_empty() and not is_medical:
        parts.append(say("athlete.opening.retest"))
    if block.plan in (Plan.TRAIN, Plan.MOBILITY):
        parts.append(say("athlete.opening.planned"))
    if block.plan == Plan.KEEP:
        parts.append(say("athlete.opening.known"))
    if block.choice.why == PlanReason.UNDER_AGE:
        parts.append(say("athlete.opening.under_age"))
    return " ".join(parts)


def _plain(row: Mapping[str, Any], measures: Mapping[str, Measure]) -> str:
    measure = measures[row["measure"]]
    return say(
        "athlete.opening.in_record" if measure.is_record else "athlete.opening.in_test",
        measure=measure.short,
        side=words.side_name(row["lower_side"]),
        word=balance.compared(measure),
        other=words.side_name(words.other(row["lower_side"])),
    )


def _nothing_found(ranked: pl.DataFrame, measures: Mapping[str, Measure]) -> str:
    if int(str(ranked["session_count"].max())) > 1:
        return say("athlete.opening.usual")
    tests = [measures[name].short for name in ranked["measure"]]
    if len(tests) > 3:
        return say("athlete.opening.one_test_day_many", number=len(tests))
    return say("athlete.opening.one_test_day", tests=words.listed(tests))


def _movement(row: Mapping[str, Any], as_of: date) -> str:
    if row["moved"] == Movement.ONE_DAY:
        return say("athlete.opening.one_day")
    day = words.short_day(row["reference_on"], as_of)
    if row["moved"] in (Movement.SMALLER, Movement.LARGER):
        is_smaller = row["moved"] == Movement.SMALLER
        return say(
            "athlete.opening.smaller" if is_smaller else "athlete.opening.larger",
            day=day,
        )
    is_tested = row["moved"] == Movement.UNCHANGED
    return say(
        "athlete.opening.unchanged" if is_tested else "athlete.opening.untested_since", day=day
    )


def zeros(flags: pl.DataFrame, week: Week) -> list[str]:
    """Tests in which one side came to nothing, a sentence each: no percentage can be made of it."""
    return [
        balance.zero_sentence(
            week.details[FlagKind.ZERO, who, measure], week.catalogue.measures[measure], week.as_of
        )
        for who, measure in flags.filter(pl.col("kind") == FlagKind.ZERO)
        .select("athlete_id", "measure")
        .iter_rows()
    ]
