"""The thin door: frames of the warehouse in, arrays inside, frames out."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate import scales
from pipeline.estimate.error import TrialErrors
from pipeline.estimate.levels import Differences, History, Today
from pipeline.estimate.panel import (
    BOTH_SIDED,
    LEFT,
    LEFT_DOMINANT,
    RIGHT_DOMINANT,
    UNKNOWN,
    Indices,
    Panel,
    Standards,
    by_side,
    counts,
    sums,
)
from pipeline.estimate.prior import SquadFit
from pipeline.estimate.sides import SideTracks, one_sided_loss
from pipeline.settings import EstimateSettings, Settings

ORDER = ("squad", "measure", "athlete_id", "tested_on", "side", "trial", "score")
DOMINANCE = {"right": RIGHT_DOMINANT, "left": LEFT_DOMINANT, "both": BOTH_SIDED}


@dataclass(frozen=True)
class Keys:
    """Names of what the panel numbers: one row per group, series, session, in panel order."""

    groups: pl.DataFrame  # squad, measure
    series: pl.DataFrame  # squad, measure, athlete_id
    sessions: pl.DataFrame  # squad, measure, athlete_id, tested_on


def read_panel(
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
    settings: Settings,
) -> tuple[Panel, Keys]:
    """Trials up to the as-of date as arrays, and the names of what the arrays number."""
    rows = _rows(trials, athletes, measures, as_of)
    new_group = _changes(rows, "squad", "measure")
    new_series = new_group | _changes(rows, "athlete_id")
    new_session = new_series | _changes(rows, "tested_on")
    new_cell = new_session | _changes(rows, "side")
    group, series, session, cell = (
        np.cumsum(new) - 1 for new in (new_group, new_series, new_session, new_cell)
    )
    keys = Keys(
        groups=rows.select("squad", "measure").filter(new_group),
        series=rows.select("squad", "measure", "athlete_id").filter(new_series),
        sessions=rows.select("squad", "measure", "athlete_id", "tested_on").filter(new_session),
    )
    first = np.flatnonzero(new_session)
    shaping = rows["shapes"].to_numpy()
    panel = Panel(
        score=rows["score"].to_numpy(),
        trial_cell=cell,
        cell_count=np.bincount(cell).astype(np.int64),
        cell_session=session[new_cell],
        cell_side=(rows["side"] == "right").to_numpy()[new_cell].astype(np.int64),
        session_series=series[new_session],
        session_day=rows["tested_on"].cast(pl.Int32).to_numpy()[new_session].astype(np.int64),
        session_shapes=np.logical_and.reduceat(shaping, first) if len(first) else shaping,
        series_group=group[new_series],
        series_dominance=_dominance(rows.filter(new_series), measures),
        standards=_standards(keys.groups, measures, settings),
    )
    return panel, keys


def _rows(
    trials: pl.DataFrame,
    athletes: pl.DataFrame,
    measures: Mapping[str, Measure],
    as_of: date,
) -> pl.DataFrame:
    per_side = [name for name, measure in measures.items() if measure.kind != "whole_body"]
    persons = athletes.select(
        "athlete_id", "dominant_hand", "dominant_foot", pl.col("shapes").alias("athlete_shapes")
    )
    rows = trials.filter(
        pl.col("tested_on") <= as_of,
        pl.col("measure").is_in(per_side),
        pl.col("side").is_in(["left", "right"]),
        pl.col("score").is_finite(),
    ).with_columns(pl.col("squad").fill_null(""))
    return (
        rows.sort(ORDER)
        .join(persons, on="athlete_id", how="left", maintain_order="left")
        .with_columns(shapes=pl.col("shapes") & pl.col("athlete_shapes").fill_null(value=True))
    )


def _changes(rows: pl.DataFrame, *columns: str) -> np.ndarray:
    """Whether a row differs from the one before in any of the columns; the first one does."""
    changed = np.zeros(rows.height, dtype=np.bool_)
    for name in columns:
        changed |= rows[name].ne_missing(rows[name].shift(1)).to_numpy()
    changed[:1] = True
    return changed


def _dominance(series: pl.DataFrame, measures: Mapping[str, Measure]) -> Indices:
    by = {name: measure.lead.by for name, measure in measures.items()}
    code = pl.lit(None, dtype=pl.String)
    for limb in ("hand", "foot"):
        named = [name for name, lead_by in by.items() if lead_by == limb]
        code = pl.when(pl.col("measure").is_in(named)).then(f"dominant_{limb}").otherwise(code)
    words = series.select(
        code.replace_strict(DOMINANCE, default=UNKNOWN, return_dtype=pl.Int64)
    ).to_series()
    return words.to_numpy()


def _standards(
    groups: pl.DataFrame, measures: Mapping[str, Measure], settings: Settings
) -> Standards:
    found = [measures[name] for name in groups["measure"]]
    to_d = scales.from_shown
    lines = [
        settings.review_lines.get(squad, {}).get(name, measures[name].review)
        for squad, name in groups.iter_rows()
    ]
    hand = settings.estimate.unknown_right_hand
    foot = settings.estimate.unknown_right_foot
    return Standards(
        trial_error=np.array([scales.trial_error(m) for m in found], dtype=np.float64),
        side_sd=_floats(to_d(m.side_sd, m.formula) for m in found),
        lead_right=_floats(to_d(m.lead.right_dominant, m.formula) for m in found),
        lead_left=_floats(-to_d(m.lead.left_dominant, m.formula) for m in found),
        has_lead=np.array([m.lead.by != "none" for m in found], dtype=np.bool_),
        known_right=np.array([foot if m.lead.by == "foot" else hand for m in found]),
        line=_floats(to_d(line, m.formula) for line, m in zip(lines, found, strict=True)),
    )


def _floats(values: object) -> np.ndarray:
    return np.array([float(value) for value in values], dtype=np.float64)  # type: ignore[attr-defined]


def log_groups(keys: Keys, measures: Mapping[str, Measure]) -> np.ndarray:
    """Whether a group's scores are logarithms. Shape [group]."""
    return np.array([measures[name].scale == "log" for name in keys.groups["measure"]], dtype=bool)


def error_frame(
    panel: Panel, keys: Keys, errors: TrialErrors, fit: SquadFit, tests: Differences
) -> pl.DataFrame:
    """One row per squad and measure: its errors, lead and spread."""
    group = panel.series_group[tests.series]
    trials = np.median  # usual number of trials a side, see below
    cell_group = panel.series_group[panel.session_series[panel.cell_session]]
    usual = np.array(
        [trials(panel.cell_count[cell_group == g]) for g in range(panel.group_count)]
    ).astype(np.float64)
    typical = np.sqrt(2 * errors.within_sd**2 / usual + fit.day_sd**2)
    series = np.unique(tests.series)
    return keys.groups.with_columns(
        pl.Series("athlete_count", counts(panel.series_group[series], panel.group_count)).cast(
            pl.Int64
        ),
        pl.Series("session_count", counts(group, panel.group_count)).cast(pl.Int64),
        pl.Series("usual_trials", usual),
        pl.Series("within_sd", errors.within_sd),
        pl.Series("within_df", errors.within_df),
        pl.Series("day_sd", fit.day_sd),
        pl.Series("drift_sd_week", fit.drift_sd),
        pl.Series("typical_error", typical),
        pl.Series("mdc95", 1.96 * np.sqrt(2) * typical),
        pl.Series("lead_right", fit.centre[:, RIGHT_DOMINANT]),
        pl.Series("lead_left", fit.centre[:, LEFT_DOMINANT]),
        pl.Series("lead_both", fit.centre[:, BOTH_SIDED]),
        pl.Series("lead_none", fit.centre[:, UNKNOWN]),
        pl.Series("spread_sd", fit.spread_sd),
    )


def days_frame(
    panel: Panel,
    keys: Keys,
    errors: TrialErrors,
    tests: Differences,
    then: History,
    settings: EstimateSettings,
) -> pl.DataFrame:
    """One row per session; d and all that follows from it is null where one side is untested."""
    left, right = by_side(panel, errors.plain_mean)
    left_count, right_count = by_side(panel, panel.cell_count.astype(np.float64), 0.0)
    whole = np.full(panel.session_count, np.nan)

    def spread_out(name: str, values: np.ndarray) -> pl.Series:
        column = whole.copy()
        column[tests.session] = values
        return pl.Series(name, column, nan_to_null=True)

    earlier = np.r_[False, tests.series[1:] == tests.series[:-1]]
    is_odd = np.zeros(panel.session_count, dtype=np.bool_)
    is_odd[tests.session] = earlier & (np.abs(then.surprise) > settings.odd_surprise)
    return (
        keys.sessions.with_columns(
            pl.Series("left_mean", left, nan_to_null=True),
            pl.Series("right_mean", right, nan_to_null=True),
            pl.Series("left_count", left_count).cast(pl.Int64),
            pl.Series("right_count", right_count).cast(pl.Int64),
            spread_out("d", tests.plain),
            spread_out("se", then.se),
            spread_out("estimate", then.estimate),
            spread_out("low", then.low),
            spread_out("high", then.high),
            spread_out("chance_over_line", then.chance_over),
            spread_out("smooth", then.smooth),
            spread_out("smooth_low", then.smooth_low),
            spread_out("smooth_high", then.smooth_high),
            spread_out("surprise", then.surprise),
            pl.Series("is_odd", is_odd),
        )
        .select("athlete_id", pl.exclude("athlete_id"))
        .sort("athlete_id", "measure", "tested_on")
    )


def today_frame(
    panel: Panel,
    keys: Keys,
    errors: TrialErrors,
    tests: Differences,
    fit: SquadFit,
    now: Today,
    sided: SideTracks,
    error_rows: pl.DataFrame,
) -> pl.DataFrame:
    """One row per athlete and measure with data on both sides, at the as-of date."""
    names = keys.series[now.series]
    group = panel.series_group[now.series]
    left_count, right_count = by_side(panel, panel.cell_count.astype(np.float64), 0.0)
    session = tests.session[now.test]
    side = np.sign(now.estimate)
    of_series = np.zeros(panel.series_count)
    of_series[now.series] = side
    same = sums(
        (np.sign(tests.plain) == of_series[tests.series]).astype(np.float64),
        tests.series,
        panel.series_count,
    )
    return names.with_columns(
        keys.sessions["tested_on"][session].alias("last_tested_on"),
        pl.Series("session_count", now.test_count),
        pl.Series("left_trial_count", left_count[session]).cast(pl.Int64),
        pl.Series("right_trial_count", right_count[session]).cast(pl.Int64),
        pl.Series("observed", tests.plain[now.test]),
        pl.Series("observed_se", np.sqrt(tests.plain_variance[now.test] + fit.day_sd[group] ** 2)),
        pl.Series("estimate", now.estimate),
        pl.Series("low", now.low),
        pl.Series("high", now.high),
        pl.Series("sd", now.sd),
        pl.Series("lead", now.lead),
        pl.Series("line", now.line),
        pl.Series("chance_over_line", now.chance_over),
        pl.Series("chance_right_better", now.chance_right),
        pl.Series("same_side_days", same[now.series]).cast(pl.Int64),
        pl.Series("chance_closing", now.chance_closing, nan_to_null=True),
        pl.Series("change", now.estimate - now.first),
        pl.Series("first_estimate", now.first),
        pl.Series(
            "chance_closing_since_previous", now.chance_closing_since_previous, nan_to_null=True
        ),
        pl.Series("typical_error", error_rows["typical_error"].to_numpy()[group]),
        pl.Series("mdc95", error_rows["mdc95"].to_numpy()[group]),
        pl.Series("one_sided_loss", one_sided_loss(sided, panel.series_count)[now.series]),
    ).sort("athlete_id", "measure")


def sides_frame(keys: Keys, sided: SideTracks) -> pl.DataFrame:
    """One row per athlete, measure and side: its level against its own earlier ones."""
    return (
        keys.series[sided.series]
        .select("athlete_id", "measure")
        .with_columns(
            pl.Series("side", np.where(sided.side == LEFT, "left", "right")),
            pl.Series("session_count", sided.session_count),
            pl.Series("level", sided.level),
            pl.Series("level_se", sided.level_se),
            pl.Series("first_level", sided.first_level),
            pl.Series("recent_level", sided.recent_level, nan_to_null=True),
            pl.Series("change_recent", sided.change_recent, nan_to_null=True),
            pl.Series("change_recent_se", sided.change_recent_se, nan_to_null=True),
            pl.Series("lost_share", sided.lost_share, nan_to_null=True),
            pl.Series("loss_chance", sided.loss_chance, nan_to_null=True),
            pl.Series("is_lost", sided.is_lost),
        )
        .sort("athlete_id", "measure", "side")
    )
