"""Notes of staff and athletes that ask for medical staff, by the words of the practice rules."""

import polars as pl

from pipeline.catalogue import Rules

SIGN = {
    "athlete_id": pl.String,
    "noted_on": pl.Date,
    "sign": pl.String,
    "urgency": pl.String,
    "note": pl.String,
}


def noted_signs(
    trials: pl.DataFrame, remarks: pl.DataFrame, film: pl.DataFrame, rules: Rules
) -> pl.DataFrame:
    """One row per athlete, day and sign: notes beside tests, training and film that hold a sign.

    Each different note is read once, however many rows carry it.
    """
    notes = (
        pl.concat(
            [
                trials.select("athlete_id", pl.col("tested_on").alias("noted_on"), "note"),
                remarks.select("athlete_id", pl.col("trained_on").alias("noted_on"), "note"),
                film.select("athlete_id", pl.col("filmed_on").alias("noted_on"), "note"),
            ]
        )
        .drop_nulls("note")
        .unique()
    )
    found = [
        (note, sign.id, sign.urgency)
        for note in notes["note"].unique().to_list()
        if (sign := rules.sign(note)) is not None
    ]
    signs = pl.DataFrame(
        found, schema={"note": pl.String, "sign": pl.String, "urgency": pl.String}, orient="row"
    )
    return (
        notes.join(signs, on="note")
        .select(pl.col(name).cast(kind) for name, kind in SIGN.items())
        .sort("athlete_id", "noted_on", "sign", "note")
    )
