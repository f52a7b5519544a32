"""What could be said at best: the same filter, but with the squads' true figures.

No fit can do better, so it shows how much of an error lies in the data.
"""

from datetime import date

import numpy as np
import polars as pl
from scipy.special import gammaincinv

from pipeline.estimate.filter import mixture
from pipeline.estimate.filter.mixture import Mixture
from pipeline.estimate.filter.tracker import Layout, layout
from pipeline.estimate.sessions.differences import differences
from pipeline.estimate.sessions.frames import read_panel
from pipeline.estimate.sessions.panel import Numbers, sums
from pipeline.estimate.sessions.trial_error import trial_errors
from pipeline.settings import Settings
from tests.benchmarks.simulate import Simulated

TAIL_PARTS = 12  # normals in place of a t distribution with 4 degrees of freedom


def best_today(simulated: Simulated) -> pl.DataFrame:
    """The columns of `today` that are scored."""
    settings = Settings()
    panel, keys = read_panel(
        simulated.trials, simulated.athletes, simulated.measures, simulated.as_of, settings
    )
    tests = differences(panel, trial_errors(panel, settings.estimate))
    known = keys.series.join(
        simulated.truth, on=["athlete_id", "measure"], how="left", maintain_order="left"
    )
    figures = ("spread", "day_sd", "drift", "centre", "true_lead", "heavy")
    true = {name: known[name].to_numpy() for name in figures}
    plan = layout(tests.series, tests.day)
    who, last = plan.order, plan.last
    variance = tests.variance[plan.test] + true["day_sd"][plan.track] ** 2
    step = true["drift"][plan.track] ** 2 * plan.weeks
    quantiles = (np.arange(TAIL_PARTS) + 0.5) / TAIL_PARTS
    scales = np.where(true["heavy"][who], 1 / gammaincinv(2, quantiles)[:, None], 1.0)
    end = _filtered(
        plan, tests.d[plan.test], variance, step,
        true["centre"][who], true["spread"][who] ** 2 * scales,
    )  # fmt: skip
    weeks = ((simulated.as_of - date(1970, 1, 1)).days - tests.day[plan.test[last]]) / 7
    now = Mixture(end.weight, end.mean, end.variance + true["drift"][who] ** 2 * weeks)
    estimate = mixture.mean_of(now)
    lead, line = true["true_lead"][who], panel.standards.line[panel.series_group[who]]
    sign = np.zeros(panel.series_count)
    sign[who] = np.sign(estimate)
    same = (np.sign(tests.plain) == sign[tests.series]).astype(np.float64)
    return keys.series[who].with_columns(
        chance_over_line=mixture.chance_below(now, lead - line)
        + 1
        - mixture.chance_below(now, lead + line),
        same_side_days=sums(same, tests.series, panel.series_count)[who],
        line=line,
        estimate=estimate,
        observed=tests.plain[plan.test[last]],
        low=mixture.quantile(now, 0.05),
        high=mixture.quantile(now, 0.95),
    )


def _filtered(
    plan: Layout, d: Numbers, error: Numbers, step: Numbers, mean: Numbers, variance: Numbers
) -> Mixture:
    """Each row's last level from a prior of equally likely normals; [slot], then [row]."""
    means, spread = np.broadcast_to(mean, variance.shape).copy(), variance.copy()
    logs = np.zeros(variance.shape)
    for now in plan.steps():
        n = now.stop - now.start
        spread[:, :n] += step[now]
        whole = spread[:, :n] + error[now]
        miss = d[now] - means[:, :n]
        logs[:, :n] -= (np.log(whole) + miss**2 / whole) / 2
        means[:, :n] += spread[:, :n] / whole * miss
        spread[:, :n] *= error[now] / whole
    weight = np.exp(logs - logs.max(axis=0))
    return Mixture(weight / weight.sum(axis=0), means, spread)
