"""How many pages a pack may have, and how much of it fits into them.

A pack is planned by counted letters, rather too high than too low, so that the cards for which
there is no room are known before anything is printed: they stand in the reference. What no
counting foresees is left out while printing (`SquadPack.smaller`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from pipeline.report.charts.lined import PACK
from pipeline.report.charts.lines import line_count, row_height
from pipeline.report.charts.rows import BalanceRow, SidesRow, StripRow
from pipeline.report.pack.pages import PackCard, SinceLine, SquadPack, TodayLine
from pipeline.report.text import words
from pipeline.report.text.phrases import say

PAGE = {"a4": 258.0, "letter": 240.0}  # mm between the margins of print.css, less two
LINE, PADDING = 3.9, 4.8  # mm, of a row of a table
PIXEL = 25.4 / 96
TITLE, HEADING, TABLE_HEAD, AXIS = 26.0, 12.5, 7.0, 4.5
LEVELS, CARD = 28.5, 13.2  # the picture of a card; its question and what is between
TO_A_DOZEN, TO_TWO, TO_FORTY = (12, 5), (24, 8), (40, 10)
KEPT_ROWS = 24  # a grid up to that long stays on one page


def most_pages(athletes: int) -> int:
    """The most pages of a squad's pack: 5 for a dozen, 8 for two, 10 for forty, one more for each
    further twenty; in between the whole pages of the straight line."""
    for (few, low), (many, high) in ((TO_A_DOZEN, TO_TWO), (TO_TWO, TO_FORTY)):
        if athletes <= few:
            return low
        if athletes < many:
            return low + (high - low) * (athletes - few) // (many - few)
    return TO_FORTY[1] + max(0, athletes - TO_FORTY[0]) // 20


def fitted(
    pack: SquadPack, cards: tuple[PackCard, ...], page_size: str
) -> tuple[SquadPack, tuple[PackCard, ...]]:
    """The pack with as many cards as there is room for, and those that are left."""
    back = _back(pack)
    front = [*_front(pack), HEADING + LINE] if cards else _front(pack)
    heights = [card_height(card) for card in cards]
    number = len(cards)
    while number and pages_of([*front, *heights[:number], *back], page_size) > pack.most_pages:
        number -= 1
    left = cards[number:]
    names = words.some([card.name for card in left], 12)
    told = say("cards.elsewhere", names=names) if left else ""
    return replace(pack, cards=cards[:number], cards_elsewhere=told), left


def pages_of(heights: Sequence[float], page_size: str) -> int:
    """Pages that hold parts of so many mm, of which none is broken that fits on a page."""
    page = PAGE.get(page_size.lower(), PAGE["letter"])
    pages, used = 1, 0.0
    for height in heights:
        if used and used + height > page:
            pages, used = pages + 1, 0.0
        used += height
        while used > page:
            pages, used = pages + 1, used - page
    return pages


def _front(pack: SquadPack) -> list[float]:
    """The parts up to the cards, in mm."""
    unread = [*pack.unread, *pack.doubts]
    return [
        TITLE + text_height([pack.summary], 105),
        *([HEADING] if unread else []),
        *(text_height([line], 100) for line in unread),
        HEADING + TABLE_HEAD,
        *map(today_height, pack.today),
        3 * LINE,
        HEADING + TABLE_HEAD,
        *map(since_height, pack.since),
        *(text_height([line], 105) for line in pack.notes),
    ]


def _back(pack: SquadPack) -> list[float]:
    """The parts behind the cards, in mm."""
    rows = [HEADING + 10.0, *map(_row, pack.glance.rows)]
    if len(pack.glance.rows) <= KEPT_ROWS:
        rows = [sum(rows)]
    tests = sum(LINE * line_count(people, 75) + 1.2 for _, _, people in pack.tests.rows)
    return [
        2 * LINE,
        HEADING + 2 * LINE + 2 * AXIS + lined_height(pack.strips),
        *rows,
        text_height(filter(None, [pack.glance.fell, pack.glance.others]), 105),
        HEADING + 2 * LINE + AXIS + lined_height(pack.work),
        HEADING + TABLE_HEAD + tests + 4 * LINE,
    ]


def _row(row: tuple[str, tuple[str, ...]]) -> float:
    return LINE * line_count(row[0], 26) + 1.0


def text_height(texts: Iterable[str], letters: int) -> float:
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
        line_count(line.decided, 31) + line_count(line.when, 35),
        line_count(line.done, 13),
        line_count(line.sides, 21),
        line_count(line.helped, 50),
    )
    return LINE * lines + 2.4


def card_height(card: PackCard) -> float:
    """Half a page for an athlete, rather too high than too low."""
    units = len({row.unit for row in card.linked})
    said = text_height(card.said, 33) + 5.0
    return (
        CARD
        + text_height([f"{card.name} {card.about}"], 100)
        + (max(LEVELS, said) if card.levels else said)
        + lined_height(card.linked)
        + units * AXIS
        + text_height([*card.story, *card.earlier, card.plan], 100)
    )


def lined_height(rows: Sequence[StripRow] | Sequence[SidesRow] | Sequence[BalanceRow]) -> float:
    """Labels and sentences beside a chart of lines."""
    return sum(
        PIXEL
        * row_height(
            (line_count(row.label, PACK.label), line_count(row.sentence, PACK.sentence)),
            PACK.row,
            PACK.line,
        )
        for row in rows
    )
