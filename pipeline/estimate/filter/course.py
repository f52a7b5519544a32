"""The filter's course over some athletes at one point of their squads' figures."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pipeline.estimate.filter.belief import Belief, Moves, Second, flat, start
from pipeline.estimate.filter.mixture import Mixture, Prior, side_by_side
from pipeline.estimate.filter.readings import QUIET, Gaps, gaps
from pipeline.estimate.filter.squad_evidence import DAY, DRIFT, SPREAD
from pipeline.estimate.filter.squad_prior import SquadFit, athlete_prior
from pipeline.estimate.filter.switching_filter import (
    Branched,
    branched,
    first_test,
    merged,
    weighed,
)
from pipeline.estimate.filter.tracker import Layout
from pipeline.estimate.sessions.panel import Indices, Numbers, Panel
from pipeline.settings import EstimateSettings

CHUNK = 4096  # tests taken at once, so that what is kept of them stays in the processor's cache


@dataclass(frozen=True)
class Course:
    """All tests and what is asked of them; arrays [slot] or [row] of the plan."""

    panel: Panel
    plan: Layout
    d: Numbers  # [slot]
    variance: Numbers  # [slot] of d, from the trials' error
    fit: SquadFit
    reference: Indices  # [row] step of the test of the reference day
    since: Numbers  # [row] weeks from the last test to the as-of date
    late: Numbers  # [row] weeks from the last test to the reference day, where that is later
    settings: EstimateSettings

    @cached_property
    def group(self) -> Indices:
        """Shape [row]."""
        return self.panel.series_group[self.plan.order]

    @cached_property
    def lead(self) -> Numbers:
        """Expected d of each row's athlete; without dominance there is none, and a squad's own
        shift shapes the prior only."""
        has_lead = self.panel.standards.has_lead[self.group]
        dominance = self.panel.series_dominance[self.plan.order]
        return np.where(has_lead, self.fit.class_centre[self.group, dominance], 0.0)

    @cached_property
    def lead_variance(self) -> Numbers:
        """What is not known of the lead. Shape [row]."""
        has_lead = self.panel.standards.has_lead[self.group]
        return np.where(has_lead, self.fit.centre_variance[self.plan.order], 0.0)

    @cached_property
    def line(self) -> Numbers:
        """Shape [row]."""
        return self.panel.standards.line[self.group]

    @cached_property
    def usual_spread(self) -> Numbers:
        """The catalogue's SD between people, below which no jump shrinks: how far a hurt side
        falls does not hang on how alike a squad is. Shape [row]."""
        return self.panel.standards.side_sd[self.group]

    def prior(self, spread: Numbers) -> Prior:
        """Of each row's first level; `spread` [group]."""
        return athlete_prior(self.panel, self.fit, spread, self.plan.order, self.settings)


def chunks(course: Course) -> Iterator[Indices]:
    """Rows that are taken together: those of known lead apart from the others, longest first."""
    length = course.plan.length
    for of in (course.lead_variance == 0, course.lead_variance > 0):
        rows = np.flatnonzero(of)
        part = np.cumsum(length[rows]) // CHUNK
        for number in np.unique(part):
            yield rows[part == number]


@dataclass(frozen=True)
class Point:
    """One value of all that is not known of the squads, and how the tests then move the filter."""

    prior: Prior  # [row]
    moves: Moves  # [row]
    day: Numbers  # [row] variance from day to day
    gaps: Gaps  # [slot]
    after: Gaps  # [row] from the last test to the as-of date
    late: Gaps  # [row] from the last test to the reference day
    rest: Gaps  # [row] from there on


def point_of(course: Course, sds: Numbers, pace: Numbers) -> Point:
    """The filter's figures if these were the squads' own; `sds` [group, 3], `pace` [group]."""
    settings, group = course.settings, course.group
    square = sds[group, SPREAD] ** 2
    own, plan = pace[group], course.plan

    def over(weeks: Numbers) -> Gaps:
        return gaps(weeks, own, settings)

    return Point(
        prior=course.prior(sds[:, SPREAD]),
        moves=Moves(
            drift=(settings.quiet_share * sds[group, DRIFT]) ** 2,
            moving=settings.move_scale**2 * square,
            wobble=settings.closing_wobble**2 * square,
            leap=settings.jump_scale**2 * np.maximum(square, course.usual_spread**2),
            aim=course.lead,
        ),
        day=sds[group, DAY] ** 2,
        gaps=gaps(plan.weeks, own[plan.row], settings),
        after=over(course.since),
        late=over(course.late),
        rest=over(np.maximum(course.since - course.late, 0)),
    )


@dataclass(frozen=True)
class Step:
    """One step of the filter: the tests of the rows that have one more."""

    slots: Indices
    before: Belief
    parts: Branched | None  # None at the first step
    forecast: tuple[Numbers, Numbers, Numbers]  # of parts, before the test: weight, mean, variance
    error: Numbers  # [row] variance of the test
    after: Belief
    fit: Numbers  # [row] log likelihood


def steps(course: Course, point: Point, rows: Indices, belief: Belief) -> Iterator[Step]:
    """Filter the tests of these rows, longest first, from a belief about their first level."""
    plan, settings = course.plan, course.settings
    length = plan.length[rows]
    moves, day = point.moves.at(rows), point.day[rows]
    for step in range(int(length.max(initial=0))):
        size = int(np.searchsorted(-length, -step, side="left"))
        slots = plan.offsets[step] + rows[:size]
        before = belief.first(size)
        d, error = course.d[slots], course.variance[slots] + day[:size]
        if step == 0:
            quiet = before.weight[QUIET], before.mean[QUIET], before.variance[QUIET]
            belief, fit = first_test(before, d, error)
            yield Step(slots, before, None, quiet, error, belief, fit)
            continue
        own = moves.at(slice(size))
        parts = branched(before, point.gaps.at(slots), own, settings)
        forecast = parts.weight, parts.mean, parts.variance
        parts, fit = weighed(parts, d, error, own.leap + settings.odd_scale**2 * error)
        belief = merged(parts)
        yield Step(slots, before, parts, forecast, error, belief, fit)


def fit_of(course: Course, point: Point, rows: Indices) -> Numbers:
    """Log likelihood of each row's tests, without constants that hang on no figure."""
    found = np.zeros(len(rows))
    for step in steps(course, point, rows, start(*point.prior.at(rows))):
        found[: len(step.fit)] += step.fit
    return found


@dataclass
class Run:
    """What one run of the filter says of some rows; slots in the order of `Layout.slots_of`."""

    level: Mixture  # [slot] on each test day
    beyond: Mixture  # [slot] the same less the athlete's true lead
    now: Mixture  # [row] at the as-of date
    now_beyond: Mixture
    then: Mixture  # [row] on the reference day
    shared: Numbers  # [state and part, row] covariance of then and now


def run(course: Course, point: Point, rows: Indices) -> Run:
    """All that is asked at one point of the squads' figures."""
    belief = start(*point.prior.at(rows))
    lead, wanted = course.lead_variance[rows], course.reference[rows]
    has_lead = bool((lead > 0).any())
    if has_lead:  # what is not known of the lead is a part of what is not known of the level
        shape = belief.mean.shape
        both = np.broadcast_to(lead, shape)
        belief.seconds.append(Second(belief.mean.copy(), both, both))
    levels: list[Mixture] = []
    beyond: list[Mixture] = []
    ends: list[Belief] = []
    for number, step in enumerate(steps(course, point, rows, belief)):
        size = len(step.slots)
        if ends and (left := ends[-1]).rows > size:
            ends[-1] = left.last(size)
        elif ends:
            ends.pop()
        _remember(step.after, number, wanted[:size], has_lead)
        ends.append(step.after)
        levels.append(step.after.level())
        if has_lead:
            beyond.append(_beyond(step.after))
    end = ends.pop()
    while ends:
        end = end.joined(ends.pop())
    now = _now(end, course, point, rows, has_lead)
    then, today = now.seconds[-1], now.level()
    return Run(
        level=side_by_side(levels),
        beyond=side_by_side(beyond or levels),
        now=today,
        now_beyond=_beyond(now) if has_lead else today,
        then=Mixture(today.weight, flat(then.mean), flat(then.variance)),
        shared=flat(then.shared),
    )


def _remember(belief: Belief, step: int, wanted: Indices, has_lead: bool) -> None:
    """Keep the level of the reference day as a second variable, from that day on; in place."""
    place = int(has_lead)
    if len(belief.seconds) == place:
        if (wanted <= step).any():
            belief.seconds.append(
                Second(belief.mean.copy(), belief.variance.copy(), belief.variance.copy())
            )
        return
    fresh = wanted >= step
    if fresh.any():
        second = belief.seconds[place]
        second.mean[..., fresh] = belief.mean[..., fresh]
        second.variance[..., fresh] = belief.variance[..., fresh]
        second.shared[..., fresh] = belief.variance[..., fresh]


def _beyond(belief: Belief) -> Mixture:
    lead = belief.seconds[0]
    variance = belief.variance + lead.variance - 2 * lead.shared
    return Mixture(
        flat(belief.weight),
        flat(belief.mean - lead.mean),
        flat(np.maximum(variance, 1e-300)),
    )


def _now(end: Belief, course: Course, point: Point, rows: Indices, has_lead: bool) -> Belief:
    """The end of each row carried on to the as-of date; nothing changes where no time passed."""
    settings, moves = course.settings, point.moves.at(rows)
    late = course.late[rows] > 0
    found = end
    if late.any():
        ahead = merged(branched(end, point.late.at(rows), moves, settings))
        place = int(has_lead)
        ahead.seconds[place] = Second(
            ahead.mean.copy(), ahead.variance.copy(), ahead.variance.copy()
        )
        found = found.replaced(late, ahead)
        left = merged(branched(found, point.rest.at(rows), moves, settings))
        found = found.replaced(late & (course.since[rows] > course.late[rows]), left)
    passed = ~late & (course.since[rows] > 0)
    if passed.any():
        later = merged(branched(end, point.after.at(rows), moves, settings))
        found = found.replaced(passed, later)
    return found
