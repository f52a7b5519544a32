"""The weeks know their truth: the naive reading of each row is what it was made to say."""

from pathlib import Path

import pytest

from tests.weeks.decks import Odd
from tests.weeks.exports import Said, Truth, write_exports
from tests.weeks.model import week
from tests.weeks.naive import read_folder

SEEDS = 200


def comparable(truth: Truth) -> tuple[object, ...]:
    """A truth whose figures are equal where they differ in the last digits alone."""
    return truth.verdict, tuple(map(plain, truth.said))


def plain(one: Said) -> tuple[object, ...]:
    """What a trial or set says, with figures as they are told apart."""
    values = tuple(None if v is None else float(f"{v:.7g}") for v in one.values)
    pain = None if one.pain is Odd.UNREAD else one.pain
    return one.athlete, one.day, one.what, one.side, one.number, values, pain, one.note


@pytest.mark.parametrize("start", range(0, SEEDS, 20))
def test_the_naive_reading_of_a_row_is_what_it_was_made_to_say(start: int, tmp_path: Path) -> None:
    for seed in range(start, start + 20):
        made = week(seed)
        folder = write_exports(tmp_path / str(seed), made.exports)
        read = read_folder(folder)
        for name, truths in made.truths.items():
            for row, truth in zip(read.rows[name], truths, strict=True):
                assert comparable(row.truth) == comparable(truth), (seed, name, row.line)
