"""The charts: declared as Altair allows, drawn where the numbers say, and the same every time."""

import re
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from pipeline.report.charts import drawing
from pipeline.report.charts.balance import balance, balance_blocks
from pipeline.report.charts.lined import PLOT_WIDTH
from pipeline.report.charts.lines import middles
from pipeline.report.charts.places import places
from pipeline.report.charts.rows import BalanceRow, Trend, TrendPoint, as_shown
from pipeline.report.charts.trend import (
    ACROSS,
    BELOW_NAME,
    DOWN,
    HEIGHT,
    NEAR_EDGE,
    WIDTH,
    trend_panels,
    trends,
)
from pipeline.report.text.words import NBSP

KINDS = [balance, trends, places]


def row(label: str, unit: str = "%", **changes: object) -> BalanceRow:
    values: dict[str, object] = {
        "estimate": 8.0, "low": 5.0, "high": 12.0, "days": (14.0, 6.0), "lead": 0.0, "error": 3.0,
        "line": 15.0, "sentence": f"{label} said"[:33], "is_flagged": False,
    }  # fmt: skip
    return BalanceRow(label=label, unit=unit, **{**values, **changes})  # type: ignore[arg-type]


def trend(title: str, count: int, line: float | None = 15.0) -> Trend:
    points = tuple(
        TrendPoint(
            date(2026, 8, 1) + timedelta(days=14 * n), 17.0 - n, 16.5 - n, 13.0 - n, 20.0 - n
        )
        for n in range(count)
    )
    return Trend(title, f"{title} over time: told.", "%", points, line)


ROWS = [row("Single hop", is_flagged=True), row("Knee to wall", "cm"), row("Grip", lead=6.0)]


def marks(svg: str) -> list[tuple[str, dict[str, str]]]:
    """What is painted, in that order: the kind of each mark, and its attributes."""
    found = []
    for group in ElementTree.fromstring(svg).iter():
        kind = re.match(r"mark-(\w+) role-mark", group.get("class", ""))
        if kind:
            found += [(kind[1], dict(one.attrib)) for one in group]
    return found


def place(mark: dict[str, str]) -> tuple[float, float]:
    """Where a diamond stands."""
    found = re.fullmatch(r"translate\((.*),(.*)\)", mark["transform"])
    assert found
    return float(found[1]), float(found[2])


def drawn_strokes(mark: dict[str, str]) -> list[list[float]]:
    """Both ends of each stroke of a line with gaps."""
    return [[float(n) for n in re.findall(r"-?[\d.]+", one)] for one in mark["d"].split("M")[1:]]


@pytest.mark.parametrize("declared", KINDS)
def test_a_chart_is_what_altairs_schema_allows_and_its_data_are_put_in(declared: Any) -> None:
    spec = declared().to_dict(validate=True)
    tables = {layer["data"]["name"] for layer in flat(spec["layer"])}
    compiled = drawing.compiled(declared)
    assert {one["name"] for one in compiled["data"] if "source" not in one} == tables
    assert not any("values" in one for one in compiled["data"])


def flat(layers: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [one for layer in layers for one in flat(layer.get("layer", []))] + [
        layer for layer in layers if "data" in layer
    ]


def test_every_row_is_beside_its_marks() -> None:
    rows = [row("A", estimate=-8.0), row("B", estimate=3.0), row("C" * 60, estimate=14.0)]
    (block,) = balance_blocks(rows)
    assert [one.row for one in block.rows] == rows
    heights = [one.height for one in block.rows]
    assert block.height == pytest.approx(sum(heights)) and heights[2] > heights[0]
    diamonds = [place(mark) for kind, mark in marks(block.svg) if kind == "symbol"]
    reach = 1.06 * 15.0
    wanted = [PLOT_WIDTH / 2 * (1 + one.estimate / reach) for one in rows]
    assert [x for x, _ in diamonds] == pytest.approx(wanted, abs=0.01)
    assert [y for _, y in diamonds] == pytest.approx(middles(heights), abs=0.01)


def test_bars_bands_lines_and_days_stand_where_their_numbers_are() -> None:
    one = row("A", low=-5.0, high=12.0, lead=2.0, error=3.0, line=10.0, days=(14.0, 6.0))
    (block,) = balance_blocks([one])
    lines = [drawn_strokes(mark) for kind, mark in marks(block.svg) if kind == "line"]
    bands, review, intervals, days, inner = lines
    assert days == inner

    def x(*values: float) -> list[float]:
        reach = 1.06 * 14.0
        return [pytest.approx(PLOT_WIDTH / 2 * (1 + v / reach), abs=0.01) for v in values]

    assert [[s[0], s[2]] for s in bands] == [x(-1.0, 5.0)]
    assert [[s[0], s[2]] for s in review] == [x(-8.0, -8.0), x(12.0, 12.0)]
    assert [[s[0], s[2]] for s in intervals] == [x(-5.0, 12.0)]
    assert [[s[0], s[2]] for s in days] == [x(14.0, 14.0), x(6.0, 6.0)]


def test_a_row_without_a_line_draws_none() -> None:
    with_line, without = (balance_blocks([row("A", line=line)])[0].svg for line in (15.0, None))
    assert len(marks(with_line)) == len(marks(without)) + 1 or 'd=""' in without


@pytest.mark.parametrize("svg", [balance_blocks(ROWS)[0].svg, trend_panels([trend("Grip", 8)]).svg])
def test_a_picture_holds_no_text_and_few_elements(svg: str) -> None:
    """Text in a picture cannot wrap; a page takes as long as its pictures have elements."""
    assert "<text" not in svg
    kinds = [kind for kind, _ in marks(svg) if kind not in ("symbol", "rule")]
    assert len(kinds) <= 7


def test_on_a_black_and_white_copy_every_mark_has_a_shape_of_its_own() -> None:
    def shape(kind: str, mark: dict[str, str]) -> tuple[str | None, ...]:
        names = ("stroke-width", "stroke-linecap", "stroke-dasharray")
        return (kind, *(mark.get(name) for name in names))

    for svg, count in (
        (balance_blocks(ROWS[:1])[0].svg, 5),
        (trend_panels([trend("A", 8)]).svg, 6),
    ):
        shapes = {shape(kind, mark) for kind, mark in marks(svg)}
        assert len(shapes) >= count


def test_rows_of_one_unit_share_an_axis() -> None:
    blocks = balance_blocks([ROWS[0], ROWS[2], ROWS[1]])
    assert [[one.row.label for one in block.rows] for block in blocks] == [
        ["Single hop", "Grip"], ["Knee to wall"],
    ]  # fmt: skip
    assert ["%" in block.ticks[0][1] for block in blocks] == [True, False]


def test_a_long_list_is_parted_and_keeps_its_axis() -> None:
    blocks = balance_blocks([row(f"A{n}", estimate=n / 10) for n in range(100)])
    assert len(blocks) > 2
    assert len({block.ticks for block in blocks}) == 1
    assert sum(len(block.rows) for block in blocks) == 100


@pytest.mark.parametrize("count", [1, 2, 40])
def test_one_test_two_tests_and_forty_are_drawn(count: int) -> None:
    drawn = trend_panels([trend("Single hop", count)])
    circles = [mark for kind, mark in marks(drawn.svg) if kind == "line"][-1]
    found = drawn_strokes(circles)
    assert len(found) == count
    left, right = (NEAR_EDGE, WIDTH - NEAR_EDGE) if count > 1 else (WIDTH / 2, WIDTH / 2)
    assert [found[0][0], found[-1][0]] == pytest.approx([left, right], abs=0.01)
    assert all(0 < y - BELOW_NAME < HEIGHT for stroke in found for y in stroke[1::2])


def test_a_trend_names_its_first_middle_and_last_day() -> None:
    (panel,) = trend_panels([trend("Single hop", 8)]).panels
    assert panel.days == ("1\xa0Aug", "19\xa0Sep", "7\xa0Nov")


def test_zero_of_a_trend_is_labelled_where_its_line_is() -> None:
    drawn = trend_panels([trend("Single hop", 8), trend("Grip", 3)])
    ink = next(mark for _, mark in marks(drawn.svg) if mark.get("stroke") == "#1d1d1f")
    strokes = drawn_strokes(ink)
    for panel, (_, top, *_) in zip(drawn.panels, strokes, strict=True):
        even = panel.first + panel.apart * panel.ticks.index("even")
        assert top - BELOW_NAME == pytest.approx(even, abs=0.06)
    assert [stroke[0] for stroke in strokes] == [0.0, ACROSS]


def test_trends_stand_in_rows_of_two_in_the_order_of_their_names() -> None:
    shown = [trend(name, count) for name, count in (("A", 3), ("B", 8), ("C", 2))]
    drawn = trend_panels(shown)
    assert [panel.title for panel in drawn.panels] == ["A", "B", "C"]
    assert drawn.height == 2 * DOWN
    assert drawn.described == " ".join(one.described for one in shown)
    tests = drawn_strokes([mark for kind, mark in marks(drawn.svg) if kind == "line"][-1])
    at = [(x // ACROSS, y // DOWN) for x, y, *_ in tests]
    assert at == [(0, 0)] * 3 + [(1, 0)] * 8 + [(0, 1)] * 2
    areas = [mark for kind, mark in marks(drawn.svg) if kind == "area"]
    assert len(areas) == 3


@pytest.mark.parametrize(
    ("far", "unit", "labels"),
    [
        (15.0, "%", ["10 %", "0", "10 %"]),
        (15.0, "deg", ["10°", "0", "10°"]),
        (5.5, "cm", ["4 cm", "2 cm", "0", "2 cm", "4 cm"]),
        (6.5, "cm", ["5 cm", "2.5 cm", "0", "2.5 cm", "5 cm"]),
        (0.65, "s", ["0.5 s", "0.25 s", "0", "0.25 s", "0.5 s"]),
        (0.03, "ratio", ["0.02 ratio", "0", "0.02 ratio"]),
    ],
)
def test_ticks_are_labelled_with_what_they_are(far: float, unit: str, labels: list[str]) -> None:
    one = row("A", unit, estimate=0.0, low=-far, high=far, days=(), error=0.0, line=None)
    (block,) = balance_blocks([one])
    assert [text for _, text in block.ticks] == [label.replace(" ", NBSP) for label in labels]
    grid = [place(mark)[0] for kind, mark in marks(block.svg) if kind == "rule"]
    assert sorted(grid) == pytest.approx([left for left, _ in block.ticks], abs=0.06)


def test_a_picture_is_described_in_words() -> None:
    (block,) = balance_blocks([row("Single hop", low=-0.2, high=12.0), row("Grip", low=-3.0)])
    assert block.described.replace(NBSP, " ") == (
        "Balance lines, left against right. Single hop: right 8 %, between even and right 12 %; "
        "Grip: right 8 %, between left 3 % and right 12 %."
    )


def test_the_same_chart_is_the_same_text_whatever_was_drawn_before() -> None:
    once = [block.svg for block in balance_blocks(ROWS)]
    one = trend_panels([trend("Grip", 5)]).svg
    balance_blocks(ROWS[:1])
    assert once == [block.svg for block in balance_blocks(ROWS)]
    assert one == trend_panels([trend("Grip", 5)]).svg


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_a_mark_without_a_place_is_an_error(number: float) -> None:
    with pytest.raises(ValueError, match=r"a mark at (nan|inf)"):
        balance_blocks([row("Single hop", days=(2.0, number))])


def test_data_that_a_chart_does_not_know_or_lacks_are_an_error() -> None:
    with pytest.raises(ValueError, match=r"bands.*others"):
        drawing.drawn(balance, (9, 9), {"others": []}, reach=1.0, row=9.0)


def test_rounding_moves_no_mark_an_eye_could_follow() -> None:
    exact = row("A", estimate=8.12345, low=5.4321, high=12.1234, days=(14.4444,), error=2.2222)
    rounded = as_shown(exact)
    assert rounded != exact
    for name in ("estimate", "low", "high", "error"):
        assert getattr(rounded, name) == pytest.approx(getattr(exact, name), abs=0.5)


def test_the_process_that_workers_are_forked_from_runs_no_drawing_engine() -> None:
    """Nor the frame library: their threads would not survive a fork; Linux lists all threads."""
    asked = (
        "import sys, pipeline.report.pdf.preloaded; from pathlib import Path\n"
        "assert 'altair' in sys.modules and not {'vl_convert', 'polars'} & set(sys.modules)\n"
        "tasks = Path('/proc/self/task')\n"
        "assert not tasks.exists() or len(list(tasks.iterdir())) == 1, list(tasks.iterdir())"
    )
    root = Path(__file__).parents[3]
    run = subprocess.run([sys.executable, "-c", asked], cwd=root, capture_output=True, text=True)
    assert run.stderr == "" and run.returncode == 0
