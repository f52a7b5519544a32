"""The catalogue as tables, so that SQL never holds a literal that belongs to one measure."""

import polars as pl

from pipeline.catalogue import Catalogue, Measure


def reference_frames(catalogue: Catalogue) -> dict[str, pl.DataFrame]:
    """`ref_measures`, `ref_parts` and `ref_exercises`, one row per entry of the catalogue."""
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
                    "is_whole_body": catalogue.measures[part].kind == "whole_body",
                }
                for measure in measures
                if measure.parts is not None
                for position, part in enumerate(measure.parts.of, start=1)
            ]
        ),
        "ref_exercises": pl.DataFrame(
            [
                {
                    "exercise": exercise.id,
                    "name": exercise.name,
                    "pattern": exercise.pattern,
                    "region": region_of(exercise.pattern),
                    "laterality": exercise.laterality,
                    "type": exercise.type,
                    "equipment": exercise.equipment,
                    "body_mass_share": float(exercise.body_mass_share),
                    "muscles": ", ".join(exercise.muscles),
                }
                for exercise in catalogue.exercises.values()
            ]
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
        "direction": -1 if measure.better == "lower" else 1,
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


LOWER_BODY = {
    "squat", "lunge", "hinge", "knee_flexion", "knee_extension", "ankle", "hip_adduction",
    "hip_abduction", "hip_flexion", "plyometric",
}  # fmt: skip
UPPER_BODY = {
    "horizontal_push", "vertical_push", "shoulder_isolation", "shoulder_rotation",
    "horizontal_pull", "vertical_pull", "elbow_flexion", "elbow_extension", "grip_forearm",
}  # fmt: skip


def region_of(pattern: str) -> str:
    """Part of the body an exercise pattern belongs to: lower, upper or trunk."""
    if pattern in LOWER_BODY:
        return "lower"
    return "upper" if pattern in UPPER_BODY else "trunk"
