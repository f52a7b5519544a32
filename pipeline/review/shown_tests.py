"""The tests a team looks at, where its settings name them (`[report] measures`)."""

import polars as pl

from pipeline.settings import Settings

ALWAYS = ("refer", "training")  # flags that no choice of tests hides


def only_shown(frame: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """The rows of the tests shown; estimates from the training log stay.

    Of flags those for medical staff and those about training stay, whatever their test.
    """
    shown = list(settings.report.measures)
    if not shown:
        return frame
    kept = pl.col("measure").is_in(shown) | pl.col("measure").str.contains(":", literal=True)
    if "reason" in frame.columns:
        kept |= pl.col("reason").is_in(ALWAYS)
    return frame.filter(kept)
