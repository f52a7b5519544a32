"""A test as it stands in its TOML file, as a frozen object."""

from collections.abc import Mapping
from typing import Any

from pipeline.catalogue.closed_sets import entry
from pipeline.catalogue.entries import Lead, Measure, Parts


def frozen(table: Mapping[str, Any]) -> dict[str, Any]:
    """A table of TOML whose lists cannot be changed."""
    return {key: tuple(v) if isinstance(v, list) else v for key, v in table.items()}


def measure_of(place: str, key: str, group: str, found: Mapping[str, Any]) -> Measure:
    """A test by its id and table; `place` is where a fault is told to be."""
    nested = {name: frozen(part) for name, part in found.items() if isinstance(part, dict)}
    flat = {name: v for name, v in found.items() if name not in nested}
    lines, level, expected = nested["lines"], nested.get("level", {}), nested["expected"]
    return entry(
        Measure,
        place,
        {
            "id": key,
            "group": group,
            "formula": lines["formula"],
            "difference_unit": lines["unit"],
            "error": float(nested["error"]["value"]),
            "error_kind": nested["error"]["kind"],
            "usual_mean": float(nested["usual"]["mean"]),
            "usual_sd": float(nested["usual"]["sd"]),
            "watch": float(lines["watch"]),
            "review": float(lines["review"]),
            "level_watch": float(level["watch"]) if level else None,
            "level_review": float(level["review"]) if level else None,
            "hard": _pair(nested["limits"]["hard"]),
            "warn": _pair(nested["limits"]["warn"]),
            "expected_men": _pair(expected["men"]),
            "expected_women": _pair(expected["women"]),
            "shape": expected["shape"],
            "side_sd": float(expected["side_sd"]),
            "lead": _lead(place, nested["lead"]),
            "parts": entry(Parts, place, nested["parts"]) if "parts" in nested else None,
            "sources": {name: part["source"] for name, part in nested.items() if name != "parts"},
            **flat,
        },
    )


def _lead(place: str, found: Mapping[str, Any]) -> Lead:
    sides = ("right_dominant", "left_dominant")
    return entry(Lead, f"{place}: lead", {**found, **{name: float(found[name]) for name in sides}})


def _pair(values: tuple[float, ...]) -> tuple[float, float]:
    low, high = values
    return float(low), float(high)
