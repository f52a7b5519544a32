"""The door out: arrays become frames, one row per key and sorted by it."""

from collections.abc import Mapping

import numpy as np
import polars as pl
from scipy.special import ndtr

from pipeline.catalogue import Measure
from pipeline.estimate.filter.squad_evidence import DAY, DRIFT, SPREAD
from pipeline.estimate.sessions.frames import Keys
from pipeline.estimate.sessions.panel import (
    BOTH_SIDED,
    LEFT,
    LEFT_DOMINANT,
    RIGHT_DOMINANT,
    UNKNOWN,
    Numbers,
    Panel,
    by_side,
    counts,
    sums,
)
from pipeline.estimate.side_levels import one_sided_loss
from pipeline.estimate.steps import Work
from pipeline.scales import Z95
from pipeline.settings import EstimateSettings
from schemas.vocabulary import Side


def error_table(work: Work, keys: Keys) -> pl.DataFrame:
    """One row per squad and measure: its errors, leads and spread, in d units."""
    panel, fit = work.panel, work.fit
    tested = np.unique(work.tests.series)
    usual = usual_trials(panel)
    typical = typical_error(work, usual)
    found = {
        "athlete_count": _whole(counts(panel.series_group[tested], panel.group_count)),
        "session_count": _whole(counts(panel.series_group[work.tests.series], panel.group_count)),
        "usual_trials": usual,
        "within_sd": work.errors.within_sd,
        "within_df": work.errors.within_df,
        "pairing": work.errors.pairing,
        "day_sd": fit.sds[:, DAY],
        "drift_sd_week": fit.sds[:, DRIFT],  # if all drifted alike
        "pace": fit.pace,  # how often people start to change, of what is usual
        "typical_error": typical,
        "mdc95": Z95 * np.sqrt(2) * typical,  # Weir 2005, J Strength Cond Res 19:231-240
        "lead_right": fit.class_centre[:, RIGHT_DOMINANT],
        "lead_left": fit.class_centre[:, LEFT_DOMINANT],
        "lead_both": fit.class_centre[:, BOTH_SIDED],
        "lead_none": fit.class_centre[:, UNKNOWN],
        "spread_sd": fit.sds[:, SPREAD],
    }
    return keys.groups.with_columns(**_columns(found))


def typical_error(work: Work, trials: Numbers) -> Numbers:
    """SD of one session's d about the athlete's level, with this many trials a side.

    The steps of loads are those its squad usually has. Shape [group].
    """
    panel, errors = work.panel, work.errors
    alone = 2 * errors.within_sd**2 * (1 - errors.pairing) / trials
    group = panel.series_group[panel.session_series[panel.cell_session]]
    steps = sums(errors.coarse, group, panel.group_count) / counts(group, panel.group_count)
    return np.sqrt(alone + 2 * steps + work.fit.sds[:, DAY] ** 2)


def usual_trials(panel: Panel) -> Numbers:
    """Median number of trials a side and session. Shape [group]."""
    group = panel.series_group[panel.session_series[panel.cell_session]]
    order = np.lexsort((panel.cell_count, group))
    size = np.bincount(group, minlength=panel.group_count)
    start = np.cumsum(size) - size
    ordered = panel.cell_count[order]
    return np.asarray((ordered[start + (size - 1) // 2] + ordered[start + size // 2]) / 2)


def day_table(work: Work, keys: Keys, settings: EstimateSettings) -> pl.DataFrame:
    """One row per session; d and all that follows from it is null where one side is untested.

    `d` and `se` are the plain means' of that day alone; the rest is what was known on that day,
    but for `smooth` and its limits, which know all days.
    """
    panel, tests = work.panel, work.tests
    left, right = by_side(panel, work.errors.plain_mean)
    left_count, right_count = by_side(panel, panel.cell_count.astype(np.float64), 0.0)
    then = work.then
    day_sd = work.fit.sds[panel.series_group[tests.series], DAY]
    found = {
        "d": tests.plain,
        "se": np.sqrt(tests.plain_variance + day_sd**2),
        "estimate": then.estimate,
        "low": then.low,
        "high": then.high,
        "chance_over_line": then.chance_over,
        "smooth": then.smooth,
        "smooth_low": then.smooth_low,
        "smooth_high": then.smooth_high,
        "surprise": then.surprise,
    }
    again = np.diff(tests.series, prepend=-1) == 0
    is_odd = np.zeros(panel.session_count, dtype=np.bool_)
    is_odd[tests.session] = again & (np.abs(then.surprise) > settings.odd_surprise)
    columns = {
        "left_mean": left,
        "right_mean": right,
        "left_count": _whole(left_count),
        "right_count": _whole(right_count),
        **{name: _placed(panel, tests.session, values) for name, values in found.items()},
        "is_odd": is_odd,
    }
    return (
        keys.sessions.with_columns(**_columns(columns))
        .select("athlete_id", pl.exclude("athlete_id"))
        .sort("athlete_id", "measure", "tested_on")
    )


def today_table(work: Work, keys: Keys, errors: pl.DataFrame) -> pl.DataFrame:
    """One row per athlete and measure with data on both sides, at the as-of date."""
    panel, tests, now = work.panel, work.tests, work.now
    group = panel.series_group[now.series]
    left_count, right_count = by_side(panel, panel.cell_count.astype(np.float64), 0.0)
    session = tests.session[now.test]
    day_sd = work.fit.sds[group, DAY]
    observed = tests.plain[now.test]
    observed_se = np.sqrt(tests.plain_variance[now.test] + day_sd**2)
    columns = {
        "session_count": now.test_count,
        "left_trial_count": _whole(left_count[session]),
        "right_trial_count": _whole(right_count[session]),
        "observed": observed,
        "observed_se": observed_se,
        # That the latest session differs from the lead by its error alone, two-sided.
        "p_value": 2 * ndtr(-np.abs(observed - now.lead) / observed_se),
        "estimate": now.estimate,
        "low": now.low,
        "high": now.high,
        "sd": now.sd,
        "lead": now.lead,
        "line": now.line,
        "chance_over_line": now.chance_over,
        "chance_right_better": now.chance_right,
        "same_side_days": _same_side_days(work),
        "chance_closing": now.chance_closing,
        "change": now.estimate - now.reference,
        "reference_estimate": now.reference,
        "typical_error": errors["typical_error"].to_numpy()[group],
        "mdc95": errors["mdc95"].to_numpy()[group],
        "recent_disagree": work.disagree,
        "one_sided_loss": one_sided_loss(work.sides, panel.series_count)[now.series],
    }
    last = keys.sessions["tested_on"][session].alias("last_tested_on")
    reference = pl.Series("reference_on", now.reference_day.astype(np.int32)).cast(pl.Date)
    return (
        keys.series[now.series]
        .with_columns(last, reference, **_columns(columns))
        .sort("athlete_id", "measure")
    )


def side_table(work: Work, keys: Keys) -> pl.DataFrame:
    """One row per athlete, measure and side: its level against its own earlier ones."""
    found = work.sides
    columns = {
        "side": np.where(found.side == LEFT, Side.LEFT, Side.RIGHT),
        "session_count": found.session_count,
        "level": found.level,
        "level_se": found.level_se,
        "first_level": found.first_level,
        "change_first": found.change_first,
        "change_first_se": found.change_first_se,
        "fall_chance": found.fall_chance,
        "recent_level": found.recent_level,
        "change_recent": found.change_recent,
        "change_recent_se": found.change_recent_se,
        "loss_chance": found.loss_chance,
        "lost_share": found.lost_share,
        "is_lost": found.is_lost,
        "fall": found.fall,
        "fall_share": found.fall_share,
    }
    last = keys.sessions["tested_on"][found.last_session].alias("last_tested_on")
    return (
        keys.series[found.series]
        .select("athlete_id", "measure")
        .with_columns(last, **_columns(columns))
        .sort("athlete_id", "measure", "side")
    )


def with_line(sides: pl.DataFrame, measures: Mapping[str, Measure]) -> pl.DataFrame:
    """The levels of sides, each with the chance that it lies below the line its measure has.

    Adds `below_line_chance`, null where the measure has no line for a side alone.
    """
    lines = {name: measure.level_review for name, measure in measures.items()}
    line = pl.col("measure").replace_strict(lines, default=None, return_dtype=pl.Float64)
    z = sides.select((line - pl.col("level")) / pl.col("level_se")).to_series()
    chance = pl.Series("below_line_chance", ndtr(z.to_numpy()))
    return sides.with_columns(chance.set(z.is_null(), None))


def _same_side_days(work: Work) -> np.ndarray:
    """Days whose difference has the estimate's sign, per row of today."""
    side = np.zeros(work.panel.series_count)
    side[work.now.series] = np.sign(work.now.estimate)
    same = np.sign(work.tests.plain) == side[work.tests.series]
    total = sums(same.astype(np.float64), work.tests.series, work.panel.series_count)
    return _whole(total[work.now.series])


def _placed(panel: Panel, session: np.ndarray, values: Numbers) -> Numbers:
    whole = np.full(panel.session_count, np.nan)
    whole[session] = values
    return whole


def _whole(values: Numbers) -> np.ndarray:
    return values.astype(np.int64)


def _columns(found: dict[str, np.ndarray]) -> dict[str, pl.Series]:
    return {
        name: pl.Series(name, values, nan_to_null=values.dtype == np.float64)
        for name, values in found.items()
    }
