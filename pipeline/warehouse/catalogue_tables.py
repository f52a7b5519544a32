"""The catalogue as tables, so that SQL never holds a literal that belongs to one measure."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.catalogue import Catalogue, Doses, Exercise, Measure
from schemas.catalogue_words import Better, MeasureKind


def reference_frames(
    catalogue: Catalogue, own_plan: Mapping[str, Mapping[str, Any]] | None = None
) -> dict[str, pl.DataFrame]:
    """`ref_measures`, `ref_parts`, `ref_exercises` and `ref_drills`, one row per entry of the
    catalogue; and `ref_log_rules`, one row: which sets count as comparable.
    `ref_load_steps`, one row per step that loads come in.

    `own_plan` holds the figures of the practice rules that the team's settings override.
    """
    doses = Doses(catalogue.rules.plan, own_plan or {})
    is_per_hand = doses("logged_loads", "dumbbells") == "per hand"
    measures = catalogue.measures.values()
    return {
        "ref_measures": pl.DataFrame([_measure_row(measure) for measure in measures]),
        "ref_parts": pl.DataFrame(
            [
                {
                    "measure": measure.id,
                    "rule": measure.parts.rule,
                    "position": position,
                    "part": part,
                    "part_count": len(measure.parts.of),
                    "is_whole_body": catalogue.measures[part].kind == MeasureKind.WHOLE_BODY,
                }
                for measure in measures
                if measure.parts is not None
                for position, part in enumerate(measure.parts.of, start=1)
            ]
        ),
        "ref_exercises": pl.DataFrame(
            [
                _exercise_row(exercise, is_per_hand=is_per_hand)
                for exercise in catalogue.exercises.values()
            ]
        ),
        "ref_load_steps": pl.DataFrame({"step_kg": catalogue.load_steps}),
        "ref_drills": pl.DataFrame(
            {"drill": list(catalogue.coaching.drills)}, schema={"drill": pl.String}
        ),
        "ref_log_rules": pl.DataFrame(
            {
                name: [float(doses("log_strength", name))]
                for name in ("max_reps", "max_rir", "reps_apart", "equal_share")
            }
        ),
    }


def _measure_row(measure: Measure) -> dict[str, object]:
    return {
        "measure": measure.id,
        "short": measure.short,
        "name": measure.name,
        "measure_group": measure.group,
        "region": measure.region,
        "unit": measure.unit,
        "difference_unit": measure.difference_unit,
        "formula": measure.formula,
        "scale": measure.scale,
        "direction": -1 if measure.better == Better.LOWER else 1,
        "better": measure.better,
        "kind": measure.kind,
        "score_rule": measure.score,
        "planned_trials": measure.trials,
        "catalogue_error": float(measure.error),
        "error_kind": measure.error_kind,
        "usual_mean": float(measure.usual_mean),
        "usual_sd": float(measure.usual_sd),
        "watch_line": float(measure.watch),
        "review_line": float(measure.review),
        "level_review": measure.level_review,
        "hard_low": float(measure.hard[0]),
        "hard_high": float(measure.hard[1]),
    }


def _exercise_row(exercise: Exercise, *, is_per_hand: bool) -> dict[str, object]:
    """An exercise, and what one kg in the log moves: `load_factor_both` in a set done with both
    sides, `load_factor_side` on one side."""
    return {
        "exercise": exercise.id,
        "name": exercise.name,
        "pattern": exercise.pattern,
        "region": exercise.region,
        "laterality": exercise.laterality,
        "type": exercise.type,
        "equipment": exercise.equipment,
        "body_mass_share": float(exercise.body_mass_share),
        "load_factor_both": float(exercise.implements if is_per_hand else 1),
        "load_factor_side": 1.0 if is_per_hand else 1.0 / exercise.implements,
    }
