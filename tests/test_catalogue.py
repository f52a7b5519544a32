"""The catalogue is complete, says where every figure comes from, and never mixes formulas."""

import math
import re
import tomllib
from collections import defaultdict
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import scipy.constants

from pipeline.catalogue import Measure, catalogue, header_key, unit_key

BOOK = catalogue()
MEASURES = [m for m in BOOK.measures.values() if m.group != "parts"]
SCHEMAS = Path(__file__).parents[1] / "schemas"
# A source opens with S-numbers and what they say, or with one of these.
UNPUBLISHED = ("from memory", "own derivation", "common practice")
FRIGHTENING = re.compile(
    r"imbalanc|dysfunction|weak (?:leg|side|arm)|bad side|abnormal|at risk|red flag|danger|damage"
    r"|misalign|injury risk|unsafe|fail",
    re.IGNORECASE,
)

every_measure = pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.id)


def owners(entries: dict[str, tuple[str, ...]]) -> dict[str, set[str]]:
    """Who claims each name."""
    claims: dict[str, set[str]] = defaultdict(set)
    for key, names in entries.items():
        for name in names:
            claims[name].add(key)
    return {name: keys for name, keys in claims.items() if len(keys) > 1}


def numbers_cited(text: str) -> set[str]:
    return set(re.findall(r"\bS\d+[a-z]?\b", text))


def test_all_79_measures_and_96_exercises_stand():
    assert len(MEASURES) == 79
    assert len(BOOK.exercises) == 96
    assert set(BOOK.measures) - {m.id for m in MEASURES} == {"sprint_10m_time"}
    groups = {
        "strength": 28, "grip": 1, "power_jump": 9, "hop": 6, "change_of_direction": 3,
        "balance": 5, "range_of_motion": 14, "muscular_endurance": 5, "size": 7, "structure": 1,
    }  # fmt: skip
    found: dict[str, int] = defaultdict(int)
    for measure in MEASURES:
        found[measure.group] += 1
    assert found == groups


@every_measure
def test_every_figure_of_a_measure_names_its_source(measure: Measure):
    figures = {"error", "usual", "lines", "limits", "expected", "lead"}
    if measure.level_review is not None:
        figures.add("level")
    assert set(measure.sources) == figures
    for text in measure.sources.values():
        assert text.startswith(UNPUBLISHED) or re.match(r"S\d+[a-z]?\b", text), text
        assert numbers_cited(text) <= set(BOOK.sources), text
    assert measure.lead.source == measure.sources["lead"]


@every_measure
def test_every_text_of_a_measure_is_there_and_calm(measure: Measure):
    texts = [measure.name, measure.short, measure.caution, measure.side_means, measure.joint]
    assert all(text.strip() == text and text for text in texts)
    assert not FRIGHTENING.search(" ".join([*texts, *measure.sources.values()]))
    assert measure.synonyms
    assert len(measure.short) <= 28


@every_measure
def test_every_line_is_stored_with_its_own_formula_and_unit(measure: Measure):
    raw = tomllib.loads((SCHEMAS / "measures" / f"{measure.group}.toml").read_text())[measure.id]
    # The formula stands beside the lines and nowhere else, so a line cannot outlive it.
    assert raw["lines"]["formula"] == measure.formula
    assert not {"formula", "difference_unit", "watch", "review"} & set(raw)
    ways = {
        "pct_of_best": {"%"},
        "bilateral_index": {"%"},
        "within_limb_ratio": {"ratio"},
        "abs_diff": {"cm"} if measure.id in REACHES else {measure.unit},
    }
    assert measure.difference_unit in ways[measure.formula]
    assert measure.scale == ("log" if measure.difference_unit == "%" else "difference")
    assert 0 < measure.watch < measure.review


REACHES = ("reach_anterior", "reach_posteromedial", "reach_posterolateral")


@every_measure
def test_the_lines_fit_what_is_usual_in_the_trade(measure: Measure):
    assert 0 < measure.usual_mean < measure.review
    assert 0 < measure.usual_sd <= measure.usual_mean
    assert abs(measure.lead.right_dominant) < measure.review


@every_measure
def test_only_ratios_inside_a_limb_have_levels_and_a_derived_difference_line(measure: Measure):
    if measure.formula != "within_limb_ratio":
        assert measure.level_watch is None
        assert measure.level_review is None
        return
    assert measure.level_watch is not None and measure.level_review is not None
    assert measure.level_review < measure.level_watch
    assert measure.hard[0] < measure.level_review
    assert measure.watch == pytest.approx(measure.usual_mean + measure.usual_sd)
    assert measure.review == pytest.approx(measure.usual_mean + 2 * measure.usual_sd)
    assert measure.sources["lines"].startswith("own derivation")


def test_15_percent_of_best_became_8_as_bilateral_index():
    index = 100 * math.tanh(-math.log(1 - 0.15) / 2)
    assert index == pytest.approx(100 * 15 / 185)
    carried = [m for m in MEASURES if "8.1 as bilateral index" in m.sources["lines"]]
    assert {m.id for m in carried} == {
        "imtp_limb_peak_force", "cmj_limb_pushoff_impulse", "cmj_limb_pushoff_peak_force",
    }  # fmt: skip
    assert all(m.formula == "bilateral_index" and abs(m.review - index) < 0.2 for m in carried)


@every_measure
def test_hard_limits_enclose_warn_limits_and_what_is_expected(measure: Measure):
    assert measure.hard[0] <= measure.warn[0] < measure.warn[1] <= measure.hard[1]
    assert measure.hard[0] < measure.warn[0] or measure.hard[1] > measure.warn[1]
    for mean, spread in (measure.expected_men, measure.expected_women):
        assert measure.warn[0] < mean < measure.warn[1]
        assert spread > 0
    assert measure.error > 0
    assert measure.side_sd > 0
    assert measure.trials >= 1


@every_measure
def test_a_lead_has_a_sensible_side_and_size(measure: Measure):
    lead = measure.lead
    if lead.by == "none":
        assert lead.right_dominant == lead.left_dominant == 0
    else:
        assert measure.region == ("upper" if lead.by == "hand" else "lower")
        assert lead.right_dominant != 0
        assert lead.left_dominant in (0, lead.right_dominant)


def test_leads_have_the_sign_the_literature_gives():
    leads = {m.id: (m.lead.right_dominant, m.lead.left_dominant) for m in MEASURES}
    assert leads["grip_strength"] == (10, 0)  # S27, S29: left-handers are even
    assert leads["single_arm_shot_put"] == ((9 + 4) / 2,) * 2  # S41: men and women
    assert leads["shoulder_ir_rom"] == (-5, -5)  # S64: the throwing arm turns inward less
    assert leads["shoulder_er_rom"] == (5, 5)
    assert leads["shoulder_total_arc"] == (0, 0)  # S65: the arc is equal
    negative = {name for name, (right, _) in leads.items() if right < 0}
    assert negative == {
        "shoulder_ir_rom", "shoulder_er_ir_ratio", "shoulder_flexion_rom", "knee_to_wall",
        "knee_to_wall_angle",
    }  # fmt: skip


def test_figures_of_the_table_are_carried_over_as_they_stand():
    hop, grip = BOOK.measures["single_hop"], BOOK.measures["grip_strength"]
    assert (hop.error, hop.usual_mean, hop.usual_sd, hop.watch, hop.review) == (
        3.5,
        5.4,
        4.3,
        10,
        15,
    )
    assert (hop.hard, hop.warn, hop.expected_men) == ((20, 350), (90, 260), (180, 22))
    assert (grip.error, grip.watch, grip.review, grip.trials, grip.score) == (5, 15, 20, 3, "best")
    wall = BOOK.measures["knee_to_wall"]
    assert (wall.error, wall.error_kind, wall.review, wall.hard) == (0.6, "unit", 2.5, (-2, 25))
    ratio = BOOK.measures["hq_ratio_con_60"]
    assert (ratio.level_watch, ratio.level_review) == (0.6, 0.47)
    lower = {m.id for m in MEASURES if m.better == "lower"}
    assert lower == {
        "sl_dj_contact_time", "timed_hop_6m", "cod_505_time", "cod_505_mod_time",
        "cod_deficit_505", "active_knee_extension_deficit", "bent_knee_fall_out",
    }  # fmt: skip


def test_parts_name_known_measures_of_a_fitting_unit():
    derived = {m.id: m.parts for m in MEASURES if m.parts}
    assert {name: parts.rule for name, parts in derived.items()} == {
        "hq_ratio_con_60": "ratio",
        "hip_add_abd_ratio": "ratio",
        "shoulder_er_ir_ratio": "ratio",
        "hip_total_rotation": "sum",
        "shoulder_total_arc": "sum",
        "reach_composite": "mean",
        "cod_deficit_505": "subtract",
    }
    for name, parts in derived.items():
        units = {BOOK.measures[part].unit for part in parts.of}
        assert len(units) == 1
        assert parts.rule == "ratio" or units == {BOOK.measures[name].unit}
        assert len(parts.of) == (3 if parts.rule == "mean" else 2)
    assert BOOK.measures["cod_deficit_505"].parts.of == ("cod_505_time", "sprint_10m_time")


def test_no_name_belongs_to_two_measures_or_two_exercises():
    measures = {
        m.id: tuple(BOOK.plain(name) for name in (m.id, m.name, m.short, *m.synonyms))
        for m in BOOK.measures.values()
    }
    exercises = {
        e.id: tuple(BOOK.plain(name) for name in (e.id, e.name, *e.synonyms))
        for e in BOOK.exercises.values()
    }
    assert owners(measures) == {}
    assert owners(exercises) == {}
    shorts = [m.short for m in BOOK.measures.values()]
    assert len(set(shorts)) == len(shorts)


def test_no_synonym_is_written_twice_within_one_entry():
    entries: Any = (*BOOK.measures.values(), *BOOK.exercises.values())
    for entry in entries:
        plain = [BOOK.plain(name) for name in entry.synonyms]
        assert len(set(plain)) == len(plain), entry.id
        assert all(plain), entry.id


@pytest.mark.parametrize(
    ("written", "measure"),
    [
        ("single_hop", "single_hop"),
        ("single leg hop", "single_hop"),
        ("SL hop distance", "single_hop"),
        ("One-Leg Hop Test", "single_hop"),
        ("Knee to Wall", "knee_to_wall"),
        ("handgrip", "grip_strength"),
        ("SL CMJ height", "sl_cmj_height"),
        ("5-0-5", "cod_505_time"),
        ("H:Q ratio", "hq_ratio_con_60"),
        ("10 m sprint", "sprint_10m_time"),
        ("Thigh circumference", "thigh_girth"),
        # Strength or range? Better refused than guessed.
        ("shoulder internal rotation", None),
        ("moon_jump", None),
        ("", None),
    ],
)
def test_a_test_is_found_by_what_staff_call_it(written: str, measure: str | None):
    assert BOOK.find_measure(written) == measure


def test_unknown_test_names_get_the_three_nearest():
    nearest = BOOK.nearest_measures("moon_jump", 3)
    assert len(nearest) == len(set(nearest)) == 3
    assert "sl_cmj_height" in nearest
    assert BOOK.nearest_measures("singel hop", 1) == ["single_hop"]
    assert BOOK.nearest_measures("knee to wal", 1) == ["knee_to_wall"]
    assert set(BOOK.nearest_measures("shoulder internal rotation", 2)) <= {
        "shoulder_ir_iso_force", "shoulder_ir_rom", "hip_ir_rom",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("written", "exercise"),
    [
        ("RFESS", "rear_foot_elevated_split_squat"),
        ("Bulgarian split squat", "rear_foot_elevated_split_squat"),
        ("SL RDL", "single_leg_romanian_deadlift"),
        ("DB bench press", "dumbbell_bench_press"),
        ("single-arm row", "single_arm_dumbbell_row"),
        ("moon walk", None),
    ],
)
def test_an_exercise_is_found_by_what_staff_call_it(written: str, exercise: str | None):
    assert BOOK.find_exercise(written) == exercise


def test_every_measure_that_training_changes_has_a_one_sided_exercise():
    one_sided = {e.pattern for e in BOOK.exercises.values() if e.laterality != "bilateral"}
    patterns = {e.pattern for e in BOOK.exercises.values()}
    muscles = {muscle for e in BOOK.exercises.values() for muscle in e.muscles}
    for measure in MEASURES:
        assert set(measure.patterns) <= patterns, measure.id
        assert set(measure.muscles) <= muscles, measure.id
        if measure.group == "structure":
            assert measure.patterns == ()
        else:
            assert one_sided & set(measure.patterns), measure.id


def test_body_mass_is_moved_in_bodyweight_exercises_only():
    for exercise in BOOK.exercises.values():
        is_bodyweight = exercise.equipment == "bodyweight"
        assert (exercise.body_mass_share > 0) == is_bodyweight, exercise.id
        most = 0.5 if exercise.laterality == "bilateral" else 1.0
        assert 0 <= exercise.body_mass_share <= most, exercise.id


def test_every_unit_of_the_catalogue_is_known():
    for measure in BOOK.measures.values():
        assert measure.unit in BOOK.units
        assert measure.difference_unit in BOOK.units
    for relative, absolute in BOOK.per_body_mass.items():
        assert {relative, absolute} <= set(BOOK.units)


def test_unit_factors_are_those_of_nist_and_scipy():
    pound, inch, foot = Decimal("0.45359237"), Decimal("2.54"), Decimal("30.48")
    gravity = Decimal("9.80665")
    exact = {
        ("lb", "kg"): pound,
        ("g", "kg"): Decimal("0.001"),
        ("in", "cm"): inch,
        ("ft", "cm"): foot,
        ("mm", "cm"): Decimal("0.1"),
        ("m", "cm"): Decimal(100),
        ("kgf", "N"): gravity,
        ("lbf", "N"): pound * gravity,
        ("lb", "N"): pound * gravity,
        ("kg", "N"): gravity,
        ("lb-ft", "Nm"): pound * gravity * foot / 100,
        ("ms", "s"): Decimal("0.001"),
        ("min", "s"): Decimal(60),
        ("%", "ratio"): Decimal("0.01"),
        ("%", "%LL"): Decimal(1),
    }
    for (given, wanted), factor in exact.items():
        assert BOOK.factor(given, wanted) == pytest.approx(float(factor), rel=1e-15), given
    assert BOOK.units["lbf"].factor == float(Decimal("4.4482216152605"))
    known = {
        "lb": scipy.constants.pound,
        "lbf": scipy.constants.pound_force,
        "kgf": scipy.constants.kilogram_force,
        "min": scipy.constants.minute,
        "in": scipy.constants.inch * 100,
        "ft": scipy.constants.foot * 100,
        "st": scipy.constants.stone,
    }
    for unit, factor in known.items():
        assert BOOK.units[unit].factor == pytest.approx(factor, rel=1e-14), unit
    assert BOOK.factor("deg", "rad") == pytest.approx(scipy.constants.degree, rel=1e-14)


def test_converting_there_and_back_changes_nothing_and_strangers_do_not_convert():
    for given in BOOK.units:
        for wanted in BOOK.units:
            there, back = BOOK.factor(given, wanted), BOOK.factor(wanted, given)
            assert (there is None) == (back is None)
            assert there is None or there * back == pytest.approx(1, rel=1e-14)
    assert BOOK.factor("cm", "kg") is None
    assert BOOK.factor("Nm", "N") is None


def test_every_spelling_of_a_unit_means_one_unit():
    spellings = {
        unit.id: tuple(unit_key(name) for name in (unit.id, *unit.spellings))
        for unit in BOOK.units.values()
    }
    assert owners(spellings) == {}
    written = {"LBS": "lb", " kg ": "kg", "N·m": "Nm", "ft-lbs": "lb-ft", "°": "deg", "%": "%"}
    assert {text: BOOK.find_unit(text) for text in written} == written
    assert BOOK.find_unit("furlong") is None


def test_no_title_in_the_list_of_sources_speaks_of_risk_or_foretells():
    """Staff read the list in the pack; a shortened title is found by its journal all the same."""
    chance = re.compile(r"\brisk|predict|likelihood|prone", re.IGNORECASE)
    assert [code for code, text in BOOK.sources.items() if chance.search(text)] == []


def test_sources_say_what_was_read_and_none_is_cited_in_vain():
    raw = tomllib.loads((SCHEMAS / "sources.toml").read_text())
    tests = {f"S{n}" for n in range(1, 95)} | {"S20b", "S20c"}
    training = {f"P{n}" for n in (*range(1, 4), *range(5, 21), *range(23, 38), 39, 40)}
    assert tests | training == set(raw)
    assert all(entry["citation"] and entry["read"] for entry in raw.values())
    assert BOOK.sources["S27"].startswith("Petersen P")
    assert BOOK.sources["S27"].endswith("[abstract; n=310]")


def test_header_key_drops_case_spaces_and_punctuation():
    assert header_key(" Athlete_ID ") == header_key("athlete id") == "athleteid"
    assert header_key("Left (1)") == "left1"
