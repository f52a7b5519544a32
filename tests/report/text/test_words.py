"""Sentences as people read them."""

from datetime import date

import pytest

from pipeline.catalogue import full_catalogue
from pipeline.report.sections import balance
from pipeline.report.text import words
from pipeline.report.text.phrases import say
from pipeline.review.differences.sureness import how_sure
from pipeline.settings import ReviewSettings
from schemas.vocabulary import Sureness

AS_OF = date(2026, 11, 20)


def plain(text: str) -> str:
    return text.replace(words.NBSP, " ")


@pytest.mark.parametrize(
    ("chance", "word", "frequency"),
    [
        (0.999, "very sure", "more than 99 in 100"),
        (0.97, "very sure", "about 97 in 100"),
        (0.946, "fairly sure", "about 94 in 100"),  # never 95, where "very sure" begins
        (0.93, "fairly sure", "about 93 in 100"),
        (0.84, "fairly sure", "about 8 in 10"),
        (0.55, "not settled", "about 6 in 10"),
        (0.30, "not shown", "about 3 in 10"),
        (0.03, "not shown", "about 3 in 100"),
        (0.001, "not shown", "fewer than 1 in 100"),
    ],
)
def test_a_chance_is_a_word_and_a_frequency(chance: float, word: str, frequency: str) -> None:
    [sure] = how_sure([chance], [False], ReviewSettings())
    assert words.sure_word(sure) == word
    assert plain(words.in_hundred(chance)) == frequency


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (13.4, "%", "13 %"),
        (3.14, "cm", "3.1 cm"),
        (4.2, "deg", "4°"),
        (0.436, "ratio", "0.44"),
        (0.051, "s", "0.05 s"),
        (-0.2, "%", "0 %"),
        (-2.5, "cm", "−2.5 cm"),
    ],
)
def test_numbers_carry_no_more_decimals_than_the_tests(value: float, unit: str, text: str) -> None:
    assert plain(words.amount(value, unit)) == text


def test_an_interval_is_told_from_the_lower_side() -> None:
    text = words.difference("Single hop", "left", "lower", 13.2, 9.1, 17.4, "%")
    assert plain(text) == "Single hop: left lower by 13 % (9 to 17)."
    text = words.difference("Knee to wall", "right", "less", -3.1, -4.0, -2.2, "cm")
    assert plain(text) == "Knee to wall: right less by 3.1 cm (2.2 to 4.0)."


def test_an_interval_over_zero_says_so() -> None:
    text = words.difference("Grip", "left", "lower", 4.0, -2.0, 10.0, "%")
    assert plain(text) == "Grip: left lower by 4 % (from 2 % the other way to 10 %)."


def test_even_sides_are_not_called_symmetric() -> None:
    text = words.difference("Grip", "even", "lower", 0.4, -3.0, 4.0, "%")
    assert text == "Grip: sides even, as far as this test can tell."


def test_noise_among_the_flags_is_the_sum_of_what_is_not_sure() -> None:
    assert words.of_which_noise(0.31) == "of which probably none is noise"
    assert words.of_which_noise(1.0) == "of which about 1 is expected to be noise"
    assert words.of_which_noise(2.5) == "of which about 2 are expected to be noise"


def test_counts_agree_with_their_nouns() -> None:
    assert say("count.week", count=1) == "1 week"
    assert say("count.file", count=0) == "no files"
    assert say("count.athlete", count=3) == "3 athletes"


def test_a_new_flag_and_an_old_one() -> None:
    assert plain(words.since(date(2026, 11, 20), 0, AS_OF)) == "new, 20 Nov"
    assert plain(words.since(date(2026, 9, 6), 11, AS_OF)) == "since 6 Sep, 11 weeks"
    assert plain(words.since(date(2023, 11, 24), 156, AS_OF)) == "since 24 Nov 2023, 3 years"


def test_a_level_that_rounds_to_nothing_has_no_sign() -> None:
    assert [words.level(value, "deg", 5) for value in (-0.3, -3.4, 0.2)] == ["0", "−3", "0"]


@pytest.mark.parametrize(
    ("sure", "said"),
    [
        (
            Sureness.NOT_SETTLED,
            "Single hop: side not settled, from left lower by 39 % to right lower by 22 %.",
        ),
        (Sureness.NOT_SHOWN, "Single hop: sides even, as far as this test can tell."),
    ],
)
def test_what_no_test_day_settles_is_said_to_be_open(sure: Sureness, said: str) -> None:
    row = {
        "lower_side": "even", "sureness": sure, "estimate": 0.4, "low90": -22.0,
        "high90": 39.0, "unit": "%",
    }  # fmt: skip
    assert plain(balance.sentence(row, full_catalogue().measures["single_hop"])) == said
