"""Signs that medical staff have cleared, and those that somebody wrote beside a decision."""

from collections.abc import Mapping

import polars as pl

from pipeline.catalogue import Rules
from pipeline.review.decisions.standing import Standing, words_of
from schemas.flag_ids import parted
from schemas.vocabulary import Decision

SIGN = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "measure": pl.String,
    "first_flagged_on": pl.Date,
    "cause": pl.String,
    "cause_value": pl.Float64,
    "cause_on": pl.Date,
    "cause_note": pl.String,
    "lower_side": pl.String,  # the side it is about; null where it is about both
    "pain": pl.Float64,
    "pain_on": pl.Date,
    "pain_side": pl.String,
    "urgency": pl.String,
}


def settled_until(told: Mapping[str, Standing]) -> pl.DataFrame:
    """Until when the signs of an athlete and topic are settled: what medical staff have cleared."""
    rows = []
    for one in told.values():
        parts = parted(one.flag_id)
        if parts is None or not one.is_medical or one.cleared_on is None:
            continue
        is_done = one.force is not None and one.force.decision == Decision.DONE
        rows.append((*parts[:2], one.force.began_on if one.force and is_done else one.cleared_on))
    return pl.DataFrame(
        rows, {"athlete_id": pl.String, "measure": pl.String, "settled_on": pl.Date}, orient="row"
    )


def later(
    signs: pl.DataFrame, on: str, settled: pl.DataFrame, topic: str = "measure"
) -> pl.DataFrame:
    """The signs (with a day `on`) of what is not settled, or that came after it was."""
    if settled.is_empty():
        return signs
    known = settled.rename({"measure": topic})
    is_later = pl.col("settled_on").is_null() | (pl.col(on) > pl.col("settled_on"))
    return (
        signs.join(known, on=["athlete_id", topic], how="left", maintain_order="left")
        .filter(is_later)
        .drop("settled_on")
    )


def written_signs(
    told: Mapping[str, Standing], athletes: pl.DataFrame, rules: Rules
) -> pl.DataFrame:
    """Signs and pain that were written beside a decision, which so starts nothing."""
    squads = dict(athletes.select("athlete_id", "squad").iter_rows())
    rows = []
    for one in told.values():
        run, parts = one.refer_note, parted(one.flag_id)
        if run is None or parts is None or parts[0] not in squads:
            continue
        note = words_of(run.row)
        sign = rules.sign(note)
        rows.append(
            {
                "squad": squads[parts[0]],
                "athlete_id": parts[0],
                "measure": parts[1] if sign is None else sign.id,
                "first_flagged_on": run.noted_on,
                "cause": "pain" if sign is None else "words",
                "cause_value": rules.noted_pain(note) if sign is None else None,
                "cause_on": run.noted_on,
                "cause_note": note,
                "urgency": rules.pain_urgency if sign is None else sign.urgency,
            }
        )
    frame = pl.DataFrame(rows, schema=SIGN)
    return frame.sort(
        "athlete_id", "measure", pl.col("cause_value"), descending=[False, False, True]
    )
