"""Each side's own values along time, and beside them what each side did week by week.

Both plots of a card stand in one picture; the words at them are HTML.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from pipeline.report.charts import drawing, places
from pipeline.report.charts.places import BAR
from pipeline.report.charts.rows import Levels

# Pixels of CSS, as print.css has them: the plot of values, and the bars of the weeks.
LEFT, WIDTH, TOP, HEIGHT = 44.0, 176.0, 8.0, 60.0
BARS_LEFT, WEEK = 330.0, 36.0
SIZE = (480.0, 78.0)
APART = 13.0  # between the words at the ends of both lines


@dataclass(frozen=True)
class Drawn:
    """The picture of a card and where the words stand."""

    svg: str
    levels: Levels
    ends: tuple[tuple[float, str, bool], ...]  # top, words, whether they are the left side's
    weeks: tuple[tuple[float, str], ...]


def levels_drawn(levels: Levels) -> Drawn:
    """The levels drawn."""
    values = [value for _, value in (*levels.left, *levels.right)]
    days = [day.toordinal() for day, _ in (*levels.left, *levels.right)]
    low, high = min(values), max(values)
    if levels.earlier is not None:
        low, high = min(low, *levels.earlier), max(high, *levels.earlier)

    def x(day: date) -> float:
        span = max(days) - min(days)
        share = (day.toordinal() - min(days)) / span if span else 0.5
        return round(LEFT + 4 + share * (WIDTH - 8), 2)

    def y(value: float) -> float:
        share = (high - value) / (high - low) if high > low else 0.5
        return round(TOP + share * HEIGHT, 2)

    left, right = (
        [(x(day), y(value)) for day, value in own] for own in (levels.left, levels.right)
    )
    bars, boxes = _weeks(levels.weeks)
    earlier = levels.earlier or ()
    svg = places.svg(
        SIZE,
        band=4.0,
        ticks=drawing.stroke_rows(
            [(LEFT, TOP, LEFT + WIDTH, TOP), (LEFT, TOP + HEIGHT, LEFT + WIDTH, TOP + HEIGHT)]
        ),
        bands=drawing.stroke_rows((LEFT, y(value), LEFT + WIDTH, y(value)) for value in earlier),
        left=places.path(left),
        right=places.path(right),
        dots=drawing.circle_rows(left),
        rings=drawing.circle_rows(right),
        bars=bars,
        boxes=boxes,
        even=drawing.stroke_rows(
            [(BARS_LEFT - 6, TOP + HEIGHT, BARS_LEFT + WEEK * len(levels.weeks), TOP + HEIGHT)]
            if levels.weeks
            else []
        ),
    )
    return Drawn(svg, levels, _ends(left[-1][1], right[-1][1], levels), tuple(
        (BARS_LEFT + WEEK * n - 6, label) for n, (label, _, _) in enumerate(levels.weeks)
    ))  # fmt: skip


def _ends(left: float, right: float, levels: Levels) -> tuple[tuple[float, str, bool], ...]:
    """Words at the ends of both lines, from the top down, never on each other."""
    first, last = sorted([(left, levels.said[0], True), (right, levels.said[1], False)])
    middle = (first[0] + last[0]) / 2
    apart = max(APART, last[0] - first[0]) / 2
    return tuple(
        (round(middle + place - APART / 2, 1), words, is_left)
        for place, (_, words, is_left) in ((-apart, first), (apart, last))
    )


def _weeks(weeks: Sequence[tuple[str, float, float]]) -> tuple[drawing.Rows, drawing.Rows]:
    """Bars of each week: the left filled, the right an open box."""
    most = max((amount for _, *both in weeks for amount in both), default=0.0) or 1.0
    foot = TOP + HEIGHT
    filled, boxes = [], []
    for n, (_, left, right) in enumerate(weeks):
        begin = BARS_LEFT + WEEK * n
        if left:
            filled.append((begin, foot, begin + BAR, round(foot - HEIGHT * left / most, 2)))
        if right:
            top = round(foot - HEIGHT * right / most, 2)
            boxes.append((begin + BAR + 3, top, begin + 2 * BAR + 2, foot))
    # A filled bar is a stroke from its foot to its top, as wide as the stroke: half of it each way.
    upright = ((x + BAR / 2, foot, x + BAR / 2, top) for x, foot, _, top in filled)
    return drawing.stroke_rows(upright), places.boxes(boxes)
