"""Practice rules name their source; words in notes ask for medical staff, and denials do not."""

import math
import re
from typing import Any

import pytest

from pipeline.catalogue import catalogue
from pipeline.catalogue.figures import plan_figures
from pipeline.errors import SquadsidesError
from pipeline.settings import Settings
from pipeline.team_tables import filled

RULES = catalogue().rules
SOURCES = catalogue().sources
PLAN = plan_figures(RULES)
EVIDENCE = {"trials", "inference", "common practice", "design choice"}
UNPUBLISHED = ("common practice", "from memory", "own derivation")
CITED = re.compile(r"^(S\d+[a-z]?\b|[A-Z][A-Za-z-]+ \d{4}, .+\d)")


def test_every_rule_of_the_block_says_how_well_it_stands():
    for rule in RULES.plan.values():
        assert rule.text.endswith(".")
        assert rule.evidence in EVIDENCE
        assert rule.source.startswith(UNPUBLISHED) or CITED.match(rule.source), rule.source
        # Trials are cited; what is only common practice does not borrow a citation.
        assert (rule.evidence in ("trials", "inference")) >= bool(CITED.match(rule.source))


def test_every_source_of_the_rules_is_in_the_list():
    texts = [
        *(rule.source for rule in RULES.plan.values()),
        *(structure.source for structure in RULES.structures.values()),
        *(sign.source for sign in RULES.signs.values()),
    ]
    assert all(texts)
    assert {number for text in texts for number in re.findall(r"\bS\d+[a-z]?\b", text)} <= set(
        SOURCES
    )


def test_doses_start_small_and_have_a_ceiling():
    extra = RULES.plan["extra_work"].values
    assert extra == {"reps": (1, 5)}
    assert RULES.plan["weekly_increase"].values == {"max_share": 0.10, "least_reps": 4}
    assert RULES.plan["stop"].values == {
        "chance_below": 0.5, "days": 2, "weeks_without_change": (8, 12),
    }  # fmt: skip
    low, high = RULES.plan["length"].values["range_weeks"]
    assert low <= RULES.plan["length"].values["weeks"] <= high
    assert RULES.plan["added_work"].values == {"sets": 3}


def test_pain_is_noted_at_3_and_referred_at_4():
    assert (RULES.pain_note, RULES.pain_refer, RULES.pain_under_age) == (3, 4, 18)
    assert (RULES.pain_urgency, RULES.loss_urgency) == ("two days", "two days")
    assert Settings().estimate.loss_share == 0.20


@pytest.mark.parametrize(
    ("note", "sign", "urgency"),
    [
        ("Fainted after the third set", "chest_or_collapse", "emergency"),
        ("chest pain on the bike", "chest_or_collapse", "emergency"),
        ("Felt a pop, couldn’t continue", "joint_or_bone", "same day"),
        ("knee gave way on landing", "joint_or_bone", "same day"),
        ("can’t bear weight", "joint_or_bone", "same day"),
        ("right calf swollen since Friday", "calf_swelling", "same day"),
        ("swollen ankle", "swelling_or_fever", "two days"),
        ("swollen calf", "calf_swelling", "same day"),
        ("Knock to the head in the match", "head_knock", "same day"),
        ("tingling in both hands", "nerve", "two days"),
        ("pins  and\nneedles", "nerve", "two days"),
        ("slight pain at night", "night_or_general", "this week"),
        ("sharp pain, stopped", "sharp_pain", "two days"),
        # The most urgent of two signs counts.
        ("swollen, and felt a pop yesterday", "joint_or_bone", "same day"),
        # What was denied does not excuse what follows.
        ("no change, felt a pop", "joint_or_bone", "same day"),
        ("not tired but fainted after", "chest_or_collapse", "emergency"),
        ("No pain. Numb toes", "nerve", "two days"),
    ],
)
def test_words_that_ask_for_medical_staff(note: str, sign: str, urgency: str):
    found = RULES.sign(note)
    assert found is not None
    assert (found.id, found.urgency) == (sign, urgency)


@pytest.mark.parametrize(
    "note",
    [
        "",
        "felt strong today",
        "no swelling",
        "No chest pain",
        "no pain, swelling or numbness",
        "without any tingling",
        "hasn't had tingling since May",
        "knee collapses inward a little",  # technique, not an event
        "locked out at the top",
        "foot slipped, repeated",
        "hamstring tight, slept badly",
        "numbers look good",
    ],
)
def test_notes_that_do_not(note: str):
    assert RULES.sign(note) is None


def test_every_phrase_of_a_sign_is_found_as_written():
    for sign in RULES.signs.values():
        assert sign.urgency in ("emergency", "same day", "two days", "this week")
        for phrase in sign.words:
            assert phrase == phrase.casefold()
            assert RULES.sign(f"today {phrase.replace('*', 's')} again") is not None, phrase


def test_a_known_difference_is_kept_or_left_to_a_clinician():
    told = {
        "Leg-length difference, left 1.2 cm shorter": ("leg_length", "keep"),
        "Scoliosis": ("spine_curve", "keep"),
        "ACL reconstruction, left, 2024": ("knee_surgery", "clinician"),
        "old hamstring strain": ("past_injury", "clinician"),
    }
    for text, expected in told.items():
        structure = RULES.structure(text)
        assert structure is not None
        assert (structure.id, structure.handling) == expected
    assert RULES.structure("likes cameras") is None


def test_what_the_rules_say_frightens_nobody():
    texts = [
        *(rule.text for rule in RULES.plan.values()),
        *(structure.text for structure in RULES.structures.values()),
    ]
    frightening = r"imbalanc|dysfunction|weak|abnormal|at risk|red flag|danger|damage|misalign|risk"
    assert not re.search(frightening, " ".join(texts), re.IGNORECASE)


def own_figures(own: dict[str, Any]) -> dict[str, Any]:
    """A team's figures as they are read from its settings."""
    return filled(PLAN, own, "team.toml: plan").model_dump(exclude_unset=True)


@pytest.mark.parametrize(
    ("own", "message"),
    [
        ({"magic": {"sets": 1}}, "magic is not a practice rule with figures below it; nearest: "),
        ({"lenght": {"weeks": 6}}, "lenght is not a practice rule with figures below it; nearest: "
         "length, "),
        ({"length": 8}, "length should be a section of its own, found 8."),
        ({"length": {"month": 2}}, "length: month is not a figure of this rule; nearest: "),
        ({"match_then_stop": {"sets": 2}}, "match_then_stop: sets is not a "
         "figure of this rule, which has none."),
        ({"length": {"weeks": "six"}}, "length: weeks should be a whole number from 1 to 26, found "
         "'six'."),
        ({"length": {"weeks": 6.5}}, "weeks should be a whole number from 1 to 26, found 6.5."),
        ({"length": {"range_weeks": [6]}}, "should be a pair like [6, 12], found [6]."),
        ({"length": {"range_weeks": [12, 6]}}, "range_weeks should go from low to high, found "),
        ({"stop": {"weeks_without_change": []}}, "should be a pair like [8, 12], found"),
        ({"stop": {"weeks_without_change": [0, 8]}}, "should be a whole number from 1 "
         "to 52, found 0."),
        ({"dose": {"isolation": {"sets": 4}}}, "dose: isolation should be like {"),
        ({"dose": {"isolation": {"sets": 0, "reps": 8}}}, "isolation: sets should be a "
         "whole number from 1 to 10, found 0."),
        ({"logged_loads": {"dumbbells": "both"}}, 'dumbbells should be one of "per hand", "pair", '
         "found 'both'."),
    ],
)  # fmt: skip
def test_a_teams_own_figures_are_checked_in_plain_words(own: dict[str, Any], message: str):
    with pytest.raises(SquadsidesError) as raised:
        own_figures(own)
    assert str(raised.value).startswith("team.toml: plan: ")
    assert message in str(raised.value)


def numbers() -> list[tuple[str, str]]:
    """Rule and name of every figure that is a number or a pair of numbers."""
    return [
        (rule.id, name)
        for rule in RULES.plan.values()
        for name, value in rule.values.items()
        if isinstance(value[0] if isinstance(value, tuple) else value, int | float)
    ]


@pytest.mark.parametrize("end", ["least", "most"])
@pytest.mark.parametrize(("rule", "name"), numbers())
def test_a_figure_may_go_to_its_limits_and_no_further(rule: str, name: str, end: str):
    standard, limits = RULES.plan[rule].values[name], RULES.plan[rule].limits[name]
    is_pair = isinstance(standard, tuple)
    is_real = isinstance(standard[0] if is_pair else standard, float)
    edge = getattr(limits, end) if is_real else int(getattr(limits, end))
    way = -1 if end == "least" else 1
    beyond = math.nextafter(edge, way * math.inf) if is_real else edge + way
    own_figures({rule: {name: [edge, edge] if is_pair else edge}})
    with pytest.raises(SquadsidesError, match=f"{name} should be a .*{edge:g}") as wrong:
        own_figures({rule: {name: [beyond, beyond] if is_pair else beyond}})
    assert str(wrong.value).endswith(f"found {beyond!r}.")


def test_limits_hold_their_own_figures_and_nothing_else():
    whole = {rule.id: rule.values for rule in RULES.plan.values()}
    assert own_figures(whole) == whole
    for rule in RULES.plan.values():
        tables = [value for value in rule.values.values() if isinstance(value, dict)]
        named = {name for name in rule.values if (rule.id, name) in numbers()}
        assert rule.limits.keys() == named.union(*tables), rule.id
        assert all(limits.least <= limits.most for limits in rule.limits.values())


def test_a_team_may_set_some_figures_only():
    own = {
        "extra_work": {"reps": [1, 3]},
        "weekly_increase": {"max_share": 0.05},
        "new_exercise": {"reps_in_reserve": 4},
        "logged_loads": {"dumbbells": "pair"},
    }
    assert own_figures(own) == {**own, "extra_work": {"reps": (1, 3)}}
