"""The scan of the pages finds what it is for, and leaves plain sentences alone."""

import pytest

from tests.end_to_end.wording import FRIGHTENING, OVERCLAIMING, SEAMS, complaints

SHOWN = {
    "nothing filled in": ["is nan cm", "None of it", "by {amount}", "<b>Bo</b>"],
    "minus zero": ["by -0 %", "is −0.0 cm"],
    "plural after one": ["1 tests", "1\u00a0exercises"],
    "singular after many": ["2 test done", "12\u00a0athlete"],
    "decimals of a percentage": ["by 3.2 %", "by 3.2\u00a0%"],
    "decimals of an angle": ["by 3.1°"],
    "decimals of a length": ["by 3.12 cm", "by 3.12\u00a0kg"],
    "decimals of anything": ["ratio 0.623"],
    "a line can break before the sign": ["by 3 %"],
    "two spaces": ["left  lower"],
    "space before a mark": ["left , right", "end ."],
    "two full stops": ["The end.. Next"],
    "no space after a sentence": ["The end.Next"],
    "lower case after a full stop": ["The end. next"],
    "a before a vowel": ["a increase"],
    "an before a consonant": ["an decrease"],
    "the same word twice": ["in the the test"],
    "a date as machines write it": ["on 2026-11-20"],
}


@pytest.mark.parametrize("seam", SEAMS)
def test_a_seam_is_seen(seam: str) -> None:
    for text in SHOWN[seam]:
        assert [found for found in complaints(text) if found.startswith(f"{seam}: ")]


@pytest.mark.parametrize("word", ["Imbalance", "injury risk", "this predicts", "Guaranteed"])
def test_a_word_is_seen_in_any_case(word: str) -> None:
    assert len(list(complaints(f"Here: {word}."))) >= 1
    assert len(FRIGHTENING) + len(OVERCLAIMING) == len({*FRIGHTENING, *OVERCLAIMING})


@pytest.mark.parametrize(
    "text",
    [
        "Single hop: left lower by 18\u00a0% (15 to 20). Very sure, about 97 in 100.",
        "1 test day, 2 test days, 21 sessions, 1 of 2 tests",
        "A one-sided test, a unit, an hour, a usual lead of 0.5 cm, a European squad",
        "Mei-Lin Q. even, as far as we can tell; ratio 0.42 (0.37 to 0.48), −0.5 kg",
        "3 sets × 8; e.g. this; 505 change-of-direction deficit (505 minus 10 m)",
    ],
)
def test_a_plain_sentence_is_left_alone(text: str) -> None:
    assert list(complaints(text)) == []


def test_what_others_wrote_is_not_ours_to_mend() -> None:
    assert list(complaints("Noted: {{x}} 1 tests"))
    assert list(complaints("Noted: {{ x}} 1 tests", ["{{x}} 1 tests"])) == []
