"""How one athlete's figure came about, number by number, from the code that made it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from pipeline.catalogue import Measure
from pipeline.estimate.frames import read_panel
from pipeline.estimate.panel import LEFT
from pipeline.estimate.prior import DAY, DRIFT, SPREAD
from pipeline.estimate.tables import day_table, error_table, side_table, today_table
from pipeline.estimate.work import Work, worked
from pipeline.settings import Settings

SHOWN_STRAY = 0.05  # a smaller chance of being a stray is not worth a line


@dataclass(frozen=True)
class Step:
    """One number on the way to an estimate; None where it is not defined."""

    label: str
    value: float | int | str | None
    note: str


def explain(
    trials_of_squad: pl.DataFrame,
    athletes: pl.DataFrame,
    measure: Measure,
    athlete_id: str,
    as_of: date,
    settings: Settings,
) -> list[Step]:
    """Every number behind one athlete's estimate in one measure, in the order of the work.

    `trials_of_squad` are the squad's trials as `estimate` takes them. Empty where the athlete has
    no test of the measure. All numbers are d or scores.
    """
    mine = pl.col("measure") == measure.id
    panel, keys = read_panel(
        trials_of_squad.filter(mine), athletes, {measure.id: measure}, as_of, settings
    )
    found = np.flatnonzero((keys.series["athlete_id"] == athlete_id).to_numpy())
    if not len(found):
        return []
    work = worked(panel, (as_of - date(1970, 1, 1)).days, settings.estimate)
    series = int(found[0])
    errors = error_table(work, keys)
    one = pl.col("athlete_id") == athlete_id
    return [
        *_error_steps(work, errors, series),
        *_session_steps(work, day_table(work, keys, settings.estimate).filter(one), series),
        *_prior_steps(work, series),
        *_today_steps(today_table(work, keys, errors).filter(one)),
        *_side_steps(side_table(work, keys).filter(one)),
    ]


def _error_steps(work: Work, errors: pl.DataFrame, series: int) -> Iterator[Step]:
    group = int(work.panel.series_group[series])
    row = errors.row(group, named=True)
    usual = work.panel.standards
    own = float(work.errors.own_sd[group])
    yield Step("error of a trial, catalogue", float(usual.trial_error[group]), "one side, one day")
    yield Step(
        "error of a trial, squad alone",
        None if np.isnan(own) else own,
        f"{row['within_df']:.0f} degrees of freedom",
    )
    yield Step("error of a trial", row["within_sd"], "both, blended by degrees of freedom")
    yield Step("shared by both sides", row["pairing"], "correlation of trials of one number")
    yield Step("day-to-day error of d", row["day_sd"], "beyond the trials' error")
    yield Step("drift of d in a week", row["drift_sd_week"], "of the true difference")
    yield Step(
        "typical error", row["typical_error"], f"one session of {row['usual_trials']:g} trials"
    )
    yield Step("mdc95", row["mdc95"], "1.96 · √2 · typical error")


def _session_steps(work: Work, days: pl.DataFrame, series: int) -> Iterator[Step]:
    panel, tests = work.panel, work.tests
    first = int(np.flatnonzero(panel.session_series == series)[0])
    for place, row in enumerate(days.iter_rows(named=True)):
        day = str(row["tested_on"])
        session = first + place
        yield from _stray_steps(work, session, day)
        if row["d"] is None:
            yield Step(f"{day}: one side only", None, "counts for that side's own track")
            continue
        test = int(np.flatnonzero(tests.session == session)[0])
        raised = float(tests.variance[test])
        yield Step(f"{day}: left", row["left_mean"], f"mean of {row['left_count']}")
        yield Step(f"{day}: right", row["right_mean"], f"mean of {row['right_count']}")
        yield Step(f"{day}: d", row["d"], "right − left")
        yield Step(f"{day}: d used", float(tests.d[test]), "botched trials weighed down")
        yield Step(
            f"{day}: its error", float(np.sqrt(raised)), "SD, from the trials; odd days more"
        )
        yield Step(f"{day}: surprise", row["surprise"], "forecast error in SDs")
        yield Step(f"{day}: estimate", row["estimate"], "as it stood on that day")
        yield Step(f"{day}: chance over the line", row["chance_over_line"], "on that day")


def _stray_steps(work: Work, session: int, day: str) -> Iterator[Step]:
    panel = work.panel
    for trial in np.flatnonzero(panel.cell_session[panel.trial_cell] == session):
        chance = float(work.errors.stray_chance[trial])
        if chance < SHOWN_STRAY:
            continue
        side = "left" if panel.cell_side[panel.trial_cell[trial]] == LEFT else "right"
        score = float(panel.score[trial])
        yield Step(f"{day}: {side} trial {score:.4f}", chance, "chance that it is botched")


def _prior_steps(work: Work, series: int) -> Iterator[Step]:
    panel, fit, tracks = work.panel, work.fit, work.tracks
    group = int(panel.series_group[series])
    rows = np.flatnonzero(tracks.plan.order == series)
    spread = float(fit.sds[group, SPREAD])
    yield Step("spread, catalogue", float(panel.standards.side_sd[group]), "SD between athletes")
    yield Step("spread, squad", spread, "of true differences about the expected lead")
    yield Step("expected from everybody else", float(fit.centre[series]), "prior mean of d")
    yield Step("not known of that", float(np.sqrt(fit.centre_variance[series])), "SD")
    if not len(rows):
        return
    last = int(tracks.plan.last[rows[0]])
    info, score = float(tracks.middle.info[last]), float(tracks.middle.score[last])
    yield Step("own tests alone", score / info, "first level, weighted by error and drift")
    yield Step("their error", info**-0.5, f"SD with {fit.sds[group, DAY]:.4f} a day and "
               f"{fit.sds[group, DRIFT]:.4f} a week")  # fmt: skip
    variance = spread**2 + float(fit.centre_variance[series])
    yield Step("weight of own tests", variance * info / (1 + variance * info), "of the first level")


def _today_steps(today: pl.DataFrame) -> Iterator[Step]:
    notes = {
        "observed": "latest session alone",
        "observed_se": "its standard error, day-to-day error included",
        "estimate": "at the as-of date",
        "low": "90 % interval",
        "high": "90 % interval",
        "lead": "expected d of this athlete",
        "line": "on the difference from the lead, either way",
        "chance_over_line": "",
        "chance_right_better": "",
        "same_side_days": "days whose d has the estimate's sign",
        "session_count": "days with both sides",
        "first_estimate": "smoothed, at the first session",
        "change": "estimate less first estimate",
        "chance_closing": "that |d − lead| is smaller now than at first",
        "chance_closing_since_previous": "and than at the session before the latest",
    }
    for row in today.iter_rows(named=True):
        for name, note in notes.items():
            yield Step(name.replace("_", " "), row[name], note)


def _side_steps(sides: pl.DataFrame) -> Iterator[Step]:
    notes = {
        "level": "latest session",
        "level_se": "its standard error",
        "change_first": "since the first session",
        "recent_level": "own last weeks before the latest session",
        "change_recent": "since those",
        "loss_chance": "that it is truly lower than in those",
        "lost_share": "of that level",
    }
    for row in sides.iter_rows(named=True):
        for name, note in notes.items():
            yield Step(f"{row['side']}: {name.replace('_', ' ')}", row[name], note)
