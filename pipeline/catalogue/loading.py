"""The TOML files of schemas/ into entries. A key that is missing or misspelt raises at once."""

import fnmatch
import tomllib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from pipeline.catalogue.closed_sets import Entry, entry, word, words
from pipeline.catalogue.coaching import (
    Checkpoint,
    Coaching,
    Drill,
    FastStep,
    Group,
    Ladder,
    ReturnStep,
)
from pipeline.catalogue.entries import (
    TRAINING_RECORD,
    Exercise,
    ExportKind,
    Headers,
    Measure,
    Unit,
)
from pipeline.catalogue.measure_reading import frozen, measure_of
from pipeline.catalogue.rules import Limits, Rule, Rules, Ruling, Sign, Structure
from pipeline.catalogue.story_rules import Quality, StoryRules, WholeLeg
from pipeline.catalogue.test_day_rules import (
    DayLimits,
    DayRules,
    FirstTests,
    MostEffort,
    OffDays,
    SecondDay,
    Station,
)
from schemas import columns
from schemas.catalogue_words import Laterality, WrittenSide
from schemas.vocabulary import Availability, Decision, Export, Finding, Sex, Urgency, WorkedSide

SCHEMAS = Path(__file__).parents[2] / "schemas"
TEXTS = ("text", "evidence", "source")
# The closed set of what the cells of a column may mean.
MEANINGS: dict[str, type[StrEnum]] = {
    "side": WrittenSide,
    "sex": Sex,
    "dominance": WorkedSide,
    "availability": Availability,
    "decision": Decision,
    "finding": Finding,
}


def measures_by_id() -> dict[str, Measure]:
    """Every test, by id; the file a measure stands in is its group."""
    return {
        key: measure_of(f"schemas/measures/{path.name}: {key}", key, path.stem, found)
        for path in sorted((SCHEMAS / "measures").glob("*.toml"))
        for key, found in _table(f"measures/{path.name}").items()
    }


def exercises() -> dict[str, Exercise]:
    """Every exercise, by id."""
    table = _training("exercises")
    region = {pattern: part for part, names in table.pop("regions").items() for pattern in names}
    for one in table.values():
        one["body_mass_share"] = float(one["body_mass_share"])
        one["region"] = region[one["pattern"]]
    return _entries(Exercise, "training/exercises.toml", table)


def coaching() -> Coaching:
    """Checkpoints, drills, ladders and groups, by id."""
    table = _training("training_groups")
    apart = {key: one.pop("by", {}) for key, one in table.items()}
    groups, for_measure = _entries(Group, "training/training_groups.toml", table), {}
    for key, by in apart.items():
        for name in groups[key].measures:
            for_measure[name] = replace(groups[key], **frozen(by.get(name, {})))
    return Coaching(
        checkpoints=_entries(Checkpoint, "training/checkpoints.toml", _training("checkpoints")),
        drills=_entries(Drill, "training/drills.toml", _training("drills")),
        ladders=_entries(Ladder, "training/ladders.toml", _training("ladders")),
        groups=groups,
        for_measure=for_measure,
        returns=_returns(),
    )


def _returns() -> dict[int, ReturnStep]:
    """The steps of a graded return, by number."""
    table = _training("graded_return")
    limits, steps = table.pop("limited_by"), {}
    for number, step in table.items():
        place = f"schemas/training/graded_return.toml: {number}.fast"
        fast = {
            limb: entry(FastStep, f"{place}.{limb}", {**one, "limited_by": limits.get(limb, ())})
            for limb, one in step.pop("fast", {}).items()
        }
        steps[int(number)] = ReturnStep(fast=fast, **step)
    return steps


def log_measures(known: Mapping[str, Exercise]) -> dict[str, Measure]:
    """One measure `est_1rm:<exercise>` per one-sided exercise that has a repetition maximum."""
    table = _training("log_strength")
    template, left_out = table["measure"], table["left_out"]
    return {
        f"est_1rm:{one.id}": measure_of(
            "schemas/training/log_strength.toml: measure",
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
        if one.laterality != Laterality.BILATERAL
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
        tuple(_entries(Station, "test_day.toml", table["stations"]).values()),
        DayLimits(**table["limits"]),
        entry(MostEffort, "schemas/test_day.toml: most_effort", table["most_effort"]),
        entry(FirstTests, "schemas/test_day.toml: first", table["first"]),
        entry(OffDays, "schemas/test_day.toml: off", table["off"]),
        entry(SecondDay, "schemas/test_day.toml: second_day", table["second_day"]),
    )


def story_rules(tests: Collection[str]) -> StoryRules:
    """Which tests speak of one quality of one limb; `tests`: ids that a * may stand for."""

    def named(effort: Iterable[str]) -> Iterator[str]:
        for name in effort:
            yield from fnmatch.filter(sorted(tests), name) if name.endswith("*") else (name,)

    table = _table("stories.toml")
    return StoryRules(
        qualities=_entries(Quality, "stories.toml", table["qualities"]),
        whole_leg=entry(WholeLeg, "schemas/stories.toml: whole_leg", table["whole_leg"]),
        one_effort=tuple(tuple(named(effort)) for effort in table["one_effort"]),
    )


def sources() -> dict[str, str]:
    """S-number -> the work and how much of it was read."""
    return {
        key: f"{one['citation']} [{one['read']}]" for key, one in _table("sources.toml").items()
    }


def units() -> tuple[dict[str, Unit], dict[tuple[str, str], float], dict[str, str]]:
    """Units by id, factors between quantities, and the units divided by body mass."""
    table = _table("units.toml")
    across = {(way["from"], way["to"]): float(way["factor"]) for way in table.pop("across")}
    per_body_mass: dict[str, str] = table.pop("per_body_mass")
    known = {
        key: Unit(key, quantity, float(unit["factor"]), tuple(unit["spellings"]))
        for quantity, one in table.items()
        for key, unit in one["units"].items()
    }
    return known, across, per_body_mass


def headers(plain: Callable[[str], str]) -> Headers:
    """Header spellings by export kind and the words of cells; `plain` normalises a header."""
    table = {name: part for name, part in columns.TABLE.items() if name != "holds"}
    missing, meanings = table.pop("missing"), table.pop("words")
    return Headers(
        sides=_meanings("side", table.pop("sides")),
        words={column: _meanings(column, found) for column, found in meanings.items()},
        missing=tuple(missing["always"]),
        missing_if_impossible=tuple(missing["impossible_only"]),
        summary_rows=tuple(table.pop("summary_rows")["words"]),
        word_forms=table.pop("word_forms"),
        filler_words=frozenset(table.pop("filler_words")["words"]),
        kinds={
            kind: _kind(kind, table[kind], plain)
            for kind in words(Export, "schemas/columns.toml", table)
        },
    )


def rules() -> Rules:
    """The practice rules and the signs that hand an athlete to medical staff first."""
    table = _table("rules.toml")
    urgency = {
        name: word(Urgency, f"schemas/rules.toml: {name}", given)
        for name, given in (
            ("pain", table["pain"]["urgency"]),
            ("loss", table["loss"]["urgency"]),
            ("slow_loss", table["loss"]["slow_urgency"]),
        )
    }
    return Rules(
        plan={
            key: Rule(
                id=key,
                **{name: one[name] for name in TEXTS},
                values={
                    name: v for name, v in frozen(one).items() if name not in (*TEXTS, "limits")
                },
                limits={name: Limits(*pair) for name, pair in one.get("limits", {}).items()},
            )
            for key, one in table["plan"].items()
        },
        structures=_entries(Structure, "rules.toml", table["structure"]),
        signs=_entries(Sign, "rules.toml", table["signs"]),
        negations=tuple(table["negations"]["words"]),
        pain_note=float(table["pain"]["note"]),
        pain_refer=float(table["pain"]["refer"]),
        pain_under_age=int(table["pain"]["under_age"]),
        pain_urgency=urgency["pain"],
        pain_worded=float(table["pain"]["worded"]),
        pain_some=tuple(table["pain"]["some"]),
        pain_none=tuple(table["pain"]["none"]),
        pain_noted=tuple(table["pain"]["noted"]),
        pain_settled=tuple(table["pain"]["settled"]),
        loss_urgency=urgency["loss"],
        slow_loss_urgency=urgency["slow_loss"],
        very_sure=float(table["sureness"]["very_sure"]),
        most_disputed=float(table["sureness"]["most_disputed"]),
        decisions={
            decision: entry(
                Ruling,
                f"schemas/rules.toml: decision.{decision}",
                {**table["decision"][decision], "decision": decision},
            )
            for decision in words(Decision, "schemas/rules.toml: decision", table["decision"])
        },
    )


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((SCHEMAS / name).read_text(encoding="utf-8"))


def _training(name: str) -> dict[str, Any]:
    return _table(f"training/{name}.toml")


def _entries(
    kind: type[Entry], file: str, table: Mapping[str, Mapping[str, Any]]
) -> dict[str, Entry]:
    """The entries of a file of schemas/, by id."""
    return {
        key: entry(kind, f"schemas/{file}: {key}", {"id": key, **one}) for key, one in table.items()
    }


def _meanings(column: str, found: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """What the cells of a column may mean, by the words of its closed set, and the spellings."""
    if column in MEANINGS:
        words(MEANINGS[column], f"schemas/columns.toml: words.{column}", found)
    return frozen(found)


def _kind(name: Export, found: Mapping[str, Any], plain: Callable[[str], str]) -> ExportKind:
    return ExportKind(
        name=name,
        title=found["title"],
        required=tuple(found["required"]),
        one_of=tuple(tuple(map(tuple, ways)) for ways in found.get("one_of", ())),
        columns={
            column: (plain(column), *spellings) for column, spellings in found["columns"].items()
        },
        numbered=tuple(found.get("numbered", ())),
        shown=tuple(map(plain, found.get("shown", ()))),
        trial_words=tuple(found.get("trial_words", ())),
        value_words=tuple(found.get("value_words", ())),
        summary_words=tuple(found.get("summary_words", ())),
    )
