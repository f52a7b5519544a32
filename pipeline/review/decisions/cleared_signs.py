"""Signs that medical staff have cleared, and those that somebody wrote beside a decision."""

from collections.abc import Mapping

import polars as pl

from pipeline.catalogue import Rules
from pipeline.review.decisions.standing import Standing, words_of
from schemas.vocabulary import Decision

SETTLED = {"athlete_id": pl.String, "topic": pl.String, "settled_on": pl.Date}
WRITTEN = {
    "squad": pl.String,
    "athlete_id": pl.String,
    "topic": pl.String,  # the sign, else what the flag is about
    "sign": pl.String,
    "pain_level": pl.Float64,  # of 10
    "noted_on": pl.Date,
    "note": pl.String,
    "urgency": pl.String,
    "place": pl.Int64,  # among all of them
}


def settled_signs(told: Mapping[str, Standing]) -> pl.DataFrame:
    """Until when the signs of an athlete and topic are settled: what medical staff have cleared."""
    rows = []
    for one in told.values():
        if one.is_medical and one.cleared_on is not None:
            is_done = one.force is not None and one.force.decision == Decision.DONE
            until = one.force.began_on if one.force and is_done else one.cleared_on
            rows.append((one.athlete_id, one.topic, until))
    return pl.DataFrame(rows, SETTLED, orient="row")


def written_signs(
    told: Mapping[str, Standing], athletes: pl.DataFrame, rules: Rules
) -> pl.DataFrame:
    """Signs and pain that were written beside a decision, which so starts nothing."""
    squads = dict(athletes.select("athlete_id", "squad").iter_rows())
    rows = []
    for place, one in enumerate(told.values()):
        if one.refer_note is None:
            continue
        note = words_of(one.refer_note.row)
        sign = rules.sign(note)
        said = (
            (one.topic, None, rules.noted_pain(note)) if sign is None else (sign.id, sign.id, None)
        )
        urgency = rules.pain_urgency if sign is None else sign.urgency
        who = squads[one.athlete_id], one.athlete_id
        rows.append((*who, *said, one.refer_note.noted_on, note, urgency, place))
    return pl.DataFrame(rows, WRITTEN, orient="row")
