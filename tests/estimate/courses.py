"""The filter's input by hand: tests of given days and errors, figures said outright."""

from collections.abc import Sequence
from typing import Any, cast

import numpy as np

from pipeline.estimate.filter.belief import Moves
from pipeline.estimate.filter.course import Course, Point
from pipeline.estimate.filter.mixture import Prior
from pipeline.estimate.filter.readings import gaps
from pipeline.estimate.filter.squad_prior import SquadFit
from pipeline.estimate.filter.tracker import layout
from pipeline.estimate.sessions.panel import Numbers, Panel
from pipeline.settings import EstimateSettings

STILL = {"start_rate": 0.0, "jump_rate": 0.0, "odd_share": 0.0}  # nobody changes, no day is odd


def course_of(
    days: Sequence[Sequence[int]], d: Sequence[Sequence[float]], variance: float, **changes: Any
) -> Course:
    """One row a list; a lead is neither expected nor asked for."""
    track = np.repeat(np.arange(len(days)), [len(row) for row in days])
    plan = layout(track, np.array([day for row in days for day in row]))
    values = np.array([value for row in d for value in row])
    nothing = np.zeros(len(plan.order))
    return Course(
        panel=cast("Panel", None),
        plan=plan,
        d=values[plan.test],
        variance=np.full(len(values), variance),
        fit=cast("SquadFit", None),
        reference=plan.length - 1,
        since=nothing,
        late=nothing,
        settings=EstimateSettings().model_copy(update=changes),
    )


def point_at(
    course: Course,
    *,
    mean: float = 0.0,
    parts: Sequence[tuple[float, float]] = ((1.0, 0.06**2),),
    drift: float = 1e-5,
    moving: float = 4e-4,
    wobble: float = 5e-5,
    leap: float = 0.02,
    aim: float = 0.0,
) -> Point:
    """Figures of all rows; `parts` are the prior's weights and variances."""
    rows = len(course.plan.order)

    def each(value: float) -> Numbers:
        return np.full(rows, value)

    one = each(1.0)
    return Point(
        prior=Prior(
            each(mean),
            np.array([each(variance) for _, variance in parts]),
            np.log([[weight] for weight, _ in parts]),
        ),
        moves=Moves(each(drift), each(moving), each(wobble), each(leap), each(aim)),
        day=each(0.0),
        gaps=gaps(course.plan.weeks, one[course.plan.row], course.settings),
        after=gaps(course.since, one, course.settings),
        late=gaps(course.late, one, course.settings),
        rest=gaps(np.maximum(course.since - course.late, 0), one, course.settings),
    )
