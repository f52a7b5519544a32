"""Sessions with both sides tested, as differences with their error."""

from dataclasses import dataclass

import numpy as np

from pipeline.estimate.error import TrialErrors
from pipeline.estimate.panel import Indices, Numbers, Panel, Truths, by_side


@dataclass(frozen=True)
class Differences:
    """Right minus left of each such session; arrays [test], ordered by series and day."""

    session: Indices
    series: Indices
    day: Indices
    shapes: Truths  # whether it shapes error and prior
    plain: Numbers  # difference of the plain means
    plain_variance: Numbers  # of `plain`, from the trials' error
    d: Numbers  # difference of the levels, strays weighed down
    variance: Numbers  # of `d`, from the trials' error


def differences(panel: Panel, errors: TrialErrors) -> Differences:
    """Right minus left of every session in which both sides were tested."""
    left, right = by_side(panel, errors.level)
    session = np.flatnonzero(np.isfinite(left) & np.isfinite(right))
    plain_left, plain_right = by_side(panel, errors.plain_mean)
    group = panel.series_group[panel.session_series[panel.cell_session]]
    usual_left, usual_right = by_side(panel, errors.within_sd[group] ** 2 / panel.cell_count)
    left_variance, right_variance = by_side(panel, errors.variance)
    return Differences(
        session=session,
        series=panel.session_series[session],
        day=panel.session_day[session],
        shapes=panel.session_shapes[session],
        plain=(plain_right - plain_left)[session],
        plain_variance=(usual_left + usual_right)[session],
        d=(right - left)[session],
        variance=(left_variance + right_variance)[session],
    )
