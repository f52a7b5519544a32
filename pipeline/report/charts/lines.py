"""Tables whose rows stand beside the marks of one picture: how high each row is.

A row is as high as its longest text may need, counted in letters and rather too high than too low;
the picture is drawn to the same heights.
"""

import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import accumulate, pairwise
from math import ceil

MOST_HEIGHT = 720.0  # of a picture, in pixels: beside its heading it leaves room on a page


def line_count(text: str, letters: int) -> int:
    """How many lines a text takes at most where `letters` small letters fit into one."""
    wide = "".join(letter * (2 if _is_wide(letter) else 1) for letter in text)
    return max(1, len(textwrap.wrap(wide, letters)))


def _is_wide(letter: str) -> bool:
    """Whether a letter is about as wide as it is high, as capitals and Chinese letters are."""
    return letter.isupper() or unicodedata.east_asian_width(letter) in "WF"


def row_heights(
    rows: Iterable[Sequence[tuple[str, int]]], least: float, line: float
) -> list[float]:
    """Height of each row, from its texts and how many letters fit into a line of each."""
    return [
        max(least, line * max(line_count(*cell) for cell in cells) + 1.0) for cells in rows
    ]  # fmt: skip


def parts(heights: Sequence[float]) -> list[tuple[int, int]]:
    """First row of each part and the first after it, alike long, so that each fits on a page."""
    count = ceil(sum(heights) / MOST_HEIGHT) or 1
    ends = [0]
    for number in range(1, count + 1):
        wanted = sum(heights) * number / count
        ends.append(sum(end <= wanted + 0.01 for end in accumulate(heights)))
    return list(pairwise(ends))


def middles(heights: Sequence[float]) -> list[float]:
    """Where the middle of each row is, from the top of the first."""
    return [round(end - height / 2, 2) for end, height in
            zip(accumulate(heights), heights, strict=True)]  # fmt: skip
