"""Texts whose rows stand beside the marks of one picture: how high each row is.

A row is as high as its longest text may need, counted in letters and rather too high than too low;
the picture is drawn to the same heights.
"""

import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import accumulate, pairwise
from math import ceil

GAP = 3.0  # pixels between texts of several lines
MOST_HEIGHT = 720.0  # of a picture, in pixels: beside its heading it leaves room on a page


def line_count(text: str, letters: int) -> int:
    """How many lines a text takes at most where `letters` small letters fit into one."""
    quarters = "".join(letter * _quarters(letter) for letter in text)
    return max(1, len(textwrap.wrap(quarters, 4 * letters)))


def _quarters(letter: str) -> int:
    """How wide a letter is, in quarters of an ordinary small one."""
    if letter in " ijlI.,:;'’":
        return 2
    if letter in "frt":
        return 3
    # About as wide as high, as capitals and Chinese letters are.
    return 8 if letter.isupper() or unicodedata.east_asian_width(letter) in "WF" else 4


def row_height(lines: Iterable[int], least: float, line: float) -> float:
    """Height of a row whose texts take so many lines each, a line as high as `line`."""
    return max(least, round(line * max(lines) + GAP, 2))


def parts(heights: Sequence[float], most: float = MOST_HEIGHT) -> list[tuple[int, int]]:
    """First row of each part and the first after it, alike long, so that each fits on a page."""
    count = ceil(sum(heights) / most) or 1
    ends = [0]
    for number in range(1, count + 1):
        wanted = sum(heights) * number / count
        ends.append(sum(end <= wanted + 0.01 for end in accumulate(heights)))
    return list(pairwise(ends))


def middles(heights: Sequence[float]) -> list[float]:
    """Where the middle of each row is, from the top of the first."""
    return [round(end - height / 2, 2) for end, height in
            zip(accumulate(heights), heights, strict=True)]  # fmt: skip
