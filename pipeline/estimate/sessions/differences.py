"""Sessions with both sides tested, as differences with their error."""

from dataclasses import dataclass, fields

import numpy as np

from pipeline.estimate.sessions.panel import Indices, Numbers, Panel, Truths, by_side, counts
from pipeline.estimate.sessions.trial_error import TrialErrors


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

    def of(self, series: Truths) -> "Differences":
        """Those of some series."""
        kept = series[self.series]
        return Differences(*(getattr(self, part.name)[kept] for part in fields(self)))


def differences(panel: Panel, errors: TrialErrors) -> Differences:
    """Right minus left of every session in which both sides were tested."""
    left, right = by_side(panel, errors.level)
    session = np.flatnonzero(np.isfinite(left) & np.isfinite(right))
    plain_left, plain_right = by_side(panel, errors.plain_mean)
    group = panel.series_group[panel.session_series[panel.cell_session]]
    usual_left, usual_right = by_side(
        panel, errors.within_sd[group] ** 2 / panel.cell_count + errors.coarse
    )
    left_variance, right_variance = by_side(panel, errors.variance)
    shared = _shared(panel, errors)
    return Differences(
        session=session,
        series=panel.session_series[session],
        day=panel.session_day[session],
        shapes=panel.session_shapes[session],
        plain=(plain_right - plain_left)[session],
        plain_variance=(usual_left + usual_right - shared)[session],
        d=(right - left)[session],
        variance=(left_variance + right_variance - shared)[session],
    )


def _shared(panel: Panel, errors: TrialErrors) -> Numbers:
    """What paired trials' common error takes from the variance of a difference. Shape [session]."""
    group = panel.series_group[panel.session_series]
    left_size, right_size = by_side(panel, panel.cell_count.astype(np.float64), 1.0)
    session = panel.cell_session[panel.trial_cell[panel.pairs[0]]]
    pairs = counts(session, panel.session_count) / (left_size * right_size)
    return 2 * errors.pairing[group] * errors.within_sd[group] ** 2 * pairs
