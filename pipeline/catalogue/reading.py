"""The TOML files of schemas/ into entries. A key that is missing or misspelt raises at once."""

import fnmatch
import tomllib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pipeline.catalogue.coaching import Checkpoint, Coaching, Drill, Group, Ladder
from pipeline.catalogue.entries import (
    TRAINING_RECORD,
    Exercise,
    ExportKind,
    Headers,
    Lead,
    Measure,
    Parts,
    Unit,
)
from pipeline.catalogue.rules import Limits, Rule, Rules, Ruling, Sign, Structure
from pipeline.catalogue.stories import Quality, StoryRules, WholeLeg
from pipeline.catalogue.test_day import DayLimits, DayRules, FirstTests, MostEffort, Station
from schemas import columns
from schemas.vocabulary import Decision, Plan, Status

SCHEMAS = Path(__file__).parents[2] / "schemas"
TEXTS = ("text", "evidence", "source")


def measures() -> dict[str, Measure]:
    """Every test, by id; the file a measure stands in is its group."""
    return {
        key: _measure(key, path.stem, entry)
        for path in sorted((SCHEMAS / "measures").glob("*.toml"))
        for key, entry in _table(f"measures/{path.name}").items()
    }


def exercises() -> dict[str, Exercise]:
    """Every exercise, by id."""
    table = _training("exercises")
    region = {pattern: part for part, names in table.pop("regions").items() for pattern in names}
    for entry in table.values():
        entry["body_mass_share"] = float(entry["body_mass_share"])
        entry["region"] = region[entry["pattern"]]
    return {key: Exercise(id=key, **_frozen(entry)) for key, entry in table.items()}


def coaching() -> Coaching:
    """Checkpoints, drills, ladders and groups, by id."""
    groups, for_measure = {}, {}
    for key, entry in _training("training_groups").items():
        by = entry.pop("by", {})
        groups[key] = Group(id=key, **_frozen(entry))
        for name in groups[key].measures:
            for_measure[name] = replace(groups[key], **_frozen(by.get(name, {})))
    return Coaching(
        checkpoints={
            key: Checkpoint(id=key, **_frozen(entry))
            for key, entry in _training("checkpoints").items()
        },
        drills={key: Drill(id=key, **_frozen(entry)) for key, entry in _training("drills").items()},
        ladders={
            key: Ladder(id=key, **_frozen(entry)) for key, entry in _training("ladders").items()
        },
        groups=groups,
        for_measure=for_measure,
    )


def log_measures(known: Mapping[str, Exercise]) -> dict[str, Measure]:
    """One measure `est_1rm:<exercise>` per one-sided exercise that has a repetition maximum."""
    table = _training("log_strength")
    template, left_out = table["measure"], table["left_out"]
    return {
        f"est_1rm:{one.id}": _measure(
            f"est_1rm:{one.id}",
            TRAINING_RECORD,
            {
                **template,
                "name": template["name"].format(exercise=one.name),
                "short": template["short"].format(short=one.short or one.name),
                "region": one.region,
                "muscles": one.muscles,
                "patterns": (one.pattern,),
            },
        )
        for one in known.values()
        if one.laterality != "bilateral"
        and one.pattern not in left_out["patterns"]
        and one.equipment not in left_out["equipment"]
        and one.id not in left_out["exercises"]
    }


def load_steps() -> tuple[float, ...]:
    """Steps between loads in kg, as dumbbells, plates and stacks come."""
    steps, pound = (
        _training("log_strength")["steps"],
        _table("units.toml")["mass"]["units"]["lb"],
    )
    return (*map(float, steps["kg"]), *(pound["factor"] * step for step in steps["lb"]))


def test_day() -> DayRules:
    """The stations of a test day in their order, and what one athlete does at most."""
    table = _table("test_day.toml")
    return DayRules(
        tuple(Station(id=key, **_frozen(entry)) for key, entry in table["stations"].items()),
        DayLimits(**table["limits"]),
        MostEffort(**table["most_effort"]),
        FirstTests(**_frozen(table["first"])),
    )


def stories(tests: Collection[str]) -> StoryRules:
    """Which tests speak of one quality of one limb; `tests`: ids that a * may stand for."""

    def named(effort: Iterable[str]) -> Iterator[str]:
        for name in effort:
            yield from fnmatch.filter(sorted(tests), name) if name.endswith("*") else (name,)

    table = _table("stories.toml")
    return StoryRules(
        qualities={
            key: Quality(id=key, **_frozen(entry)) for key, entry in table["qualities"].items()
        },
        whole_leg=WholeLeg(**_frozen(table["whole_leg"])),
        one_effort=tuple(tuple(named(effort)) for effort in table["one_effort"]),
    )


def sources() -> dict[str, str]:
    """S-number -> the work and how much of it was read."""
    return {
        key: f"{entry['citation']} [{entry['read']}]"
        for key, entry in _table("sources.toml").items()
    }


def units() -> tuple[dict[str, Unit], dict[tuple[str, str], float], dict[str, str]]:
    """Units by id, factors between quantities, and the units divided by body mass."""
    table = _table("units.toml")
    across = {(way["from"], way["to"]): float(way["factor"]) for way in table.pop("across")}
    per_body_mass: dict[str, str] = table.pop("per_body_mass")
    known = {
        key: Unit(key, quantity, float(unit["factor"]), tuple(unit["spellings"]))
        for quantity, entry in table.items()
        for key, unit in entry["units"].items()
    }
    return known, across, per_body_mass


def headers(plain: Callable[[str], str]) -> Headers:
    """Header spellings by export kind and the words of cells; `plain` normalises a header."""
    table = {name: part for name, part in columns.TABLE.items() if name != "holds"}
    missing, words = table.pop("missing"), table.pop("words")
    return Headers(
        sides=_frozen(table.pop("sides")),
        words={column: _frozen(entry) for column, entry in words.items()},
        missing=tuple(missing["always"]),
        missing_if_impossible=tuple(missing["impossible_only"]),
        summary_rows=tuple(table.pop("summary_rows")["words"]),
        word_forms=table.pop("word_forms"),
        filler_words=frozenset(table.pop("filler_words")["words"]),
        kinds={name: _kind(name, entry, plain) for name, entry in table.items()},
    )


def rules() -> Rules:
    """The practice rules and the signs that hand an athlete to medical staff first."""
    table = _table("rules.toml")
    return Rules(
        plan={
            key: Rule(
                id=key,
                **{name: entry[name] for name in TEXTS},
                values={
                    name: v for name, v in _frozen(entry).items() if name not in (*TEXTS, "limits")
                },
                limits={name: Limits(*pair) for name, pair in entry.get("limits", {}).items()},
            )
            for key, entry in table["plan"].items()
        },
        structures={
            key: Structure(id=key, **_frozen(entry)) for key, entry in table["structure"].items()
        },
        signs={key: Sign(id=key, **_frozen(entry)) for key, entry in table["signs"].items()},
        negations=tuple(table["negations"]["words"]),
        pain_note=float(table["pain"]["note"]),
        pain_refer=float(table["pain"]["refer"]),
        pain_under_age=int(table["pain"]["under_age"]),
        pain_urgency=table["pain"]["urgency"],
        pain_worded=float(table["pain"]["worded"]),
        pain_some=tuple(table["pain"]["some"]),
        pain_none=tuple(table["pain"]["none"]),
        pain_noted=tuple(table["pain"]["noted"]),
        pain_settled=tuple(table["pain"]["settled"]),
        loss_urgency=table["loss"]["urgency"],
        slow_loss_urgency=table["loss"]["slow_urgency"],
        very_sure=float(table["sureness"]["very_sure"]),
        most_disputed=float(table["sureness"]["most_disputed"]),
        decisions={Decision(key): _ruling(key, entry) for key, entry in table["decision"].items()},
    )


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((SCHEMAS / name).read_text(encoding="utf-8"))


def _training(name: str) -> dict[str, Any]:
    return _table(f"training/{name}.toml")


def _ruling(key: str, entry: Mapping[str, Any]) -> Ruling:
    plans = {name: Plan(entry[name]) for name in ("plan", "after")}
    return Ruling(
        **{**entry, **plans, "decision": Decision(key), "status": Status(entry["status"])}
    )


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
        level_watch=float(level["watch"]) if level else None,
        level_review=float(level["review"]) if level else None,
        hard=_pair(nested["limits"]["hard"]),
        warn=_pair(nested["limits"]["warn"]),
        expected_men=_pair(expected["men"]),
        expected_women=_pair(expected["women"]),
        shape=expected["shape"],
        side_sd=float(expected["side_sd"]),
        lead=_lead(nested["lead"]),
        parts=Parts(**nested["parts"]) if "parts" in nested else None,
        sources={name: part["source"] for name, part in nested.items() if name != "parts"},
        **flat,
    )


def _lead(entry: Mapping[str, Any]) -> Lead:
    right, left = float(entry["right_dominant"]), float(entry["left_dominant"])
    return Lead(entry["by"], right, left, entry["source"])


def _pair(values: tuple[float, ...]) -> tuple[float, float]:
    low, high = values
    return float(low), float(high)


def _kind(name: str, entry: Mapping[str, Any], plain: Callable[[str], str]) -> ExportKind:
    return ExportKind(
        name=name,
        title=entry["title"],
        required=tuple(entry["required"]),
        one_of=tuple(tuple(map(tuple, ways)) for ways in entry.get("one_of", ())),
        columns={
            column: (plain(column), *spellings) for column, spellings in entry["columns"].items()
        },
        numbered=tuple(entry.get("numbered", ())),
        shown=tuple(map(plain, entry.get("shown", ()))),
        trial_words=tuple(entry.get("trial_words", ())),
        value_words=tuple(entry.get("value_words", ())),
        summary_words=tuple(entry.get("summary_words", ())),
    )
