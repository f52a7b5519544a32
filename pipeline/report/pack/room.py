"""How many pages a pack may have, and how much of it fits into them.

A pack is planned by counted letters, rather too high than too low, so that the cards for which
there is no room are known before anything is printed: they stand in the reference. What no
counting foresees is left out while printing (`SquadPack.smaller`).
"""

from collections.abc import Sequence
from math import ceil

from pipeline.report.charts.lined import PACK
from pipeline.report.charts.lines import line_count, row_height
from pipeline.report.pack.pages import Glance, SinceLine, TodayLine

PAGE = {"a4": 258.0, "letter": 240.0}  # mm between the margins of print.css
LINE, PADDING = 3.9, 5.0  # mm, of a row of a table
PIXEL = 25.4 / 96
TITLE, HEADING, TABLE_HEAD = 26.0, 15.0, 7.0
SPARE = 16.0  # of each page: a row that does not fit begins the next one
A_PAGE = 2  # cards
TO_A_DOZEN, TO_TWO, TO_FORTY = (12, 5), (24, 8), (40, 10)


def most_pages(athletes: int) -> int:
    """The most pages of a squad's pack: 5 for a dozen, 8 for two, 10 for forty, one more for each
    further twenty; in between the whole pages of the straight line."""
    for (few, low), (many, high) in ((TO_A_DOZEN, TO_TWO), (TO_TWO, TO_FORTY)):
        if athletes <= few:
            return low
        if athletes < many:
            return low + (high - low) * (athletes - few) // (many - few)
    return TO_FORTY[1] + max(0, athletes - TO_FORTY[0]) // 20


def room_for_cards(front: float, back: float, most: int, page_size: str) -> int:
    """How many cards fit where the pages before and behind them are so many mm long."""
    free = most - pages_of(front, page_size) - pages_of(back, page_size)
    return max(0, A_PAGE * free)


def pages_of(height: float, page_size: str) -> int:
    """Pages that hold so many mm."""
    return ceil(height / (PAGE.get(page_size.lower(), PAGE["letter"]) - SPARE))


def text_height(texts: Sequence[str], letters: int) -> float:
    """Lines of text of so many letters each, in mm."""
    return sum(LINE * line_count(text, letters) + 1.0 for text in texts)


def today_height(line: TodayLine) -> float:
    """A line of the list."""
    lines = max(
        line_count(line.name, 19) + line_count(line.role, 22),
        line_count(line.standing, 21) + line_count(line.since, 25),
        line_count(line.what, 36) + (line_count(line.also, 41) if line.also else 0),
        line_count(line.suggestion, 32) + 2,
    )
    return LINE * lines + PADDING


def since_height(line: SinceLine) -> float:
    """A decision and what came of it."""
    lines = max(
        line_count(line.decided, 34) + line_count(line.when, 38),
        line_count(line.done, 16),
        line_count(line.sides, 24),
        line_count(line.helped, 40),
    )
    return LINE * lines + 2.4


def lined_height(rows: Sequence[tuple[str, str]]) -> float:
    """Labels and sentences beside a chart of lines."""
    return sum(
        PIXEL
        * row_height(
            (line_count(label, PACK.label), line_count(said, PACK.sentence)), PACK.row, PACK.line
        )
        for label, said in rows
    )


def glance_height(glance: Glance) -> float:
    """The grid of marks."""
    rows = sum(LINE * line_count(name, 26) + 1.7 for name, _ in glance.rows)
    return (HEADING + 16.0 + rows if glance.rows else 0.0) + text_height([glance.others], 110)
