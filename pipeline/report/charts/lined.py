"""Rows of words beside the rows of one picture: what every chart of lines has in common."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from pipeline.report.charts.lines import MOST_HEIGHT, line_count, parts, row_height

PLOT_WIDTH = 280.0  # pixels of CSS, as print.css has them


class Row(Protocol):
    """What stands beside the marks of a row: its name, and what they say in words."""

    @property
    def label(self) -> str:
        """Left of the marks."""

    @property
    def sentence(self) -> str:
        """Right of the marks."""

    @property
    def is_flagged(self) -> bool:
        """Whether the words are set bold."""


R = TypeVar("R", bound=Row)


@dataclass(frozen=True)
class Spacing:
    """How high a row is at least, a line of its texts, and how many small letters fit into one."""

    row: float
    line: float
    label: int
    sentence: int
    most: float = MOST_HEIGHT  # of a picture


REPORT, PACK = Spacing(25.0, 12.8, 25, 33), Spacing(15.6, 12.2, 26, 35)
REFERENCE = replace(PACK, most=480.0)  # so that a large squad's lines begin where there is room


@dataclass(frozen=True)
class Beside:
    """What is said beside the marks of a row, in pixels of CSS."""

    row: Row
    height: float
    is_high: bool  # higher than a row of one line


@dataclass(frozen=True)
class Picture:
    """The marks of some rows, what stands at their axis, and what they show."""

    svg: str
    ticks: tuple[tuple[float, str], ...]  # pixels from the left, and what stands there
    described: str  # for whoever cannot see it
    left: str  # what the left end means, and the right one
    middle: str
    right: str


@dataclass(frozen=True)
class Block:
    """Rows of one picture and the words beside it."""

    svg: str
    height: float
    rows: tuple[Beside, ...]
    ticks: tuple[tuple[float, str], ...]
    described: str
    left: str
    middle: str
    right: str


def in_blocks(
    rows: Sequence[R], spacing: Spacing, draw: Callable[[Sequence[R], Sequence[float]], Picture]
) -> list[Block]:
    """Rows as blocks, none higher than fits on a page; `draw` is given rows and their heights."""
    beside = [_beside(row, spacing) for row in rows]
    made = []
    for start, end in parts([one.height for one in beside], spacing.most):
        own = tuple(beside[start:end])
        heights = [one.height for one in own]
        drawn = draw(rows[start:end], heights)
        made.append(
            Block(
                svg=drawn.svg,
                height=round(sum(heights), 2),
                rows=own,
                ticks=drawn.ticks,
                described=drawn.described,
                left=drawn.left,
                middle=drawn.middle,
                right=drawn.right,
            )
        )
    return made


def _beside(row: Row, spacing: Spacing) -> Beside:
    lines = (line_count(row.label, spacing.label), line_count(row.sentence, spacing.sentence))
    height = row_height(lines, spacing.row, spacing.line)
    return Beside(row, height, height > spacing.row)
