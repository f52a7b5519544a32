"""Measures, exercises, headers, units and sources: the TOML of schemas/ as frozen objects."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Literal

SCHEMAS = Path(__file__).parent.parent / "schemas"

Formula = Literal["pct_of_best", "bilateral_index", "abs_diff", "within_limb_ratio"]
Scale = Literal["log", "difference"]


@dataclass(frozen=True)
class Lead:
    """Expected lead of a dominant side, in the measure's difference unit.

    Positive: the dominant side performs better. `right_dominant` holds for people whose dominant
    hand (or foot, see `by`) is the right one, `left_dominant` for the others.
    """

    by: Literal["hand", "foot", "none"]
    right_dominant: float
    left_dominant: float
    source: str


@dataclass(frozen=True)
class Parts:
    """How a derived measure comes from others: the first of `of` over, or less, the second."""

    rule: Literal["ratio", "sum", "mean", "subtract"]
    of: tuple[str, ...]


@dataclass(frozen=True)
class Measure:
    """One test with everything needed to judge a difference between the sides."""

    id: str
    name: str
    short: str
    group: str
    unit: str
    better: Literal["higher", "lower", "neutral"]
    kind: Literal["unilateral", "bilateral_per_limb", "whole_body"]
    formula: Formula
    difference_unit: str
    trials: int
    score: Literal["mean", "best"]
    error: float  # typical error of one trial on one limb
    error_kind: Literal["pct", "unit"]
    usual_mean: float  # of |difference|, like everything down to level_watch in difference_unit
    usual_sd: float
    watch: float
    review: float
    level_watch: float | None  # within_limb_ratio: lower limits of each limb's own ratio
    level_review: float | None
    evidence: Literal["B", "C", "D"]
    hard: tuple[float, float]
    warn: tuple[float, float]
    expected_men: tuple[float, float]  # mean, SD
    expected_women: tuple[float, float]
    shape: Literal["normal", "lognormal"]
    side_sd: float  # true between-athlete SD of the signed difference
    lead: Lead
    parts: Parts | None
    region: Literal["lower", "upper", "trunk"]
    muscles: tuple[str, ...]
    patterns: tuple[str, ...]
    side_means: str
    synonyms: tuple[str, ...]
    caution: str
    sources: dict[str, str]

    @property
    def scale(self) -> Scale:
        """Whether sides are compared as a log ratio or as a difference."""
        return "log" if self.formula in ("pct_of_best", "bilateral_index") else "difference"


@dataclass(frozen=True)
class Exercise:
    """One entry of the exercise dictionary."""

    id: str
    name: str
    pattern: str
    laterality: Literal["bilateral", "unilateral", "alternating"]
    type: Literal["compound", "isolation"]
    equipment: str
    muscles: tuple[str, ...]
    synonyms: tuple[str, ...]
    body_mass_share: float


@dataclass(frozen=True)
class ExportKind:
    """One kind of export: its columns and the header spellings (normalised) of each."""

    name: str
    title: str
    required: tuple[str, ...]
    columns: dict[str, tuple[str, ...]]
    numbered: tuple[str, ...]  # columns that may carry a trial number: left_1, r2
    trial_words: tuple[str, ...]


@dataclass(frozen=True)
class Headers:
    """Spellings staff use: headers by export kind, words in cells by their meaning."""

    kinds: dict[str, ExportKind]
    sides: dict[str, tuple[str, ...]]
    words: dict[str, dict[str, tuple[str, ...]]]  # column -> canonical word -> spellings
    missing: tuple[str, ...]  # never a value (lower case, trimmed)
    missing_if_impossible: tuple[str, ...]  # untested only where outside the hard limits
    summary_rows: tuple[str, ...]
    word_forms: dict[str, str]
    filler_words: frozenset[str]


@dataclass(frozen=True)
class Unit:
    """One unit; one of it is `factor` of the base unit of its quantity."""

    id: str
    quantity: str
    factor: float
    spellings: tuple[str, ...]


@dataclass(frozen=True)
class Catalogue:
    """Everything schemas/*.toml says, and the look-ups by what staff write."""

    measures: dict[str, Measure]
    exercises: dict[str, Exercise]
    headers: Headers
    units: dict[str, Unit]
    mass_to_force: float
    per_body_mass: dict[str, str]  # unit -> unit of the absolute value
    sources: dict[str, str]

    def find_measure(self, text: str) -> str | None:
        """Id of the measure whose id, name, short name or synonym this is."""
        return self.measure_names.get(self.plain(text))

    def find_exercise(self, text: str) -> str | None:
        """Id of the exercise whose id, name or synonym this is."""
        return self.exercise_names.get(self.plain(text))

    def nearest_measures(self, text: str, n: int = 3) -> list[str]:
        """The n measure ids whose names are most alike to the text, best first."""
        wanted = self.plain(text)
        alike: dict[str, float] = {}
        for name, measure in self.measure_names.items():
            likeness = SequenceMatcher(None, wanted, name).ratio()
            alike[measure] = max(alike.get(measure, 0.0), likeness)
        return sorted(alike, key=lambda measure: (-alike[measure], measure))[:n]

    def find_unit(self, text: str) -> str | None:
        """Id of the unit written here, for example "lbs" -> "lb"."""
        return self.unit_names.get(unit_key(text))

    def factor(self, given: str, wanted: str) -> float | None:
        """What one of the given unit is in the wanted one; None where they do not convert.

        Mass and force convert into each other at standard gravity: a dial in kg that measures a
        force shows kilogram-force.
        """
        source, target = self.units[given], self.units[wanted]
        if source.quantity == target.quantity:
            return source.factor / target.factor
        if (source.quantity, target.quantity) == ("mass", "force"):
            return source.factor * self.mass_to_force / target.factor
        if (source.quantity, target.quantity) == ("force", "mass"):
            return source.factor / self.mass_to_force / target.factor
        return None

    def plain(self, text: str) -> str:
        """A name reduced to what tells it from others: "SL Hop test" -> "singleleghop"."""
        spaced = " " + " ".join(re.findall(r"[^\W_]+", text.casefold())) + " "
        for form, word in self.headers.word_forms.items():
            spaced = spaced.replace(f" {form} ", f" {word} ")
        words = [word for word in spaced.split() if word not in self.headers.filler_words]
        return "".join(words)

    @cached_property
    def measure_names(self) -> dict[str, str]:
        """Plain name -> measure id; an id wins over a synonym of another measure."""
        return self._names(
            (m.id, (*m.synonyms, m.name, m.short, m.id)) for m in self.measures.values()
        )

    @cached_property
    def exercise_names(self) -> dict[str, str]:
        """Plain name -> exercise id."""
        return self._names((e.id, (*e.synonyms, e.name, e.id)) for e in self.exercises.values())

    @cached_property
    def unit_names(self) -> dict[str, str]:
        """Unit as written (lower case, no spaces) -> unit id."""
        return {
            unit_key(spelling): unit.id
            for unit in self.units.values()
            for spelling in (unit.id, *unit.spellings)
        }

    def _names(self, entries: Iterable[tuple[str, tuple[str, ...]]]) -> dict[str, str]:
        return {self.plain(name): key for key, names in entries for name in names}


def header_key(text: str) -> str:
    """A header or word without case, spaces, underscores and punctuation."""
    return re.sub(r"[\W_]+", "", text.casefold())


def unit_key(text: str) -> str:
    """A unit without case and spaces."""
    return "".join(text.casefold().split())


@cache
def catalogue() -> Catalogue:
    """The catalogue, read once from schemas/."""
    units = _table("units.toml")
    across, per_body_mass = units.pop("across"), units.pop("per_body_mass")
    return Catalogue(
        measures={
            key: _measure(key, path.stem, entry)
            for path in sorted((SCHEMAS / "measures").glob("*.toml"))
            for key, entry in _table(f"measures/{path.name}").items()
        },
        exercises={
            key: Exercise(id=key, **_frozen(entry))
            for key, entry in _table("exercises.toml").items()
        },
        headers=_headers(_table("headers.toml")),
        units={
            key: Unit(key, quantity, unit["factor"], tuple(unit["spellings"]))
            for quantity, entry in units.items()
            for key, unit in entry["units"].items()
        },
        mass_to_force=across["mass_to_force"],
        per_body_mass=per_body_mass,
        sources={key: entry["citation"] for key, entry in _table("sources.toml").items()},
    )


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((SCHEMAS / name).read_text(encoding="utf-8"))


def _frozen(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(v) if isinstance(v, list) else v for key, v in entry.items()}


def _measure(key: str, group: str, entry: Mapping[str, Any]) -> Measure:
    nested = {name: _frozen(part) for name, part in entry.items() if isinstance(part, dict)}
    flat = {name: v for name, v in _frozen(entry).items() if name not in nested}
    lines, level, expected = nested["lines"], nested.get("level", {}), nested["expected"]
    return Measure(
        id=key,
        group=group,
        formula=lines["formula"],
        difference_unit=lines["unit"],
        error=float(nested["error"]["value"]),
        error_kind=nested["error"]["kind"],
        usual_mean=float(nested["usual"]["mean"]),
        usual_sd=float(nested["usual"]["sd"]),
        watch=float(lines["watch"]),
        review=float(lines["review"]),
        level_watch=level.get("watch"),
        level_review=level.get("review"),
        hard=_pair(nested["limits"]["hard"]),
        warn=_pair(nested["limits"]["warn"]),
        expected_men=_pair(expected["men"]),
        expected_women=_pair(expected["women"]),
        shape=expected["shape"],
        side_sd=float(expected["side_sd"]),
        lead=_lead(nested["lead"]),
        parts=Parts(**nested["parts"]) if "parts" in nested else None,
        sources={name: part["source"] for name, part in nested.items() if "source" in part},
        **flat,
    )


def _lead(entry: Mapping[str, Any]) -> Lead:
    right, left = float(entry["right_dominant"]), float(entry["left_dominant"])
    return Lead(entry["by"], right, left, entry["source"])


def _pair(values: tuple[float, ...]) -> tuple[float, float]:
    low, high = values
    return float(low), float(high)


def _headers(table: dict[str, Any]) -> Headers:
    missing = table.pop("missing")
    rest = {name: table.pop(name) for name in ("sides", "words", "word_forms")}
    summary, filler = table.pop("summary_rows")["words"], table.pop("filler_words")["words"]
    return Headers(
        kinds={name: _kind(name, entry) for name, entry in table.items()},
        sides=_frozen(rest["sides"]),
        words={column: _frozen(entry) for column, entry in rest["words"].items()},
        missing=tuple(missing["always"]),
        missing_if_impossible=tuple(missing["impossible_only"]),
        summary_rows=tuple(summary),
        word_forms=rest["word_forms"],
        filler_words=frozenset(filler),
    )


def _kind(name: str, entry: Mapping[str, Any]) -> ExportKind:
    return ExportKind(
        name=name,
        title=entry["title"],
        required=tuple(entry["required"]),
        columns={
            column: (header_key(column), *spellings)
            for column, spellings in entry["columns"].items()
        },
        numbered=tuple(entry.get("numbered", ())),
        trial_words=tuple(entry.get("trial_words", ())),
    )
