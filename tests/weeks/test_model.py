"""The weeks know their truth: the naive reading of each row is what it was made to say."""

from pathlib import Path

import pytest

from tests.weeks.conservation import is_alike
from tests.weeks.decks import Odd
from tests.weeks.exports import Said, write_exports
from tests.weeks.model import week
from tests.weeks.naive import read_folder

SEEDS = 200


def plain(one: Said) -> tuple[object, ...]:
    """What a trial or set says, cell by cell."""
    pain = None if one.pain is Odd.UNREAD else one.pain
    return one.athlete, one.day, one.what, one.side, one.number, *one.values, pain, one.note


@pytest.mark.parametrize("start", range(0, SEEDS, 20))
def test_the_naive_reading_of_a_row_is_what_it_was_made_to_say(start: int, tmp_path: Path) -> None:
    for seed in range(start, start + 20):
        made = week(seed)
        folder = write_exports(tmp_path / str(seed), made.exports)
        read = read_folder(folder)
        for name, truths in made.truths.items():
            for row, truth in zip(read.rows[name], truths, strict=True):
                read_as, meant = row.truth, truth
                assert read_as.verdict == meant.verdict, (seed, name, row.line)
                pairs = zip(read_as.said, meant.said, strict=True)
                assert all(is_alike(plain(a), plain(b)) for a, b in pairs), (seed, name, row.line)
