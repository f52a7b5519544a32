"""What staff write above their columns and in their cells, as data: complete and unambiguous."""

from collections import defaultdict

import pytest

from pipeline.catalogue import catalogue, header_key

HEADERS = catalogue().headers
# Columns of the contract by kind; the required ones come first, before the bar.
CONTRACT = {
    "roster": "athlete_id name squad | sex birth_date height_cm body_mass_kg dominant_hand "
    "dominant_foot position availability known_difference known_side known_since "
    "left_limb_length_cm right_limb_length_cm measured_on",
    "side_tests_long": "athlete_id tested_on test side value | name trial unit pain note",
    "side_tests_wide": "athlete_id tested_on test | name left right involved uninvolved dominant "
    "nondominant unit pain note",
    "side_tests_columns": "athlete_id tested_on | name unit pain note",
    "training_log": "athlete_id trained_on exercise | name set_number sets side reps reps_left "
    "reps_right load load_left load_right planned_reps planned_load done unit order rir rpe tempo "
    "pain note",
    "film_review": "athlete_id filmed_on exercise side checkpoint finding | name note",
    "decisions": "flag_id decision | owner review_on note listed_on decided_on listed_decision",
}


def repeated(lists: dict[str, tuple[str, ...]]) -> dict[str, set[str]]:
    claims: dict[str, set[str]] = defaultdict(set)
    for key, spellings in lists.items():
        for spelling in spellings:
            claims[spelling].add(key)
    return {spelling: keys for spelling, keys in claims.items() if len(keys) > 1}


@pytest.mark.parametrize("kind", CONTRACT)
def test_the_columns_of_a_kind_are_those_of_the_contract(kind: str):
    required, optional = (half.split() for half in CONTRACT[kind].split("|"))
    known = HEADERS.kinds[kind]
    assert known.name == kind and known.title
    assert set(known.required) == set(required)
    assert set(known.columns) == {*required, *optional}
    assert set(HEADERS.kinds) == set(CONTRACT)


@pytest.mark.parametrize("kind", CONTRACT)
def test_no_header_belongs_to_two_columns_of_a_kind(kind: str):
    columns = HEADERS.kinds[kind].columns
    assert repeated(columns) == {}
    for column, spellings in columns.items():
        assert spellings[0] == header_key(column)
        assert all(spelling == header_key(spelling) for spelling in spellings), column
        assert len(set(spellings)) == len(spellings), column


@pytest.mark.parametrize(
    ("kind", "header", "column"),
    [
        ("roster", "Player ID", "athlete_id"),
        ("roster", "DOB", "birth_date"),
        ("roster", "Body weight (kg)", "body_mass_kg"),
        ("side_tests_long", "Test date", "tested_on"),
        ("side_tests_long", "Limb", "side"),
        ("side_tests_wide", "LEFT", "left"),
        ("side_tests_wide", "R", "right"),
        ("side_tests_wide", "Non-dominant", "nondominant"),
        ("training_log", "Weight", "load"),
        ("training_log", "Set #", "set_number"),
        ("film_review", "Coaching point", "checkpoint"),
        ("decisions", "Flag ID", "flag_id"),
    ],
)
def test_usual_headers_are_known(kind: str, header: str, column: str):
    assert header_key(header) in HEADERS.kinds[kind].columns[column]


def test_a_column_that_counts_sets_does_not_number_them():
    assert "sets" not in HEADERS.kinds["training_log"].columns["set_number"]


def test_side_columns_of_wide_tests_may_carry_a_trial_number():
    wide = HEADERS.kinds["side_tests_wide"]
    assert wide.numbered == (
        "left", "right", "involved", "uninvolved", "dominant", "nondominant",
    )  # fmt: skip
    assert {"trial", "attempt"} <= set(wide.trial_words)
    assert not any(spelling[-1].isdigit() for c in wide.numbered for spelling in wide.columns[c])


def test_no_word_for_a_side_means_two_sides():
    assert repeated(HEADERS.sides) == {}
    assert {"left", "l", "lt"} <= set(HEADERS.sides["left"])
    assert {"right", "r", "rt"} <= set(HEADERS.sides["right"])
    assert {header_key("e/s"), header_key("per side"), "ea"} <= set(HEADERS.sides["each"])
    assert set(HEADERS.sides) == {
        "left", "right", "both", "each", "alternating", "total", "involved", "uninvolved",
        "dominant", "nondominant",
    }  # fmt: skip


@pytest.mark.parametrize("column", ["sex", "dominance", "availability", "finding"])
def test_no_word_in_a_cell_means_two_things(column: str):
    words = HEADERS.words[column]
    assert repeated(words) == {}
    for meaning, spellings in words.items():
        assert meaning in spellings
        assert all(spelling == header_key(spelling) for spelling in spellings)


def test_codes_for_untested_are_words_or_numbers_that_cannot_be_real():
    assert {"", "-", "n/a", "na", "nan", "none", "null"} <= set(HEADERS.missing)
    assert {"0", "-1", "99", "999"} <= set(HEADERS.missing_if_impossible)
    # A number inside the limits of a measure is a value: 99 side hops are possible.
    assert not set(HEADERS.missing) & set(HEADERS.missing_if_impossible)
    assert not any(code.strip("-.").isdigit() for code in HEADERS.missing)
    assert all(float(code) or code == "0" for code in HEADERS.missing_if_impossible)
    assert all(code == code.strip().casefold() for code in HEADERS.missing)


def test_rows_that_sum_up_are_known_by_their_first_word():
    assert {"total", "mean", "average", "sd", "squadaverage"} <= set(HEADERS.summary_rows)
    assert all(word == header_key(word) for word in HEADERS.summary_rows)


def test_word_forms_are_written_as_names_are_compared():
    for form, word in HEADERS.word_forms.items():
        assert form == form.casefold() and word == word.casefold()
        assert form not in HEADERS.filler_words
        assert catalogue().plain(form) == catalogue().plain(word)
