"""What each squad's tests can tell apart, and whether the lower side stays the same."""

import numpy as np
import polars as pl

from pipeline.estimate.sessions.agreement import kappa, one_way_icc, share_interval
from pipeline.estimate.sessions.differences import Differences
from pipeline.estimate.sessions.panel import Numbers, counts, sums
from pipeline.estimate.steps import Work
from pipeline.estimate.tables import typical_error
from pipeline.scales import Z95

MORE_TRIALS = 2  # a side, for the line on what would help


def reliability_table(work: Work, error_rows: pl.DataFrame) -> pl.DataFrame:
    """One row per squad and measure; null where a figure is not defined.

    `error_rows` as in Estimates. Everything concerns d of a session (plain means), between days;
    `within_cv` is a fraction.
    """
    panel, errors, tests = work.panel, work.errors, work.tests
    groups = panel.group_count
    between_days = one_way_icc(tests.plain, tests.series, panel.series_group, groups)
    before, after = _last_two(tests)
    group = panel.series_group[tests.series[after]]
    cells = _direction_counts(tests.plain[before], tests.plain[after], group, groups)
    same = cells[0] + cells[3]
    clear = same + cells[1] + cells[2]
    low, high = share_interval(same, clear)
    trial_group = panel.series_group[panel.session_series[panel.cell_session[panel.trial_cell]]]
    more = error_rows["usual_trials"].to_numpy() + MORE_TRIALS
    better = typical_error(work, more)
    columns: dict[str, Numbers] = {
        "within_sd": errors.within_sd,
        "own_within_sd": errors.own_sd,
        "within_cv": np.where(
            panel.standards.is_log, np.sqrt(np.expm1(errors.within_sd**2)), np.nan
        ),
        "icc": between_days.icc,
        "icc_low": between_days.low,
        "icc_high": between_days.high,
        "same_side_share": np.divide(same, clear, out=np.full(groups, np.nan), where=clear > 0),
        "same_side_low": low,
        "same_side_high": high,
        "kappa_days": kappa(*cells),
        "typical_error_more_trials": better,
        "mdc95_more_trials": Z95 * np.sqrt(2) * better,
    }
    whole: dict[str, Numbers] = {
        "trial_count": counts(trial_group, groups),
        "retested_count": between_days.athlete_count,
        "same_side_count": clear,
    }
    kept = ("squad", "measure", "athlete_count", "session_count", "usual_trials", "within_df")
    return error_rows.select(*kept, "typical_error", "mdc95").with_columns(
        *(pl.Series(name, values).cast(pl.Int64) for name, values in whole.items()),
        *(pl.Series(name, values, nan_to_null=True) for name, values in columns.items()),
    )


def _last_two(tests: Differences) -> tuple[np.ndarray, np.ndarray]:
    """The last two tests of every series that has two, as places in `tests`."""
    last = np.flatnonzero(np.diff(tests.series, append=-1) != 0)
    again = (last > 0) & (tests.series[last - 1] == tests.series[last])
    return last[again] - 1, last[again]


def _direction_counts(
    before: Numbers, after: Numbers, group: np.ndarray, groups: int
) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Per group how often right was better both times, first only, second only, never.

    A difference of exactly zero has no direction and is left out.
    """
    clear = (before != 0) & (after != 0)
    first, second = before > 0, after > 0
    patterns = (first & second, first & ~second, ~first & second, ~first & ~second)
    both, one, other, none = (
        sums((clear & hit).astype(np.float64), group, groups) for hit in patterns
    )
    return both, one, other, none


def agreement_table(today: pl.DataFrame) -> pl.DataFrame:
    """One row per squad and pair of measures: do the two tests name the same lower side?

    `today` as in Estimates. From the latest sessions; kappa is null where it is not defined.
    """
    sides = today.filter(pl.col("observed") != 0).select(
        "squad", "athlete_id", "measure", right=pl.col("observed") > 0
    )
    first, second = pl.col("right"), pl.col("right_other")
    pairs = (
        sides.join(sides, on=["squad", "athlete_id"], suffix="_other")
        .filter(pl.col("measure") < pl.col("measure_other"))
        .group_by("squad", "measure", other_measure="measure_other")
        .agg(
            both=(first & second).sum(),
            one=(first & ~second).sum(),
            other=(~first & second).sum(),
            none=(~first & ~second).sum(),
        )
        .sort("squad", "measure", "other_measure")
    )
    both, one, other, none = (
        pairs[name].to_numpy().astype(np.float64) for name in ("both", "one", "other", "none")
    )
    return pairs.select(
        "squad",
        "measure",
        "other_measure",
        athlete_count=pl.Series(both + one + other + none).cast(pl.Int64),
        same_side_count=pl.Series(both + none).cast(pl.Int64),
        kappa=pl.Series(kappa(both, one, other, none), nan_to_null=True),
    )
