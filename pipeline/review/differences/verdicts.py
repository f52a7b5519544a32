"""Today's estimates as findings: in the unit a coach reads, with a verdict."""

from collections.abc import Mapping

import polars as pl
from scipy.stats import false_discovery_control

from pipeline.catalogue import Measure
from pipeline.estimate import Estimates
from pipeline.review.differences.sureness import how_sure
from pipeline.scales import shown, slope
from pipeline.settings import Settings
from schemas.vocabulary import LowerSide, Verdict

CONFIRMED = Verdict.CONFIRMED


def findings(
    estimates: Estimates,
    sessions: pl.DataFrame,
    measures: Mapping[str, Measure],
    settings: Settings,
) -> pl.DataFrame:
    """One row per athlete and measure tested on both sides, at the as-of date.

    `sessions` has one row per athlete, measure and day (`mart_day_asymmetry`). Columns ending in
    `_d` stay on the scale of the estimate; `observed`, `estimate`, `low90`, `high90`,
    `typical_error`, `mdc95`, `review_line` and `lead` are in the measure's difference unit,
    signed: positive where the right side performs better. `p_value` is of the latest session alone
    against no difference beyond the lead, `p_adjusted` the same over all findings of the squad
    (Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300); nothing is decided by either.
    """
    latest = (
        sessions.sort("tested_on")
        .group_by("athlete_id", "measure")
        .last()
        .select(
            "athlete_id", "measure", "left_value", "right_value",
            "left_best_value", "right_best_value", "pain",
        )
    )  # fmt: skip
    facts = pl.DataFrame(
        [
            {
                "measure": m.id,
                "value_unit": m.unit,
                "unit": m.difference_unit,
                "formula": m.formula,
                "slope": slope(m.formula),
                "region": m.region,
                "measure_group": m.group,
            }
            for m in measures.values()
        ]
    )
    today = estimates.today.rename(
        {
            "observed": "observed_d",
            "estimate": "estimate_d",
            "low": "low_d",
            "high": "high_d",
            "sd": "sd_d",
            "lead": "lead_d",
            "line": "line_d",
            "typical_error": "typical_error_d",
            "mdc95": "mdc95_d",
            "change": "change_d",
            "reference_estimate": "reference_d",
        }
    )
    # Sums of many small parts may leave a chance a hair outside 0 to 1.
    within = today.with_columns(pl.col("^chance_.*$").clip(0.0, 1.0))
    joined = within.join(latest, on=["athlete_id", "measure"], how="left").join(
        facts, on="measure", how="left"
    )
    sure = how_sure(
        joined["chance_over_line"].to_list(), joined["recent_disagree"].to_list(), settings.review
    )
    return (
        joined.with_columns(
            _shown(joined, "observed_d", "observed"),
            _shown(joined, "estimate_d", "estimate"),
            _shown(joined, "low_d", "low90"),
            _shown(joined, "high_d", "high90"),
            _shown(joined, "reference_d", "reference_estimate"),
            _shown(joined, "lead_d", "lead"),
            _shown(joined, "line_d", "review_line"),
            # Proportional to d, so that the change limit is exactly 1.96 times root two times the
            # typical error (Weir 2005, J Strength Cond Res 19:231-240).
            (pl.col("typical_error_d") * pl.col("slope")).alias("typical_error"),
            (pl.col("mdc95_d") * pl.col("slope")).alias("mdc95"),
            _verdict(settings),
            _lower_side(settings.review.side_chance),
            pl.Series("sureness", sure, pl.String),
            ((pl.col("reference_d") - pl.col("lead_d")).abs() > pl.col("line_d")).alias(
                "was_over_line"
            ),
        )
        .with_columns(
            pl.col("p_value")
            .map_batches(_adjusted, return_dtype=pl.Float64)
            .over("squad")
            .alias("p_adjusted")
        )
        .drop("slope")
        .sort("squad", "athlete_id", "measure")
    )


def _adjusted(p: pl.Series) -> pl.Series:
    return pl.Series(false_discovery_control(p.to_numpy()))


def _shown(frame: pl.DataFrame, source: str, name: str) -> pl.Series:
    """A column of d in each row's own unit; missing stays missing."""
    values = frame[source].cast(pl.Float64)
    return pl.Series(name, shown(values.to_numpy(), frame["formula"].to_list())).set(
        values.is_null(), None
    )


def _verdict(settings: Settings) -> pl.Expr:
    chance = pl.col("chance_over_line")
    return (
        pl.when(pl.col("session_count") < 2)
        .then(pl.lit(Verdict.ONE_SESSION))
        .when(
            (chance >= settings.review.confirmed_chance)
            & (pl.col("same_side_days") >= settings.review.confirmed_days)
        )
        .then(pl.lit(CONFIRMED))
        .when(chance >= settings.review.retest_chance)
        .then(pl.lit(Verdict.RETEST))
        .otherwise(pl.lit(Verdict.WITHIN))
        .alias("verdict")
    )


def _lower_side(certain: float) -> pl.Expr:
    """The lower side; below this chance of a side being lower the sides count as even."""
    right_better = pl.col("chance_right_better")
    return (
        pl.when(right_better >= certain)
        .then(pl.lit(LowerSide.LEFT))
        .when(right_better <= 1 - certain)
        .then(pl.lit(LowerSide.RIGHT))
        .otherwise(pl.lit(LowerSide.EVEN))
        .alias("lower_side")
    )
