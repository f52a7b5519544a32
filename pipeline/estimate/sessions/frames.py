"""The door in: frames of the warehouse become the arrays everything else works on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import polars as pl

from pipeline import scales
from pipeline.catalogue import Measure
from pipeline.estimate.sessions.panel import (
    BOTH_SIDED,
    LEFT_DOMINANT,
    RIGHT_DOMINANT,
    UNKNOWN,
    Indices,
    Numbers,
    Panel,
    Standards,
    Truths,
)
from pipeline.settings import Settings
from schemas.catalogue_words import LeadBy, MeasureKind, Scale
from schemas.vocabulary import Side, WorkedSide

ORDER = ("squad", "measure", "athlete_id", "tested_on", "side", "trial", "score")
DOMINANCE = {
    WorkedSide.RIGHT: RIGHT_DOMINANT,
    WorkedSide.LEFT: LEFT_DOMINANT,
    WorkedSide.BOTH: BOTH_SIDED,
}


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
        pairs=_pairs(session, (rows["side"] == Side.RIGHT).to_numpy(), rows["trial"].to_numpy()),
        cell_count=np.bincount(cell).astype(np.int64),
        cell_session=session[new_cell],
        cell_side=(rows["side"] == Side.RIGHT).to_numpy()[new_cell].astype(np.int64),
        cell_step=_steps(rows, cell, new_cell),
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
    per_side = [
        name for name, measure in measures.items() if measure.kind != MeasureKind.WHOLE_BODY
    ]
    persons = athletes.select(
        "athlete_id", "dominant_hand", "dominant_foot", pl.col("shapes").alias("athlete_shapes")
    )
    rows = trials.filter(
        pl.col("tested_on") <= as_of,
        pl.col("measure").is_in(per_side),
        pl.col("side").is_in([Side.LEFT, Side.RIGHT]),
        pl.col("score").is_finite(),
    ).with_columns(pl.col("squad").fill_null(""))
    return (
        rows.sort(ORDER)
        .join(persons, on="athlete_id", how="left", maintain_order="left")
        .with_columns(shapes=pl.col("shapes") & pl.col("athlete_shapes").fill_null(value=True))
    )


def _changes(rows: pl.DataFrame, *columns: str) -> Truths:
    """Whether a row differs from the one before in any of the columns; the first one does."""
    changed = np.zeros(rows.height, dtype=np.bool_)
    for name in columns:
        changed |= rows[name].ne_missing(rows[name].shift(1)).to_numpy()
    changed[:1] = True
    return changed


def _steps(rows: pl.DataFrame, cell: Indices, new_cell: Truths) -> Numbers:
    """Mean step of each cell's trials; none where the frame tells of none. Shape [cell]."""
    if "step" not in rows.columns:
        return np.zeros(int(new_cell.sum()))
    return np.asarray(np.bincount(cell, rows["step"].to_numpy()) / np.bincount(cell))


def _pairs(session: Indices, is_right: Truths, number: Indices) -> tuple[Indices, Indices]:
    """Trials of one session and number, left and right; rows are in panel order."""
    key = session * (int(number.max(initial=0)) + 1) + number
    left, right = np.flatnonzero(~is_right), np.flatnonzero(is_right)
    place = np.searchsorted(key[right], key[left])
    met = np.append(key[right], -1)[place] == key[left]
    return left[met], right[place[met]]


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
        has_lead=np.array([m.lead.by != LeadBy.NONE for m in found], dtype=np.bool_),
        known_right=np.array([foot if m.lead.by == LeadBy.FOOT else hand for m in found]),
        line=_floats(to_d(line, m.formula) for line, m in zip(lines, found, strict=True)),
        is_log=np.array([m.scale == Scale.LOG for m in found], dtype=np.bool_),
    )


def _floats(values: Iterable[npt.ArrayLike]) -> Numbers:
    return np.array([float(np.asarray(value)) for value in values], dtype=np.float64)
