"""What could be said at best: the same filter, but with the squads' true figures.

No fit can do better, so it shows how much of an error lies in the data.
"""

from datetime import date

import numpy as np
import polars as pl
from scipy.special import gammaincinv

from pipeline.estimate import mixture
from pipeline.estimate.differences import differences
from pipeline.estimate.error import trial_errors
from pipeline.estimate.frames import read_panel
from pipeline.estimate.mixture import Prior
from pipeline.estimate.panel import sums
from pipeline.estimate.tracker import filtered, layout
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
    found = filtered(plan, tests.d[plan.test], variance, step).at(last)
    quantiles = (np.arange(TAIL_PARTS) + 0.5) / TAIL_PARTS
    scales = np.where(true["heavy"][who], 1 / gammaincinv(2, quantiles)[:, None], 1.0)
    prior = Prior(true["centre"][who], true["spread"][who] ** 2 * scales, np.zeros((1, 1)))
    first = mixture.first_level(prior, found.info, found.score)
    weeks = ((simulated.as_of - date(1970, 1, 1)).days - tests.day[plan.test[last]]) / 7
    gamma = found.gamma + true["drift"][who] ** 2 * weeks
    now = mixture.carried(first, found.alpha, found.beta, gamma)
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
