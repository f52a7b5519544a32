"""What our workbooks share: the same bytes on any day, text that stays text, lists of choices."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from schemas.columns import named
from schemas.contracts.own_sheets import NOT_READ

if TYPE_CHECKING:
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

DAY = "yyyy-mm-dd"
DAYS = frozenset(named("day"))
LISTS = "lists"
MORE_ROWS = 200  # below those that are filled, in which the lists and explanations hold as well
OPEN, CLOSED = "#f4f6f7", "#d5d9db"  # cells to write into, and cells in which nothing is written


@dataclass(frozen=True)
class Col:
    """One column of a sheet: its header, its width, what is told of it, what may be chosen."""

    title: str
    width: float
    told: str = ""
    choices: tuple[str, ...] = ()
    is_open: bool = False  # whether something is to be written there


@contextmanager
def workbook(path: Path, made_on: date, title: str) -> Iterator["Workbook"]:
    """A workbook to fill, written in one piece: no part of it ever lies in another folder."""
    import xlsxwriter

    written = BytesIO()
    book = xlsxwriter.Workbook(
        written, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    # A fixed date: the same week gives the same bytes on any day.
    made = datetime(made_on.year, made_on.month, made_on.day)
    book.set_properties({"created": made, "title": title})
    yield book
    book.close()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(written.getvalue())


def fill(
    book: "Workbook",
    name: str,
    columns: Sequence[Col],
    rows: Sequence[Mapping[str, Any]],
    closed: Iterable[tuple[int, str]] = (),
) -> "Worksheet":
    """A sheet with its head, its rows and what may be chosen, ready to be printed.

    `closed` names cells, by row and column, in which nothing is to be written.
    """
    sheet = book.add_worksheet(name)
    line = {"valign": "top", "bottom": 4, "bottom_color": "#bbbbbb"}
    head = book.add_format({"bold": True, "bottom": 1, "valign": "vcenter"})
    shut = book.add_format({**line, "bg_color": CLOSED})
    is_shut = set(closed)
    for place, one in enumerate(columns):
        look = {**line, "bg_color": OPEN} if one.is_open else line
        is_day = one.title in DAYS
        cell = book.add_format({**look, "num_format": DAY} if is_day else look)
        sheet.set_column(place, place, one.width)
        sheet.write_string(0, place, one.title, head)
        for number, row in enumerate(rows, start=1):
            _write(sheet, number, place, row.get(one.title), cell)
            if (number - 1, one.title) in is_shut:
                sheet.write_blank(number, place, None, shut)
    sheet.freeze_panes(1, 2)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    return sheet


def _write(sheet: "Worksheet", line: int, place: int, value: Any, cell: Any) -> None:
    if isinstance(value, date):
        sheet.write_datetime(line, place, datetime(value.year, value.month, value.day), cell)
    elif isinstance(value, int | float):
        sheet.write_number(line, place, value, cell)
    elif value:
        sheet.write_string(line, place, str(value), cell)
    else:
        sheet.write_blank(line, place, None, cell)


def offer(
    book: "Workbook", sheets: Mapping["Worksheet", tuple[Sequence[Col], int]], title: str
) -> None:
    """Lists to choose from, and what each column means, in these sheets with so many rows.

    Whatever else is typed is taken as it stands: the intake says what it could not read. The words
    stand on a sheet of their own, whose first cell says that nothing there is data.
    """
    lists = book.add_worksheet(LISTS)
    lists.write_string(0, 0, f"{NOT_READ} {title}")
    width = 0
    for sheet, (columns, count) in sheets.items():
        for place, one in enumerate(columns):
            if not (one.told or one.choices):
                continue
            asked: dict[str, Any] = {"validate": "any", "input_message": one.told[:255]}
            if one.choices:
                lists.write_string(2, width, one.title)
                lists.set_column(width, width, 26)
                for line, choice in enumerate(one.choices, start=3):
                    lists.write_string(line, width, choice)
                source = [3, width, 2 + len(one.choices), width]
                asked |= {"validate": "list", "source": _reference(*source)}
                asked |= {"show_error": False}
                width += 1
            asked["input_title"] = one.title[:32]
            sheet.data_validation(1, place, count + MORE_ROWS, place, asked)


def _reference(first: int, left: int, last: int, right: int) -> str:
    from xlsxwriter.utility import xl_range_abs

    return f"={LISTS}!{xl_range_abs(first, left, last, right)}"
