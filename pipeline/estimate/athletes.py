"""The difference of every athlete: on each test day, now, and whether it closed."""

from dataclasses import dataclass, fields

import numpy as np

from pipeline.estimate.filter import mixture
from pipeline.estimate.filter.course import Course, Point, chunks, point_of, run
from pipeline.estimate.filter.mixture import Mixture
from pipeline.estimate.filter.smoother import smoothed
from pipeline.estimate.filter.squad_prior import SquadFit
from pipeline.estimate.filter.tracker import layout
from pipeline.estimate.reference_day import references
from pipeline.estimate.sessions.differences import Differences
from pipeline.estimate.sessions.panel import Indices, Numbers, Panel
from pipeline.scales import INTERVAL
from pipeline.settings import EstimateSettings


@dataclass(frozen=True)
class History:
    """What was known on each test day, arrays [test]."""

    estimate: Numbers
    low: Numbers
    high: Numbers
    chance_over: Numbers
    smooth: Numbers  # in the light of all tests
    smooth_low: Numbers
    smooth_high: Numbers
    surprise: Numbers  # standardised forecast error


@dataclass(frozen=True)
class Today:
    """What is known at the as-of date, arrays [row], ordered by series."""

    series: Indices
    test: Indices  # the latest
    test_count: Indices
    lead: Numbers
    line: Numbers
    estimate: Numbers
    low: Numbers
    high: Numbers
    sd: Numbers
    chance_over: Numbers
    chance_right: Numbers
    reference_day: Indices  # since 1970-01-01
    reference: Numbers  # the estimate of that day in the light of all tests
    chance_closing: Numbers  # since that day; nan with one test


AT_THE_END = (
    "estimate", "low", "high", "sd", "chance_over", "chance_right", "reference", "chance_closing",
)  # fmt: skip


def follow(
    panel: Panel,
    tests: Differences,
    fit: SquadFit,
    as_of_day: int,
    begun: Indices,
    settings: EstimateSettings,
) -> tuple[History, Today]:
    """Every athlete's differences on all test days and at the as-of date.

    `begun` [series]: the day a running block began, or `reference.NEVER`.
    """
    plan = layout(tests.series, tests.day)
    reference = references(plan, tests.series, tests.day, begun)
    last_day = tests.day[plan.test[plan.last]]
    course = Course(
        panel=panel,
        plan=plan,
        d=tests.d[plan.test],
        variance=tests.variance[plan.test],
        fit=fit,
        reference=plan.step_of(reference.slot),
        since=(as_of_day - last_day) / 7.0,
        late=np.maximum(reference.day - last_day, 0) / 7.0,
        settings=settings,
    )
    points = [point_of(course, sds, pace) for sds, pace in fit.points]
    middle = point_of(course, fit.sds, fit.pace)
    days = {field.name: np.full(len(plan.test), np.nan) for field in fields(History)}
    ends = {name: np.full(len(plan.order), np.nan) for name in AT_THE_END}
    for rows in chunks(course):
        slots, day, end = _chunk(course, points, middle, rows)
        _put(days, slots, day)
        _put(ends, rows, end)
    place = np.empty_like(plan.test)
    place[plan.test] = np.arange(len(place))
    sorting = np.argsort(plan.order)
    ends["chance_closing"] = np.where(plan.length > 1, ends["chance_closing"], np.nan)
    return (
        History(**{name: values[place] for name, values in days.items()}),
        Today(
            series=plan.order[sorting],
            test=plan.test[plan.last][sorting],
            test_count=plan.length[sorting],
            reference_day=reference.day[sorting],
            lead=course.lead[sorting],
            line=course.line[sorting],
            **{name: values[sorting] for name, values in ends.items()},
        ),
    )


def _put(whole: dict[str, Numbers], places: Indices, part: dict[str, Numbers]) -> None:
    for name, values in part.items():
        whole[name][places] = values


def _chunk(
    course: Course, points: list[Point], middle: Point, rows: Indices
) -> tuple[Indices, dict[str, Numbers], dict[str, Numbers]]:
    slots, line, lead = course.plan.slots_of(rows), course.line[rows], course.lead[rows]
    runs = [run(course, point, rows) for point in points]
    whole = mixture.pooled([found.level for found in runs])
    beyond = mixture.pooled([found.beyond for found in runs])
    row = course.plan.row[slots]
    day = {
        **_summary(whole),
        "chance_over": mixture.chance_beyond(beyond, course.line[row]),
    }
    late, surprise = smoothed(course, middle, rows)
    smooth = _summary(late)
    day |= {
        "smooth": smooth["estimate"],
        "smooth_low": smooth["low"],
        "smooth_high": smooth["high"],
        "surprise": surprise,
    }
    now = mixture.pooled([found.now for found in runs])
    both = mixture.pooled_pairs([(found.then, found.now, found.shared) for found in runs])
    end = {
        **_summary(now),
        "sd": mixture.sd_of(now),
        "chance_over": mixture.chance_beyond(
            mixture.pooled([found.now_beyond for found in runs]), line
        ),
        "chance_right": 1 - mixture.chance_below(now, np.zeros(len(rows))),
        "reference": mixture.mean_of(both[0]),
        "chance_closing": mixture.chance_nearer(*both, lead),
    }
    return slots, day, end


def _summary(belief: Mixture) -> dict[str, Numbers]:
    tail = (1 - INTERVAL) / 2
    return {
        "estimate": mixture.mean_of(belief),
        "low": mixture.quantile(belief, tail),
        "high": mixture.quantile(belief, 1 - tail),
    }
